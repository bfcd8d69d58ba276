"""How moments, spans, nights and altitudes of a season are said on the terminal."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.plan.season import Night, Season, Stretch


class Clock:
    """Wall times as short as they can be said: with the zone's letters only where they change."""

    def __init__(self, season: Season) -> None:
        self.zone = ZoneInfo(season.zone)
        ends = [t for night in season.nights for s in night.sunless for t in (s.start, s.end)]
        # Where the Sun never sets there is no such end: midnights then.
        ends = ends or [
            dt.datetime.combine(night.evening, dt.time(23, 59), tzinfo=self.zone)
            for night in season.nights
        ]
        self.letters = dict.fromkeys(f"{t.astimezone(self.zone):%Z}" for t in ends)

    def span(self, start: dt.datetime, end: dt.datetime) -> str:
        """Write ``00:26–02:23``, with letters in a season in which the clocks change."""
        a, b = start.astimezone(self.zone), end.astimezone(self.zone)
        if len(self.letters) < 2:
            return f"{hm(a)}–{hm(b)}"
        first = "" if a.utcoffset() == b.utcoffset() else f" {a:%Z}"
        return f"{a:%H:%M}{first}–{b:%H:%M} {b:%Z}"

    def at(self, moment: dt.datetime) -> str:
        """Write a moment to the second."""
        local = moment.astimezone(self.zone)
        return f"{local:%H:%M:%S}" + (f" {local:%Z}" if len(self.letters) > 1 else "")


def night_label(season: Season, night: Night) -> str:
    """Both dates, short; the year only where the season runs over New Year."""
    evening, morning = night.evening, night.evening + dt.timedelta(days=1)
    month = "" if evening.month == morning.month else f" {evening:%b}"
    words = f"{evening.day}{month}–{morning.day} {morning:%b}"
    same = season.nights[-1].evening.year == season.nights[0].evening.year
    return words if same else f"{words} {morning.year}"


def altitudes(stretch: Stretch) -> str:
    """Altitude at the start, where it is higher between, and at the end."""
    start, top, end = (
        round(v)
        for v in (stretch.altitude_start_deg, stretch.highest_deg, stretch.altitude_end_deg)
    )
    if top <= max(start, end):
        return range_words(start, end)
    between = "–" if min(start, end) >= 0 else " to "
    return f"{start}{between}{top}{between}{end}°"


def range_words(start_deg: int, end_deg: int) -> str:
    """Two angles, joined by a word where a sign stands between them."""
    between = "–" if min(start_deg, end_deg) >= 0 else " to "
    return f"{start_deg}{between}{end_deg}°"


def spell_label(season: Season, nights: Sequence[Night]) -> str:
    """First and last of some nights, and how many they are."""
    first, last = night_label(season, nights[0]), night_label(season, nights[-1])
    return first if len(nights) == 1 else f"{first} to {last} ({len(nights)})"
