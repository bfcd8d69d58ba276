"""The night by the clock: dark window, Moon, and a bar for each turn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.drawing.marks import Area, Drawing, Mark, Stroke, Words
from backbearing.sheet.table_cells import tame

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.drawing.palette import Colour, SheetPalette
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.sheet.shot_rows import LensTurn

SMALL: Final = 8.0
ROW: Final = 9.6
LEFT: Final = 46.0


def night_timeline(
    plan: Plan, shots: Sequence[LensTurn], clock: WallClock, palette: SheetPalette, *, width: float
) -> Drawing | None:
    """Draw the night across; None where the plan knows no stretch of the night."""
    moments = [e.time for e in plan.events] + [p.time for p in plan.sky_path]
    moments += [turn.stand.time for turn in shots]
    if not moments or max(moments) <= min(moments):
        return None
    first, last = _night(plan, min(moments), max(moments))
    across = _Across(first, last, width)
    tall = 14.0 + ROW * (2 + len(shots)) + 4.0
    marks: list[Mark] = [
        _bar(across, window.start, window.end, 13.0, tall - 2.0, palette.wash)
        for window in plan.dark
    ]
    marks += _hours(across, first, last, clock, palette, tall)
    y = 14.0 + ROW
    marks += _row(across, y, "Dark", [(w.start, w.end) for w in plan.dark], palette)
    marks += _row(across, y + ROW, "Moon up", moon_up(plan, first, last), palette)
    for i, turn in enumerate(shots):
        marks += _turn(across, y + ROW * (2 + i), turn, palette)
    said = "; ".join(f"{tame(e.name, 40)} {clock.hm(e.time)}" for e in plan.events)
    name = "The night by the clock"
    return Drawing(round(width), round(tall), palette.paper, (), tuple(marks), name, said)


class _Across:
    """From time to points across."""

    def __init__(self, first: dt.datetime, last: dt.datetime, width: float) -> None:
        self.first, self.long = first, (last - first).total_seconds()
        self.width = width

    def __call__(self, time: dt.datetime) -> float:
        part = (time - self.first).total_seconds() / self.long
        return LEFT + min(max(part, 0.0), 1.0) * (self.width - LEFT - 4.0)


def _night(plan: Plan, first: dt.datetime, last: dt.datetime) -> tuple[dt.datetime, dt.datetime]:
    """From sunset to sunrise, where both are known."""
    down = [e.time for e in plan.events if e.name == "sunset"]
    up = [e.time for e in plan.events if e.name == "sunrise"]
    if down and up and down[0] < up[-1]:
        return down[0], up[-1]
    return first, last


def moon_up(
    plan: Plan, first: dt.datetime, last: dt.datetime
) -> list[tuple[dt.datetime, dt.datetime]]:
    """Stretches with the Moon up, from moonrise and moonset, or else from its path."""
    turns = [(e.time, e.name) for e in plan.events if e.name in ("moonrise", "moonset")]
    if not turns:
        high = [p.altitude_deg for p in plan.moon_path]
        return [(first, last)] if high and min(high) > 0.0 else []
    spans, since = [], first if turns[0][1] == "moonset" else None
    for time, name in sorted(turns):
        if name == "moonrise":
            since = time
        elif since is not None:
            spans.append((since, time))
            since = None
    if since is not None:
        spans.append((since, last))
    return [(max(a, first), min(b, last)) for a, b in spans if max(a, first) < min(b, last)]


def _hours(
    across: _Across, first: dt.datetime, last: dt.datetime, clock: WallClock, palette: SheetPalette,
    tall: float,
) -> list[Mark]:  # fmt: skip
    marks: list[Mark] = []
    for time in clock.marks(first, last, 60):
        x = across(time)
        marks.append(Stroke(((x, 11.0), (x, tall - 2.0)), palette.rule, width=0.5))
        marks.append(Words(x, 8.5, clock.hm(time), palette.ink, SMALL, anchor="middle"))
    return marks


def _row(
    across: _Across, y: float, name: str, spans: Sequence[tuple[dt.datetime, dt.datetime]],
    palette: SheetPalette,
) -> list[Mark]:  # fmt: skip
    marks: list[Mark] = [Words(0.0, y - 2.5, name, palette.ink, SMALL)]
    marks += [_bar(across, a, b, y - 7.5, y - 3.0, palette.deep) for a, b in spans]
    if not spans:
        marks.append(Words(LEFT, y - 2.5, "none", palette.soft, SMALL))
    return marks


def _turn(across: _Across, y: float, turn: LensTurn, palette: SheetPalette) -> list[Mark]:
    """A thin bar from the walk on, a thick one while the frames run (or a mark at the minute)."""
    name = f"{turn.number}  {turn.label}"
    marks: list[Mark] = [Words(0.0, y - 2.0, name, palette.ink, SMALL, bold=True)]
    for span in turn.lens.usable:
        a, b = across(span.start), across(span.end)
        marks.append(Stroke(((a, y - 5.0), (b, y - 5.0)), palette.ink, width=0.8))
    shot = turn.shot
    if shot is None:
        start = end = turn.stand.time
    else:
        start, end = shot.frames_start, shot.frames_end
        marks.append(_bar(across, shot.walk_start, start, y - 6.5, y - 3.5, palette.ink))
    marks.append(_bar(across, start, end, y - 9.0, y - 1.0, palette.ink))
    return marks


def _bar(
    across: _Across, start: dt.datetime, end: dt.datetime, top: float, bottom: float,
    ink: Colour,
) -> Area:  # fmt: skip
    a, b = across(start), max(across(end), across(start) + 2.0)
    return Area((((a, top), (b, top), (b, bottom), (a, bottom)),), ink)
