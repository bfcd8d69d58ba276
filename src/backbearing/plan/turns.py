"""Which turn of the session belongs to which lens, and the plan as of its turns."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan


def turn_of_each(plan: Plan) -> tuple[Shot | None, ...]:
    """Give each of the plan's lenses its turn, or None; of equal lenses by their shares."""
    found: list[Shot | None] = [None] * len(plan.lenses)
    for shot in plan.session.shots if plan.session is not None else ():
        free = [
            i
            for i, lens in enumerate(plan.lenses)
            if found[i] is None and _same(lens.lens, shot.lens)
        ]
        if free:
            found[min(free, key=lambda i: _share_off(plan.lenses[i], shot))] = shot
    return tuple(found)


def _same(one: Lens, other: Lens) -> bool:
    """Whether two are one lens of the kit; a name may have been put right on the way."""
    return (one.label, one.focal_length_mm, one.f_number) == (
        other.label, other.focal_length_mm, other.f_number,
    )  # fmt: skip


def _share_off(lens: LensPlan, shot: Shot) -> float:
    off = abs(lens.asked_share - shot.stand.share)
    return 0.0 if math.isnan(off) else float(off)


def lens_of(plan: Plan, shot: Shot) -> LensPlan:
    """The part of the plan that a turn comes from."""
    return next(
        lens for lens, turn in zip(plan.lenses, turn_of_each(plan), strict=True) if turn is shot
    )


def at_turn(lens: LensPlan, shot: Shot) -> LensPlan:
    """Lay a turn's stand, figures and placing over what the lens has by itself."""
    return dataclasses.replace(
        lens, stand=shot.stand, placing=shot.placing, moved=shot.moved, figures=shot.figures
    )


def at_turns(plan: Plan) -> Plan:
    """Give the plan with each lens at its turn, where it has one; else as it is."""
    lenses = tuple(
        lens if shot is None else at_turn(lens, shot)
        for lens, shot in zip(plan.lenses, turn_of_each(plan), strict=True)
    )
    return dataclasses.replace(plan, lenses=lenses)


def as_planned(plan: Plan) -> Plan:
    """Give the plan with one stand a lens: that of its turn, where there is a session.

    With a session the turn is the plan: a lens that has no turn has no stand then. A plan
    without a session comes back as it is.
    """
    if plan.session is None:
        return plan
    lenses = tuple(
        dataclasses.replace(lens, stand=None) if shot is None else at_turn(lens, shot)
        for lens, shot in zip(plan.lenses, turn_of_each(plan), strict=True)
    )
    return dataclasses.replace(plan, lenses=lenses)


def order_of(plan: Plan) -> tuple[int, ...]:
    """Give the numbers of the plan's lenses in the order of their minutes, those without one last.

    With a session the minutes are those of its turns, and a lens without a turn comes last.
    """
    turned = turn_of_each(plan)

    def when(i: int) -> float:
        shot, stand = turned[i], plan.lenses[i].stand
        if plan.session is not None:
            return float(shot.number) if shot is not None else math.inf
        return stand.time.timestamp() if stand is not None else math.inf

    return tuple(sorted(range(len(turned)), key=when))


def as_walked(plan: Plan) -> Plan:
    """Put the session's stands, and the figures there, in place of each lens's own minute.

    A receiver, a calendar and the printed sheet then name the same places and minutes. A
    lens without a turn keeps its own stand, and its sentence says that it has no turn.
    A plan without a session comes back as it is.
    """
    if plan.session is None or not plan.session.shots:
        return plan
    lenses = tuple(
        _walked(plan, lens_plan, shot)
        for lens_plan, shot in zip(plan.lenses, turn_of_each(plan), strict=True)
    )
    return dataclasses.replace(plan, lenses=lenses)


def _walked(plan: Plan, lens_plan: LensPlan, shot: Shot | None) -> LensPlan:
    if shot is None:
        return dataclasses.replace(
            lens_plan, sentence=f"No turn in the session. {lens_plan.sentence}"
        )
    start, end = (hm(time, plan.zone) for time in (shot.frames_start, shot.frames_end))
    turn = f"Turn {shot.number} of the session, frames {start} to {end}."
    return dataclasses.replace(at_turn(lens_plan, shot), sentence=f"{turn} {lens_plan.sentence}")
