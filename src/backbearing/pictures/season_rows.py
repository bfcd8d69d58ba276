"""A season laid out in rows of local time: numbers and words, no pixels."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal
from zoneinfo import ZoneInfo

from backbearing.base.cautions import CoverKnown
from backbearing.base.numbers import counted, num
from backbearing.base.text import degrees, shortened
from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backbearing.base.units import Units
    from backbearing.plan.season import Night, Season, Stretch
    from backbearing.plan.stand import Span

Band = Literal["twilight", "dark", "moon", "clear", "window"]
RowBox = tuple[float, float, float, float]
"""Hours after noon from and to; top and bottom in rows."""

_FULL = (0.06, 0.94)
_LINE = (0.42, 0.58)
_BASE = 0.94

_LACKING: Final = {
    "no darkness": "not dark",
    "never so high": "never rises",
    "skyline unknown": "unknown",
    "below the skyline": "ridge",
    "moon": "Moon",
    "moon while clear": "Moon",
}
"""Why a night has no window, as short as a row's margin holds."""


@dataclass(frozen=True, slots=True)
class SeasonRows:
    """Everything that is drawn.

    ``bands`` are boxes in hours of wall time after the evening's noon by rows, ``crossings``
    (hour, row, usable). ``firsts`` marks the first row of a month; ``lacking`` says in a word or
    two why a row has no window.
    """

    title: str
    subtitle: str
    sum_up: str
    foot: str
    first_hour: float
    last_hour: float
    labels: tuple[str, ...]
    months: tuple[str, ...]
    firsts: tuple[bool, ...]
    bands: dict[Band, list[RowBox]]
    crossings: tuple[tuple[float, int, bool], ...]
    window_hours: tuple[float, ...]
    lacking: tuple[str, ...]
    key: tuple[tuple[str, str], ...]


def lay_out(season: Season, units: Units = METRIC) -> SeasonRows:
    """Turn a season into boxes and words."""
    zone = ZoneInfo(season.zone)
    bands = {
        "twilight": _boxes(season, zone, "sunless"),
        "dark": _boxes(season, zone, "dark"),
        "moon": _boxes(season, zone, "moon_up"),
        "clear": _boxes(season, zone, "clear"),
        "window": _boxes(season, zone, "windows"),
    }
    drawn: dict[Band, list[RowBox]] = {
        "twilight": bands["twilight"],
        "dark": bands["dark"],
        "moon": _within(bands["moon"], bands["twilight"]),
        "clear": bands["clear"],
        "window": bands["window"],
    }
    hours = [x for box in bands["twilight"] for x in box[:2]] or [6.0, 18.0]
    evenings = [night.evening for night in season.nights]
    rows = {evening: i for i, evening in enumerate(evenings)}
    return SeasonRows(
        title=shortened(f"{season.subject_name}: {season.target_name}", 62),
        subtitle=_subtitle(season),
        sum_up=_sum_up(season),
        foot=_foot(season, units),
        first_hour=math.floor(min(hours)),
        last_hour=math.ceil(max(hours)),
        labels=tuple(_label(evening) for evening in evenings),
        months=tuple(f"{evening:%b %Y}" for evening in evenings),
        firsts=tuple(
            i == 0 or evening.month != evenings[i - 1].month for i, evening in enumerate(evenings)
        ),
        bands=drawn,
        crossings=tuple(
            (_hour(one.time, one.evening, zone), rows[one.evening], one.usable)
            for one in season.crossings
            if "daylight" not in one.spoilt_by
        ),
        window_hours=tuple(night.window_minutes / 60.0 for night in season.nights),
        lacking=tuple(_LACKING.get(night.outcome, "") for night in season.nights),
        key=_key(season),
    )


def _boxes(season: Season, zone: ZoneInfo, what: str) -> list[RowBox]:
    """Spans of one kind as boxes; the Moon stands as high as it is lit."""
    found = []
    for row, night in enumerate(season.nights):
        top, bottom = _edges(night, what)
        spans: Iterable[Span | Stretch] = getattr(night, what)
        for span in spans:
            for start, end in _by_offset(span.start, span.end, zone):
                a, b = (_hour(t, night.evening, zone) for t in (start, end))
                if b > a:
                    found.append((a, b, row + top, row + bottom))
    return found


def _by_offset(
    start: dt.datetime, end: dt.datetime, zone: ZoneInfo
) -> list[tuple[dt.datetime, dt.datetime]]:
    """Cut a span where the clocks change, so that each part is drawn by its own wall time.

    The hour that the clocks skip stays empty, and the one that they repeat is drawn over.
    """
    first, last = (t.astimezone(zone).utcoffset() for t in (start, end))
    if first == last:
        return [(start, end)]
    before, after = start, end
    while after - before > dt.timedelta(seconds=1):
        middle = before + (after - before) / 2
        if middle.astimezone(zone).utcoffset() == first:
            before = middle
        else:
            after = middle
    return [(start, before), (after, end)]


def _edges(night: Night, what: str) -> tuple[float, float]:
    if what == "moon_up":
        return _BASE - (_BASE - _FULL[0]) * max(night.events.moon_lit, 0.06), _BASE
    if what == "clear":
        return _LINE
    return _FULL if what == "windows" else (0.0, 1.0)


def _within(boxes: list[RowBox], frame: list[RowBox]) -> list[RowBox]:
    """The part of each box that lies in the frame's boxes of the same row."""
    by_row: dict[int, list[RowBox]] = {}
    for box in frame:
        by_row.setdefault(int(box[2]), []).append(box)
    kept = []
    for a, b, top, bottom in boxes:
        for c, d, _, _ in by_row.get(int(bottom), []):
            if min(b, d) > max(a, c):
                kept.append((max(a, c), min(b, d), top, bottom))
    return kept


def _hour(time: dt.datetime, evening: dt.date, zone: ZoneInfo) -> float:
    """Wall-clock hours after the evening's noon."""
    wall = time.astimezone(zone).replace(tzinfo=None)
    noon = dt.datetime.combine(evening, dt.time(12))
    return (wall - noon).total_seconds() / 3600.0


def _label(evening: dt.date) -> str:
    morning = evening + dt.timedelta(days=1)
    if evening.month == morning.month:
        return f"{evening:%a} {evening.day}–{morning.day} {morning:%b}"
    return f"{evening:%a} {evening.day} {evening:%b} – {morning.day} {morning:%b}"


def _subtitle(season: Season) -> str:
    first, last = season.nights[0].label, season.nights[-1].label
    span = first if first == last else f"{first} to {last}"
    return shortened(f"Nights of {span}. Wall time, {season.zone}.", 108)


def _sum_up(season: Season) -> str:
    good = [night for night in season.nights if night.windows]
    hours = sum(night.window_minutes for night in good) / 60.0
    have = "has" if len(good) == 1 else "have"
    said = f"{len(good)} of {counted(len(season.nights), 'nights')} {have} a window, "
    said += f"{num(hours, 0 if hours >= 10.0 else 1)} hours in all."
    if season.crossings:
        usable = sum(one.usable for one in season.crossings)
        said += f" Exactly behind the subject with nothing amiss: {counted(usable, 'times')}."
    return said


_GROUND: Final = {
    CoverKnown.NONE: "Skyline of bare ground",
    CoverKnown.PART: "Skyline of ground and known trees",
    CoverKnown.ALL: "Skyline of ground, trees and houses",
}

_LEFT_OUT: Final = {
    CoverKnown.NONE: "Trees, houses, cloud and haze are not in it.",
    CoverKnown.PART: "Other trees and houses, cloud and haze are not in it.",
    CoverKnown.ALL: "Cloud and haze are not in it.",
}


def _foot(season: Season, units: Units) -> str:
    return (
        f"{_GROUND[season.cover_known]} seen from {season.seen_from}, {num(season.lat, 5)}, "
        f"{num(season.lon, 5)}, eye {units.small(season.eye_height_m)}. "
        f"{_LEFT_OUT[season.cover_known]}\n"
        "It promises neither weather nor access. Visit by daylight first."
    )


def _key(season: Season) -> tuple[tuple[str, str], ...]:
    moon = {"down": "Moon down", "any": "any Moon"}.get(
        str(season.moon), f"Moon ≤ {season.moon} lit"
    )
    if season.moon_adds_mag is not None:
        moon = f"Moon ≤ {num(season.moon_adds_mag)} mag"
    clear = f"{degrees(season.clear_by_deg, 0)} clear of the ridge"
    entries = [
        ("window", f"window: all this, {moon}"),
        ("clear", f"target {clear}"),
        ("moon", "Moon up, by how much is lit"),
        ("dark", f"Sun below {num(season.sun_below_deg)}°"),
        ("twilight", "Sun down"),
    ]
    if season.crossings:
        entries.append(("crossing", "exactly behind; crosses: spoilt"))
    return tuple(entries)
