"""The plan as it is walked: with a session, each lens's stand is that of its own turn."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.plan.turns import at_turn, turn_of_each

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan


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
    return replace(plan, lenses=lenses)


def _walked(plan: Plan, lens_plan: LensPlan, shot: Shot | None) -> LensPlan:
    if shot is None:
        return replace(lens_plan, sentence=f"No turn in the session. {lens_plan.sentence}")
    zone = ZoneInfo(plan.zone)
    start, end = (time.astimezone(zone) for time in (shot.frames_start, shot.frames_end))
    turn = f"Turn {shot.number} of the session, frames {start:%H:%M} to {end:%H:%M}."
    return replace(at_turn(lens_plan, shot), sentence=f"{turn} {lens_plan.sentence}")
