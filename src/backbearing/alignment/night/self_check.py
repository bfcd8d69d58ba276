"""A last look at a plan: no stand is given out whose own numbers contradict what is said of it."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

import numpy as np

from backbearing.alignment.night.from_outing import ARC_STEP
from backbearing.alignment.stand.behind_subject import asked_behind
from backbearing.base.errors import SelfCheckError
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.outing.subject import Framing
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan, Span, Stand

ALLOWED_DEG: Final = 0.01
"""Two ways to the same angle may differ by so much: no more than is printed."""

ALLOWED: Final = dt.timedelta(seconds=1)
"""Ends of stretches are bisected to half a second."""


def check_plan(plan: Plan, sky: NightSky) -> None:
    """Hold every chosen stand and stretch of a plan against its own numbers.

    A minute that was asked for is the user's own choice and may be spoilt, if the plan says
    so; every other minute must be dark, with the target above the horizontal, over the ridge
    by the asked margin and in its place.

    Raises
    ------
    SelfCheckError
        With the lens, the minute and what contradicts it.
    """
    for lens_plan in plan.lenses:
        _check_all(
            plan, lens_plan.lens.label, lens_plan.stand, _of_lens(lens_plan, sky, plan.framing)
        )
    for shot in plan.session.shots if plan.session is not None else ():
        _check_all(
            plan, f"turn of {shot.lens.label}", shot.stand, _of_shot(shot, sky, plan.framing)
        )


def _check_all(plan: Plan, label: str, stand: Stand | None, wrong: Iterator[str]) -> None:
    found = next(wrong, None)
    if found is None:
        return
    at = ""
    if stand is not None:
        at = f" at {stand.time.astimezone(ZoneInfo(plan.zone)):%H:%M %Z}"
    raise SelfCheckError(
        f"The plan contradicts itself: {label}{at}: {found}. This is a fault of Backbearing and "
        "not of the outing; please report it with the outing file, and do not use this plan.",
        lens=label,
        found=found,
    )


def _of_lens(lens_plan: LensPlan, sky: NightSky, framing: Framing) -> Iterator[str]:
    yield from _of_stretches(lens_plan)
    stand = lens_plan.stand
    if stand is None:
        return
    good = _within(stand.time, lens_plan.usable)
    if not good and not lens_plan.asked_at:
        yield "the minute lies in none of the stretches that work"
    if good:
        yield from _of_stand(stand, sky)
        yield from _of_sight(stand, framing)


def _of_stretches(lens_plan: LensPlan) -> Iterator[str]:
    """No stretch leads over a moment that was not looked at, or that something spoils."""
    for what, spans in (("works", lens_plan.usable), ("holds both", lens_plan.framed)):
        for span in spans:
            times = [p.time for p in lens_plan.arc if span.start <= p.time <= span.end]
            steps = (b - a for a, b in itertools.pairwise((span.start, *times, span.end)))
            if max(steps) > ARC_STEP + ALLOWED:
                yield f'"{what}" leads over moments with the target down'
    for point in lens_plan.arc:
        if point.limits and _within(point.time, lens_plan.usable):
            yield f"a stretch that works leads over {point.limits[0]}"


def _of_shot(shot: Shot, sky: NightSky, framing: Framing) -> Iterator[str]:
    for time in (shot.frames_start, shot.frames_end):
        if not sky.is_dark(time):
            yield "its frames do not lie in the dark"
    if shot.least_clearance_deg < sky.clear_by_deg - ALLOWED_DEG:
        yield f"the target comes {num(shot.least_clearance_deg, 2)}° near the ridge"
    yield from _of_stand(shot.stand, sky)
    yield from _of_sight(shot.stand, framing)


def _of_stand(stand: Stand, sky: NightSky) -> Iterator[str]:
    if not (math.isfinite(stand.lat) and math.isfinite(stand.lon)):
        yield "the stand has no place"
    if not sky.is_dark(stand.time):
        yield "the sky is not as dark as asked"
    if not stand.target_altitude_deg > -ALLOWED_DEG:
        yield f"the target stands at {num(stand.target_altitude_deg, 2)}°, below the horizontal"
    if stand.clearance_deg < sky.clear_by_deg - ALLOWED_DEG:
        yield (
            f"the target clears the ridge by {num(stand.clearance_deg, 2)}°, and "
            f"{num(sky.clear_by_deg)}° was asked"
        )
    if not stand.in_frame:
        yield "the target is out of its place in the frame"


def _of_sight(stand: Stand, framing: Framing) -> Iterator[str]:
    if stand.behind_subject and not asked_behind(
        framing, np.array(stand.base_margin + stand.share)
    ):
        yield "the target stands behind the subject itself, which was not asked for"


def _within(time: dt.datetime, spans: Sequence[Span]) -> bool:
    return any(span.start <= time <= span.end for span in spans)
