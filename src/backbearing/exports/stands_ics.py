"""A plan's stands as an iCalendar file (RFC 5545): one event a lens, while its place holds."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.exports.file_text import (
    NOT_PLAIN,
    Said,
    caution_lines,
    inline,
    stand_lines,
    visible,
)
from backbearing.exports.ics import Event, calendar_text
from backbearing.plan.in_units import in_units
from backbearing.plan.turns import turn_of_each

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import Stand


def plan_calendar(plan: Plan, *, height_reference: str = "", units: Units = METRIC) -> str:
    """Write the stands as calendar text, lines ended by CRLF.

    The event of a turn of the session reaches from setting up to the last frame. Another
    reaches as long before and after the stand's moment as the target keeps its place
    (``play_minutes``); where that is unknown it is the moment alone. It keeps its UID when
    the file is made again.
    """
    said = Said(height_reference or plan.ground.vertical_datum, units)
    plan = in_units(plan, units)
    name = visible(plan.name, NOT_PLAIN)
    return calendar_text(_events(plan, said), name=name, made=plan.made)


def _events(plan: Plan, said: Said) -> Iterator[Event]:
    subject = plan.subject
    lenses = zip(plan.lenses, turn_of_each(plan), strict=True)
    for number, (lens_plan, turn) in enumerate(lenses, start=1):
        stand = lens_plan.stand
        if stand is None:
            continue
        start, end = _span(stand, turn)
        label = lens_plan.lens.label
        summary = f"{label}: {inline(plan.target.name)} behind {inline(subject.name)}"
        lines = [*stand_lines(plan, lens_plan, *said), *caution_lines(plan)]
        yield Event(
            key=(
                f"stand {num(subject.lat, 5)} {num(subject.lon, 5)} {inline(plan.target.name)} "
                f"{plan.evening} {number} {label}"
            ),
            start=start,
            end=end,
            summary=visible(summary, NOT_PLAIN),
            description=visible("\n".join(lines), NOT_PLAIN),
            lat=stand.lat,
            lon=stand.lon,
            location=visible(subject.name, NOT_PLAIN),
        )


def _span(stand: Stand, turn: Shot | None) -> tuple[dt.datetime, dt.datetime]:
    if turn is not None and turn.stand is stand:
        return turn.setup_start, turn.frames_end
    minutes = stand.play_minutes if math.isfinite(stand.play_minutes) else 0.0
    # Near the pole of the sky a place can hold for days.
    play = dt.timedelta(minutes=min(minutes, 180.0))
    return stand.time - play, stand.time + play
