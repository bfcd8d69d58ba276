"""A year's choice on the terminal."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import night_label, terminal_safe
from backbearing.base.units import METRIC
from backbearing.base.wall_clock import hm
from backbearing.cli.screen import SCREEN_LINES

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.year import LensNight, SubjectNight, Year, YearNight

ONE_YEAR: Final = 365

MOST_ROWS: Final = 13
"""Rows of the short answer's table."""

SHORT_NAME: Final = 18


def print_year(
    out: Screen, year: Year, units: Units = METRIC, *, everything: bool = True, then: str = ""
) -> None:
    """Print which nights to take, what they give each subject, and what is missing.

    Parameters
    ----------
    out : Screen
    year : Year
    units : Units
        How lengths are said.
    everything : bool
        Otherwise one screen of it.
    then : str
        The command that follows the short answer.
    """
    out.title(f"{year.name}: the best of {_span(year)}")
    for sentence in filter(None, (year.said, *_summary(year, everything=everything))):
        out.say(sentence, hang=2)
    if everything:
        _everything(out, year, units)
        return
    _short(out, year)
    out.say(
        "Care: cloud and trees are in no number here; nobody is at two subjects at once. What this "
        "rests on: --all."
    )
    out.say(f"Next: {then}", hang=2)


def _span(year: Year) -> str:
    last = year.evening(year.nights - 1)
    if year.nights == 1:
        return night_label(year.first_evening)
    return f"{counted(year.nights, 'nights')} from {night_label(year.first_evening)} to " + (
        night_label(last)
    )


def _summary(year: Year, *, everything: bool) -> list[str]:
    rule = year.rule
    said = [
        f"A lens counts its good minutes, {num(rule.enough_minutes)} over all chosen nights "
        "together; a subject the mean of its lenses."
        + (" Only nights with its whole kit count." if rule.whole_kit else "")
        + (" Each night helps one subject." if rule.one_subject else "")
    ]
    none = [one for one in year.subjects if one.why_none]
    if year.best:
        shown = none if everything else none[:2]
        said += [f"{terminal_safe(one.name)}: no good night. {one.why_none}" for one in shown]
        if len(none) > len(shown):
            said.append(f"and {len(none) - len(shown)} more without a good night: --all")
    return said


def _short(out: Screen, year: Year) -> None:
    rows: list[tuple[str, ...]] = []
    for number, night in enumerate(year.best, start=1):
        good = [at for at in night.subjects if at.good_minutes > 0.0]
        for i, at in enumerate(good):
            name = f"{number}. {_short_label(year, night)}" if i == 0 else ""
            rows.append((name, *_cells(year, at)))
    left = len(rows) - MOST_ROWS
    if rows:
        out.blank()
        one = len(year.subjects) == 1
        names = ("take", *(() if one else ("subject",)), "lenses", "minutes", "from–to", "Moon")
        shown = rows[:MOST_ROWS] if left > 1 else rows
        out.listing(
            names,
            [(row[0], *(row[2:] if one else row[1:])) for row in shown],
            left={"subject", "from–to"},
        )
        if left > 1:
            out.say(f"and {left} more: --all", indent=2)
    if year.spare:
        spare = "; ".join(_instead(one) for one in year.spare)
        out.say(f"To spare, if it is cloudy: {spare}.", hang=2)
    missing = [
        f"{night.label}, {_whose(year, at)}{lens.label}: {terminal_safe(lens.missing)}"
        for night in year.best
        for at in night.subjects
        if at.good_minutes > 0.0
        for lens in at.lenses
        if lens.missing
    ]
    if missing:
        out.say("What is missing:")
        out.some(missing, max(SCREEN_LINES - 4 - len(out.lines), 2))


def _short_label(year: Year, night: YearNight) -> str:
    """Both dates as short as they are clear: the year only where there could be two."""
    evening, morning = night.evening, night.evening + dt.timedelta(days=1)
    month = "" if evening.month == morning.month else f" {evening:%b}"
    words = f"{evening.day}{month}–{morning.day} {morning:%b}"
    return words if year.nights <= ONE_YEAR else f"{words} {morning.year}"


def _instead(night: YearNight) -> str:
    other = "" if night.instead_of is None else f" for {night_label(night.instead_of)}"
    return f"{night.label}{other}"


def _whose(year: Year, at: SubjectNight) -> str:
    return "" if len(year.subjects) == 1 else f"{terminal_safe(at.name)}, "


def _cells(year: Year, at: SubjectNight) -> tuple[str, ...]:
    having = sum(not lens.missing for lens in at.lenses)
    spans = [span for lens in at.lenses for span in lens.usable]
    start, end = min(s.start for s in spans), max(s.end for s in spans)
    name = terminal_safe(at.name)
    return (
        name if len(name) <= SHORT_NAME else f"{name[: SHORT_NAME - 1]}…",
        f"{having} of {len(at.lenses)}",
        "/".join(num(lens.minutes, 0) for lens in at.lenses),
        f"{hm(start, at.zone)}–{hm(end, at.zone)}",
        per_cent(at.moon.lit),
    )


def _everything(out: Screen, year: Year, units: Units) -> None:
    for number, night in enumerate(year.best, start=1):
        out.blank()
        out.title(f"{number}. {night.label}")
        _night_in_full(out, year, night, units)
    for night in year.spare:
        out.blank()
        out.title(f"To spare: {_instead(night)}")
        _night_in_full(out, year, night, units)
    out.blank()
    out.title("Every subject")
    out.listing(
        ("subject", "good nights", "with its whole kit", "not dark", "Moon"),
        [
            (
                one.name,
                num(one.good_nights),
                num(sum(one.whole_kit_on(n) for n in range(year.nights))),
                num(one.states.count("no darkness")),
                num(one.states.count("moon")),
            )
            for one in year.subjects
        ],
    )
    out.blank()
    out.title("What this rests on and cannot see")
    for note in year.notes:
        out.say(note, indent=2, hang=2)


def _night_in_full(out: Screen, year: Year, night: YearNight, units: Units) -> None:
    out.say(_why(year, night), hang=2)
    for at in night.subjects:
        moon = at.moon
        out.say(
            f"{at.name}: {moon.dark_words}; Moon {per_cent(moon.lit)} lit, {moon.moon_words}.",
            hang=2,
        )
        if at.good_minutes <= 0.0:
            out.say(at.lenses[0].missing, indent=2, hang=2)
            continue
        out.listing(
            ("lens", "minutes", "from–to", "best", "distance", "over ridge"),
            [_lens_cells(lens, at.zone, units) for lens in at.lenses],
            left={"from–to"},
            words={"from–to"},
        )
        for lens in at.lenses:
            if lens.missing:
                out.say(f"{lens.label}: {lens.missing}", indent=2, hang=2)


def _why(year: Year, night: YearNight) -> str:
    """By what a night was chosen, in words."""
    gave = sorted(night.subjects, key=lambda at: -at.counted_minutes)
    most = [at for at in gave if at.counted_minutes > 0.0]
    each = ", ".join(f"{at.name} {num(at.counted_minutes, 0)}" for at in most[:3])
    more = f" and {len(most) - 3} more" if len(most) > 3 else ""
    places = 0 if night.counted_minutes >= 9.5 else 1
    counts = num(night.counted_minutes, places)
    said = f"Counts {counts} minutes a lens that were lacking: {each}{more}."
    if night.equals:
        said += (
            f" {counted(len(night.equals), 'other nights')} would count as much; this one has more "
            "good minutes in all, or comes first."
        )
    return said if len(year.subjects) > 1 else said.replace(f": {each}", "")


def _lens_cells(lens: LensNight, zone: str, units: Units) -> tuple[str, ...]:
    spans = ", ".join(f"{hm(s.start, zone)}–{hm(s.end, zone)}" for s in lens.usable)
    return (
        lens.label,
        num(lens.minutes, 0),
        spans or "none",
        "" if lens.at is None else hm(lens.at, zone),
        "" if lens.at is None else units.length(lens.distance_m),
        "" if lens.at is None else f"{num(lens.clearance_deg, 1)}°",
    )
