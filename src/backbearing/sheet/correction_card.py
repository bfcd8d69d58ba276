"""The correction card in words: what to do on the spot when something is otherwise than planned.

Two tables that need no arithmetic: the distance for another height of the subject, and the
step from the peg for every five minutes of the night. Set apart from the sheet, since a long
night takes a page of its own.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import num, rounded
from backbearing.base.text import night_label
from backbearing.base.units import FOOT_M, METRIC
from backbearing.drawing.arcs import at_time
from backbearing.drawing.wall_clock import WallClock
from backbearing.plan.steps import LEAST_STEP_M, step_between
from backbearing.sheet.late_table import SPOILERS
from backbearing.sheet.shot_rows import turns
from backbearing.sheet.table_cells import NAME_CHARACTERS, SheetTable, tame

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.plan.correction import StandsByHeight
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint
    from backbearing.sheet.shot_rows import LensTurn

EVERY_MINUTES: Final = 5
HEIGHTS_DOWN, HEIGHTS_UP = 0.6, 1.5
"""From how much of the planned height to how much of it the card goes."""

HEIGHT_STEP: Final = 0.07
"""About so much of the planned height is the step from row to row."""

BARRED: Final = {
    **SPOILERS,
    "ridge": "ridge",
    "twilight": "not dark",
    "unknown ground": "ridge unknown",
}
"""What spoils a minute, short enough for a narrow column."""


@dataclass(frozen=True, slots=True)
class CardContent:
    """Every word of the correction card.

    ``title``, ``night`` and ``made`` stand at its head and foot, as on the sheet.
    """

    title: str
    night: str
    made: str
    lead: str
    heights_head: str
    heights: SheetTable
    minutes_head: str
    minutes: SheetTable
    notes: tuple[str, ...]


def card_heights_m(plan: Plan, units: Units = METRIC) -> tuple[float, ...]:
    """Round heights about the planned one, in the reader's unit: 4.5, 5.0, 5.5 m and so on."""
    unit = FOOT_M if units.name == "imperial" else 1.0
    step = _round_step(HEIGHT_STEP * plan.subject.height_m / unit)
    first = math.ceil(HEIGHTS_DOWN * plan.subject.height_m / unit / step)
    last = math.floor(HEIGHTS_UP * plan.subject.height_m / unit / step)
    return tuple(rounded(k * step, 6) * unit for k in range(max(first, 1), last + 1))


def _round_step(about: float) -> float:
    """The nearest 1, 2 or 5 with noughts."""
    tens = 10.0 ** math.floor(math.log10(about))
    return min((k * tens for k in (1.0, 2.0, 5.0, 10.0)), key=lambda s: abs(math.log(s / about)))


def card_content(plan: Plan, by_height: StandsByHeight, units: Units = METRIC) -> CardContent:
    """Put the card into words."""
    clock, shots = WallClock(plan.zone), turns(plan, units)
    planned = units.small(plan.subject.height_m, 1)
    return CardContent(
        title=tame(plan.subject.name, NAME_CHARACTERS),
        night=night_label(plan.evening),
        made=f"{clock.local(plan.made):%Y-%m-%d %H:%M} {clock.letters(plan.made)}, "
        f"Backbearing {tame(plan.version, 30)}",
        lead=f"Correction card. Times are local: {clock.night_letters(plan)} "
        f"({tame(plan.zone, NAME_CHARACTERS)}). Lengths in "
        f"{'feet' if units.name == 'imperial' else 'metres'}.",
        heights_head=f"If the subject is not {planned} tall: distance from its middle",
        heights=_by_height(plan, by_height, units),
        minutes_head="At another minute: the step from the planned peg, facing the subject",
        minutes=_by_minute(shots, clock, units),
        notes=_notes(plan, shots),
    )


def _plain(metres: float, units: Units) -> str:
    """A length without its unit, which stands at the head of the card."""
    if not math.isfinite(metres):
        return "no stand"
    return num(metres / FOOT_M if units.name == "imperial" else metres, 1)


def _by_height(plan: Plan, by_height: StandsByHeight, units: Units) -> SheetTable:
    labels = (tame(plan.lenses[i].lens.label, 30) for i in by_height.lenses)
    rows = []
    for k, height in enumerate(by_height.heights_m):
        name = _plain(height, units) + (" planned" if k == by_height.planned else "")
        rows.append((name, *(_plain(metres, units) for metres in by_height.distances_m[k])))
    return SheetTable(("Height", *labels), tuple(rows))


def _by_minute(shots: tuple[LensTurn, ...], clock: WallClock, units: Units) -> SheetTable:
    """A row for every five minutes in which any lens works, from the first to the last."""
    if not shots:
        return SheetTable((), ())
    ends = [end for turn in shots for span in turn.lens.usable for end in (span.start, span.end)]
    ends += [turn.stand.time for turn in shots]
    rows = []
    for time in clock.marks(min(ends).astimezone(dt.UTC), max(ends), EVERY_MINUTES):
        cells = [_cell(turn, time, units) for turn in shots]
        rows.append((clock.hm(time), *cells))
    return SheetTable(("At", *(f"{t.number}  {t.label}" for t in shots)), tuple(rows))


def _cell(turn: LensTurn, time: dt.datetime, units: Units) -> str:
    stand, spot = turn.stand, at_time(turn.lens, time)
    if spot is None:
        return "no stand"
    if not any(span.start <= time <= span.end for span in turn.lens.usable):
        return f"({_why(turn, time)})"
    left, back = step_between(
        lat1=stand.lat, lon1=stand.lon, bearing_deg=stand.bearing_deg, lat2=spot[0], lon2=spot[1]
    )
    parts = [
        f"{_plain(abs(metres), units)} {words[metres < 0.0]}"
        for metres, words in ((left, ("left", "right")), (back, ("farther", "nearer")))
        if abs(metres) >= LEAST_STEP_M
    ]
    return ", ".join(parts) or "at the peg"


def _why(turn: LensTurn, time: dt.datetime) -> str:
    """What spoils the nearest minute of the arc."""

    def off(point: ArcPoint) -> float:
        return abs((point.time - time).total_seconds())

    spoilt = [point for point in turn.lens.arc if point.limits]
    if not spoilt:
        return "not worked out"
    limit = min(spoilt, key=off).limits[0]
    return BARRED.get(limit, limit)


STEPS_NOTE: Final = (
    "Steps are from the planned peg, for the planned height. With another height set the peg anew "
    "at its distance, on the same bearing; the steps to the side grow as the distance does."
)
BRACKETS_NOTE: Final = "Brackets: the minute is spoilt, and by what."
WIDTH_NOTE: Final = "The subject's width sets these stands: its height alone moves none."
CARE_NOTE: Final = (
    "No promise of safety or access: a new stand stands on ground that nobody has looked at."
)


def _notes(plan: Plan, shots: tuple[LensTurn, ...]) -> tuple[str, ...]:
    if not shots:
        return "No lens has a stand this night.", CARE_NOTE
    width = (WIDTH_NOTE,) if plan.framing.share_of == "width" else ()
    return STEPS_NOTE, *width, BRACKETS_NOTE, CARE_NOTE
