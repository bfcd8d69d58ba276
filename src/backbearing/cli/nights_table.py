"""A season as tables on the terminal."""

from __future__ import annotations

import math
from math import isfinite
from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.season_reasons import spells_without
from backbearing.base.cautions import CoverKnown
from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import compass_point, degrees, terminal_safe
from backbearing.base.units import METRIC
from backbearing.cli.nights_words import Clock, altitudes, night_label, range_words, spell_label
from backbearing.cli.screen import SCREEN_LINES

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.crossing import Crossing, Spoiler
    from backbearing.plan.season import Season, Stretch

MOST_NIGHTS: Final = 12
"""Rows of the short answer."""

BAND_WORDS: Final = (
    "lean: how far the Milky Way's band tilts from upright at the target in the middle of the "
    "window, + to the right; band up: how much of the band within 30° of the galaxy's centre is "
    "above the ridge then."
)
"""The legend of two columns."""

MOST_CLOUD: Final = 2
"""Nights whose cloud the short answer tells."""

_UNSEEN: Final = {
    CoverKnown.NONE: "cloud, trees and haze are in no table.",
    CoverKnown.PART: "cloud and haze are in no table, trees only in part.",
    CoverKnown.ALL: "cloud and haze are in no table; trees are as old as their file.",
}

GLOW_SHOWN_MAG: Final = 0.1
"""From here on twilight has a column of its own."""


def print_season(
    out: Screen, season: Season, units: Units = METRIC, *, everything: bool = True, then: str = ""
) -> None:
    """Print the windows (or a stand's crossings), the nights without one and why, the notes.

    Parameters
    ----------
    out : Screen
    season : Season
    units : Units
        How lengths are said.
    everything : bool
        Otherwise one screen: the summary, the first of the best nights, and what comes next.
    then : str
        The command that follows the short answer.
    """
    first, last = season.nights[0], season.nights[-1]
    title = f"{season.subject_name}: nights of {first.label}"
    if len(season.nights) > 1:
        title += f" to {last.label}"
    out.title(title)
    out.say(_summary(season, units))
    out.say(_asked_line(season))
    _print_cloud(out, season, units, most=len(season.nights) if everything else MOST_CLOUD)
    at_stand = isfinite(season.bearing_deg)
    if not everything:
        _short(out, season, at_stand=at_stand, then=then)
        return
    if at_stand:
        _print_crossings(out, season)
    else:
        _print_windows(out, season)
    out.blank()
    out.title("What this rests on and cannot see")
    for note in season.notes:
        out.say(units.sentence(note, [season.subject_name]), indent=2, hang=2)


def _print_cloud(out: Screen, season: Season, units: Units, *, most: int) -> None:
    """What the outing's forecast says of the nights that it reaches."""
    told = [night for night in season.nights if night.cloud_words]
    for night in told[:most]:
        out.say(f"{night.label}: {units.sentence(night.cloud_words)}", hang=2)
    if told:
        out.say("A forecast is no promise: look at the sky.")


def _short(out: Screen, season: Season, *, at_stand: bool, then: str) -> None:
    """Print what the nights come to: so many of them, in their order, and what spoils the rest."""
    clock = Clock(season)
    rows: list[tuple[str, ...]] = []
    names: tuple[str, ...]
    if at_stand:
        labels = {night.evening: night_label(season, night) for night in season.nights}
        listed = [one for one in season.crossings if "daylight" not in one.spoilt_by]
        title, names = "Behind the subject", ("night", "at", "within", "over ridge", "spoilt by")
        rows = [
            (
                labels[one.evening], clock.at(one.time), clock.span(one.start, one.end),
                degrees(one.clearance_deg),
                ", ".join(_spoiler(one, cause) for cause in one.spoilt_by),
            )
            for one in listed
        ]  # fmt: skip
    else:
        title, names = "Windows", ("night", "window", "hours", "altitude", "azimuth", "Moon adds")
        chosen = (0, 1, 2, 3, 6)
        for night in season.nights:
            for stretch in night.windows:
                cells = _window_row(stretch, clock, glows=False)
                rows.append(
                    (night_label(season, night), *(cells[i] for i in chosen[:-1]), cells[6])
                )
    shown = rows[:MOST_NIGHTS]
    _print_table(out, title, names, shown)
    if len(rows) > len(shown):
        out.say(f"and {len(rows) - len(shown)} more: --all", indent=2)
    spells = spells_without(season)
    if spells and not at_stand:
        out.blank()
        out.title("Nights without a window")
        said = [f"{spell_label(season, one.nights)}: {one.why_not}" for one in spells]
        out.some(said, max(SCREEN_LINES - 4 - len(out.lines), 2))
    out.say(f"Care: {_UNSEEN[season.cover_known]} What this rests on: --all.")
    out.say(f"Next: {then}", hang=2)


def _asked_line(season: Season) -> str:
    moon = {"down": "the Moon down", "any": "any Moon"}.get(
        str(season.moon), f"the Moon down or at most {season.moon} lit"
    )
    if season.moon_adds_mag is not None:
        moon += f" or adding at most {num(season.moon_adds_mag)} mag to the target's sky"
    return (
        f"Sun below {num(season.sun_below_deg)}°, {moon}, {terminal_safe(season.target_name)} "
        f"{num(season.clear_by_deg)}° clear of the ridge seen from {season.seen_from}. Times in "
        f"{season.zone} ({', '.join(Clock(season).letters)})."
    )


def _print_windows(out: Screen, season: Season) -> None:

    clock = Clock(season)
    glows = _most_glow_mag(season) >= GLOW_SHOWN_MAG
    _print_table(
        out,
        "Windows (altitude: start, highest between, end)",
        (
            "night",
            "window",
            "hours",
            "altitude",
            "azimuth",
            "lean",
            "band up",
            "Moon adds",
            "glow adds",
        ),
        (
            (night_label(season, night), *_window_row(stretch, clock, glows=glows))
            for night in season.nights
            for stretch in night.windows
        ),
    )
    if any(night.windows for night in season.nights):
        out.say(BAND_WORDS, indent=2)
    _print_table(
        out,
        "The same, but more Moon than asked (turn: from the sight line)",
        ("night", "stretch", "lit", "adds", "its light", ""),
        (
            (night_label(season, night), *_moonlit_row(stretch, clock))
            for night in season.nights
            for stretch in night.moonlit
            if stretch.minutes >= 1.0
        ),
    )
    _print_table(
        out,
        "Nights without a window",
        ("nights", "why"),
        (
            (spell_label(season, spell.nights), terminal_safe(spell.why_not))
            for spell in spells_without(season)
        ),
    )
    _print_table(
        out,
        "Uncertain",
        ("night", "what"),
        ((night_label(season, night), night.note) for night in season.nights if night.note),
    )


def _print_table(
    out: Screen, title: str, names: Sequence[str], rows: Iterable[Sequence[str]]
) -> None:

    made = list(rows)
    if not made:
        return
    used = [i for i, _ in enumerate(names) if any(row[i] for row in made)]
    names, made = [names[i] for i in used], [[row[i] for i in used] for row in made]
    out.blank()
    out.title(title)
    numbers = {
        "hours",
        "lean",
        "band up",
        "lit",
        "adds",
        "Moon adds",
        "glow adds",
        "top",
        "ridge",
        "altitude",
    }
    folded = {"why", "what", "in frame", "spoilt by", ""}
    out.listing(names, made, left=set(names) - numbers, words=folded)


def _most_glow_mag(season: Season) -> float:
    """Most that twilight adds in any window; NaN without one."""
    return max(
        (s.glow_adds_mag for night in season.nights for s in night.windows), default=math.nan
    )


def _window_row(stretch: Stretch, clock: Clock, *, glows: bool) -> tuple[str, ...]:
    return (
        clock.span(stretch.start, stretch.end),
        num(stretch.minutes / 60.0, 1),
        altitudes(stretch),
        range_words(round(stretch.azimuth_start_deg) % 360, round(stretch.azimuth_end_deg) % 360),
        _lean(stretch.lean_middle_deg),
        per_cent(stretch.band_share_up),
        f"{num(stretch.moon_adds_mag, 2)} mag" if stretch.moon_adds_mag > 0.005 else "",
        f"{num(stretch.glow_adds_mag, 1)} mag" if glows and stretch.glow_adds_mag >= 0.05 else "",
    )


def _moonlit_row(stretch: Stretch, clock: Clock) -> tuple[str, ...]:
    adds = f"{num(stretch.moon_adds_mag, 1)} mag" if isfinite(stretch.moon_adds_mag) else "on it"
    return (
        clock.span(stretch.start, stretch.end),
        per_cent(stretch.moon_lit),
        adds,
        _light_words(stretch),
        "welcome?" if stretch.moon_welcome else "",
    )


def _lean(lean_deg: float) -> str:
    return f"{num(lean_deg, 0, sign=True)}°" if isfinite(lean_deg) else ""


def _light_words(stretch: Stretch) -> str:
    """Where moonlight falls from: turn from the sight line and altitude beside the kind."""
    kind = stretch.moon_light_from.partition(" from the")[0]
    if "ridge" in kind or "below" in kind:
        return kind
    side = "right" if stretch.moon_turn_deg > 0.0 else "left"
    turn = "" if kind == "above" else f"{num(abs(stretch.moon_turn_deg), 0)}° {side}, "
    return f"{kind}: {turn}{num(stretch.moon_altitude_deg, 0)}° up"


def _print_crossings(out: Screen, season: Season) -> None:
    clock = Clock(season)
    labels = {night.evening: night_label(season, night) for night in season.nights}
    names = (
        "night", "behind at", "within", "altitude", "top", "ridge", "in frame", "spoilt by",
    )  # fmt: skip
    _print_table(
        out,
        "Exactly behind the subject (top, ridge: how far the target stands above them; lenses in "
        "mm; + magnitudes by which its sky is brightened)",
        names,
        (
            (labels[one.evening], *_crossing_row(one, clock))
            for one in season.crossings
            if "daylight" not in one.spoilt_by
        ),
    )
    _print_near(out, season, clock)


def _print_near(out: Screen, season: Season, clock: Clock) -> None:
    """Nights on which the target comes close and turns back."""
    _print_table(
        out,
        f"Within {degrees(season.within_deg)} of the subject, but turned back before it",
        ("night", "from, to"),
        (
            (night_label(season, night), clock.span(one.start, one.end))
            for one in season.near
            for night in season.nights
            if any(s.start < one.end and one.start < s.end for s in night.sunless)
        ),
    )


def _crossing_row(one: Crossing, clock: Clock) -> tuple[str, ...]:
    labels = [frame.lens for frame in one.frames if frame.in_frame]
    plain = all(label.endswith(" mm") for label in labels)
    lenses = " ".join(label[:-3] for label in labels) if plain else ", ".join(labels)
    return (
        clock.at(one.time),
        clock.span(one.start, one.end),
        degrees(one.altitude_deg),
        degrees(one.over_top_deg),
        degrees(one.clearance_deg),
        terminal_safe(lenses) or "none",
        ", ".join(_spoiler(one, cause) for cause in one.spoilt_by),
    )


def _spoiler(one: Crossing, cause: Spoiler) -> str:
    """Name what spoils a crossing, light with its magnitudes at the target."""
    adds = {"moon": one.moon_adds_mag, "twilight": one.glow_adds_mag}.get(cause, math.nan)
    return f"{cause} {num(adds, 1, sign=True)}" if isfinite(adds) else cause


def _summary(season: Season, units: Units) -> str:
    if isfinite(season.bearing_deg):
        return _stand_summary(season, units)
    good = [night for night in season.nights if night.windows]
    if not good:
        return "No night of these has a window."
    longest = max(good, key=lambda night: night.window_minutes)
    hours = sum(night.window_minutes for night in good) / 60.0
    return (
        f"{len(good)} of {counted(len(season.nights), 'nights')} "
        f"{'has' if len(good) == 1 else 'have'} a window, "
        f"{num(hours, 0 if hours >= 10.0 else 1)} hours in all; the "
        f"longest is {longest.label} with {num(longest.window_minutes / 60.0, 1)} hours."
        + _glow_line(season)
    )


def _glow_line(season: Season) -> str:
    """What twilight adds where it is too little for a column."""
    most = _most_glow_mag(season)
    if not most < GLOW_SHOWN_MAG:
        return ""
    return f" Twilight brightens the target's sky by {num(max(most, 0.01), 2)} mag at most in them."


def _stand_summary(season: Season, units: Units) -> str:
    where = (
        f"From this stand the subject is {units.length(season.distance_m)} away at "
        f"{num(season.bearing_deg, 2)}° ({compass_point(season.bearing_deg)})."
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
