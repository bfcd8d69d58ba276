"""A season as tables on the terminal."""

from __future__ import annotations

import datetime as dt
from math import isfinite
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.text import compass_point, degrees, length, terminal_safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console

    from backbearing.alignment.crossing import Crossing
    from backbearing.alignment.season_plan import Night, Season, Stretch


def print_season(out: Console, season: Season) -> None:
    """Print the windows (or a stand's crossings), the nights without one and why, the notes."""
    from rich.text import Text

    first, last = season.nights[0], season.nights[-1]
    title = f"{terminal_safe(season.subject_name)}: nights of {first.label}"
    if len(season.nights) > 1:
        title += f" to {last.label}"
    out.print(Text(title, style="bold"))
    out.print(Text(_asked_line(season)))
    if isfinite(season.bearing_deg):
        _print_crossings(out, season)
    else:
        _print_windows(out, season)
    out.print(Text(_summary(season)))
    out.print()
    out.print(Text("What this rests on and cannot see", style="bold"))
    for note in season.notes:
        out.print(Text(f"  {note}"))


def _asked_line(season: Season) -> str:
    moon = {"down": "the Moon down", "any": "any Moon"}.get(
        str(season.moon), f"the Moon down or at most {season.moon} lit"
    )
    if season.moon_adds_mag is not None:
        moon += f" or adding at most {season.moon_adds_mag:g} mag to the target's sky"
    return (
        f"Sun below {season.sun_below_deg:g}°, {moon}, {terminal_safe(season.target_name)} "
        f"{season.clear_by_deg:g}° clear of the ridge seen from {season.seen_from}. Times in "
        f"{season.zone} ({', '.join(_Clock(season).letters)})."
    )


def _print_windows(out: Console, season: Season) -> None:
    clock = _Clock(season)
    _print_table(
        out,
        "Windows",
        ("night", "window", "hours", "altitude", "azimuth", "lean", "band up", "Moon adds"),
        (
            (_label(season, night), *_window_row(stretch, clock))
            for night in season.nights
            for stretch in night.windows
        ),
    )
    _print_table(
        out,
        "The same, but more Moon than asked",
        ("night", "stretch", "lit", "adds", "its light", ""),
        (
            (_label(season, night), *_moonlit_row(stretch, clock))
            for night in season.nights
            for stretch in night.moonlit
            if stretch.minutes >= 1.0
        ),
    )
    _print_table(
        out,
        "Nights without a window",
        ("night", "why"),
        (
            (_label(season, night), terminal_safe(night.why_not))
            for night in season.nights
            if night.why_not
        ),
    )
    _print_table(
        out,
        "Uncertain",
        ("night", "what"),
        ((_label(season, night), night.note) for night in season.nights if night.note),
    )


def _print_table(
    out: Console, title: str, names: Sequence[str], rows: Iterable[Sequence[str]]
) -> None:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    made = list(rows)
    if not made:
        return
    used = [i for i, _ in enumerate(names) if any(row[i] for row in made)]
    names, made = [names[i] for i in used], [[row[i] for i in used] for row in made]
    out.print()
    out.print(Text(title, style="bold"))
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, padding=(0, 1, 0, 0))
    numbers = {"hours", "lean", "band up", "lit", "adds", "Moon adds", "top", "ridge", "altitude"}
    folded = {"why", "what", "in frame", "spoilt by", ""}
    for name in names:
        table.add_column(
            name,
            justify="right" if name in numbers else "left",
            no_wrap=name not in folded,
            overflow="fold",
        )
    for row in made:
        table.add_row(*(Text(cell) for cell in row))
    out.print(table)


class _Clock:
    """Wall times as short as they can be said: with the zone's letters only where they change."""

    def __init__(self, season: Season) -> None:
        self.zone = ZoneInfo(season.zone)
        ends = [t for night in season.nights for s in night.sunless for t in (s.start, s.end)]
        self.letters = dict.fromkeys(f"{t.astimezone(self.zone):%Z}" for t in ends)

    def span(self, start: dt.datetime, end: dt.datetime) -> str:
        """Write ``00:26–02:23``, with letters in a season in which the clocks change."""
        a, b = start.astimezone(self.zone), end.astimezone(self.zone)
        if len(self.letters) < 2:
            return f"{a:%H:%M}–{b:%H:%M}"
        first = "" if a.utcoffset() == b.utcoffset() else f" {a:%Z}"
        return f"{a:%H:%M}{first}–{b:%H:%M} {b:%Z}"

    def at(self, moment: dt.datetime) -> str:
        """Write a moment to the second."""
        local = moment.astimezone(self.zone)
        return f"{local:%H:%M:%S}" + (f" {local:%Z}" if len(self.letters) > 1 else "")


def _label(season: Season, night: Night) -> str:
    """Both dates, short; the year only where the season runs over New Year."""
    evening, morning = night.evening, night.evening + dt.timedelta(days=1)
    month = "" if evening.month == morning.month else f" {evening:%b}"
    words = f"{evening.day}{month}–{morning.day} {morning:%b}"
    same = season.nights[-1].evening.year == season.nights[0].evening.year
    return words if same else f"{words} {morning.year}"


def _window_row(stretch: Stretch, clock: _Clock) -> tuple[str, ...]:
    return (
        clock.span(stretch.start, stretch.end),
        f"{stretch.minutes / 60.0:.1f}",
        _range(round(stretch.altitude_start_deg), round(stretch.altitude_end_deg)),
        _range(round(stretch.azimuth_start_deg) % 360, round(stretch.azimuth_end_deg) % 360),
        f"{stretch.lean_middle_deg:+.0f}°" if isfinite(stretch.lean_middle_deg) else "",
        f"{stretch.band_share_up:.0%}" if isfinite(stretch.band_share_up) else "unknown",
        f"{stretch.moon_adds_mag:.2f} mag" if stretch.moon_adds_mag > 0.005 else "",
    )


def _range(start_deg: int, end_deg: int) -> str:
    between = "–" if min(start_deg, end_deg) >= 0 else " to "
    return f"{start_deg}{between}{end_deg}°"


def _moonlit_row(stretch: Stretch, clock: _Clock) -> tuple[str, ...]:
    adds = f"{stretch.moon_adds_mag:.1f} mag" if isfinite(stretch.moon_adds_mag) else "on it"
    return (
        clock.span(stretch.start, stretch.end),
        f"{stretch.moon_lit:.0%}",
        adds,
        stretch.moon_light_from.replace(" from the", ","),
        "may be welcome" if stretch.moon_welcome else "",
    )


def _print_crossings(out: Console, season: Season) -> None:
    clock = _Clock(season)
    labels = {night.evening: _label(season, night) for night in season.nights}
    names = (
        "night", "behind at", "within", "altitude", "top", "ridge", "in frame", "spoilt by",
    )  # fmt: skip
    _print_table(
        out,
        "Exactly behind the subject (top, ridge: how far the target stands above them)",
        names,
        (
            (labels[one.evening], *_crossing_row(one, clock))
            for one in season.crossings
            if "daylight" not in one.spoilt_by
        ),
    )


def _crossing_row(one: Crossing, clock: _Clock) -> tuple[str, ...]:
    labels = [frame.lens for frame in one.frames if frame.in_frame]
    if all(label.endswith(" mm") for label in labels):
        labels = [label if label == labels[-1] else label[:-3] for label in labels]
    lenses = ", ".join(labels)
    return (
        clock.at(one.time),
        clock.span(one.start, one.end),
        degrees(one.altitude_deg),
        degrees(one.over_top_deg),
        degrees(one.clearance_deg),
        terminal_safe(lenses) or "none",
        ", ".join(one.spoilt_by),
    )


def _summary(season: Season) -> str:
    if isfinite(season.bearing_deg):
        return _stand_summary(season)
    good = [night for night in season.nights if night.windows]
    if not good:
        return "No night of these has a window."
    longest = max(good, key=lambda night: night.window_minutes)
    hours = sum(night.window_minutes for night in good) / 60.0
    return (
        f"{len(good)} of {len(season.nights)} nights have a window, {hours:.0f} hours in all; the "
        f"longest is {longest.label} with {longest.window_minutes / 60.0:.1f} hours."
    )


def _stand_summary(season: Season) -> str:
    where = (
        f"From this stand the subject is {length(season.distance_m)} away at "
        f"{season.bearing_deg:.2f}° ({compass_point(season.bearing_deg)})."
    )
    if season.crossings_note:
        return f"{where} {terminal_safe(season.crossings_note)}"
    by_day = sum("daylight" in one.spoilt_by for one in season.crossings)
    good = sum(one.usable for one in season.crossings)
    day = f", {by_day} of them by day (not listed)" if by_day else ""
    return (
        f"{where} {terminal_safe(season.target_name)} passes behind it {len(season.crossings)} "
        f"times{day}; nothing spoils {good}."
    )
