"""Where each tripod goes when its frames begin late."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import num
from backbearing.drawing.arcs import at_time
from backbearing.plan.steps import step_between, step_words
from backbearing.sheet.table_cells import SheetTable, tame

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import LateStand
    from backbearing.sheet.shot_rows import LensTurn

LATE_MINUTES: Final = (10, 20, 30)
"""For a plan without a session, whose own file says which."""

SPOILERS: Final = {
    "frame": "out of its place",
    "play": "out of its place",
    "moon": "Moon",
    "horizon": "below the horizon",
    "no stand": "no stand",
    "unknown ground": "ridge unknown",
    "subject": "behind the subject",
    "barred": "stand barred",
    "hours": "asked hours",
}
"""What spoils a late start, in few words."""


def late_table(plan: Plan, shots: tuple[LensTurn, ...]) -> SheetTable:
    """One row for each turn, one column for each lateness; steps face the subject."""
    if not shots:
        return SheetTable((), ())
    if plan.session is None:
        heads = ("Lens", *(f"{late} min late" for late in LATE_MINUTES))
        return SheetTable(heads, tuple(_from_arc(turn) for turn in shots))
    asked = sorted({late.late_minutes for turn in shots if turn.shot for late in turn.shot.late})
    heads = ("Lens", *(f"{num(late)} min late" for late in asked))
    rows = []
    for turn in shots:
        said = {
            late.late_minutes: _late(late, turn.units)
            for late in (turn.shot.late if turn.shot else ())
        }
        cells = (said.get(late, "not worked out") for late in asked)
        rows.append((f"{turn.number}  {turn.label}", *cells))
    return SheetTable(heads, tuple(rows))


def _late(late: LateStand, units: Units) -> str:
    if late.limits:
        why = ", ".join(dict.fromkeys(SPOILERS.get(name, name) for name in late.limits))
        return tame(f"too late: {why}", 80)
    return _step(late.left_m, late.back_m, units)


def _step(left_m: float, back_m: float, units: Units) -> str:
    """The head of the table says which way one faces, and that these are steps."""
    words = step_words(left_m, back_m, units).removesuffix(", facing the subject")
    return words.removeprefix("step ").replace(" and ", ", ")


def _from_arc(turn: LensTurn) -> tuple[str, ...]:
    """The same from the lens's arc: the stand that gives the framing at the later minute."""
    stand, cells = turn.stand, [f"{turn.number}  {turn.label}"]
    for late in LATE_MINUTES:
        time = stand.time + dt.timedelta(minutes=late)
        spot = at_time(turn.lens, time)
        if spot is None or not any(s.start <= time <= s.end for s in turn.lens.usable):
            cells.append("too late")
            continue
        left, back = step_between(
            lat1=stand.lat,
            lon1=stand.lon,
            bearing_deg=stand.bearing_deg,
            lat2=spot[0],
            lon2=spot[1],
        )
        cells.append(_step(left, back, turn.units))
    return tuple(cells)
