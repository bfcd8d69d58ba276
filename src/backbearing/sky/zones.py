"""Local wall time: the zone of a place, and a clock time on a night."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from functools import cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base import asked
from backbearing.base.angles import wrap_180_deg
from backbearing.base.errors import SkyError
from backbearing.base.text import MONTHS
from backbearing.base.wall_clock import letters
from backbearing.sky.instants import aware

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_CLOCK = re.compile(
    r"^\s*(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\s+(first|second|[A-Z]{2,5}|[+-]\d{2,4}))?\s*$"
)


@cache
def named_zone(name: str) -> ZoneInfo:
    """Zone by its IANA name.

    Raises
    ------
    SkyError
        The name is not in the time zone database.
    """
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError) as cause:
        raise SkyError(
            f'there is no time zone "{name}"',
            hint='write an IANA name such as "America/New_York"',
            zone=name,
        ) from cause


def zone_at(*, lat: float, lon: float) -> ZoneInfo:
    """Time zone of a place in degrees, from borders that the package tzfpy carries.

    Borders are simplified to about 100 m: close to one, name the zone yourself.

    Raises
    ------
    SkyError
        No zone is known there.
    """
    import tzfpy

    name = tzfpy.get_tz(wrap_180_deg(lon), lat)
    if not name:
        raise SkyError(
            f"no time zone is known at lat {lat:g}, lon {lon:g}",
            hint='name one, such as "Etc/GMT+8"',
            lat=lat,
            lon=lon,
        )
    return named_zone(name)


def resolve_zone(tz: str | tzinfo | None, *, lat: float, lon: float) -> tzinfo:
    """Zone as given (a name or a tzinfo), or the zone of the place when None."""
    if tz is None:
        return zone_at(lat=lat, lon=lon)
    if isinstance(tz, tzinfo):
        return tz
    return named_zone(asked.text(tz, "tz", SkyError))


def local(moment: datetime | np.datetime64, zone: tzinfo) -> datetime:
    """An instant as aware local time, to the microsecond; a ``datetime64`` is UTC."""
    if not isinstance(moment, datetime):
        return aware(moment).astimezone(zone)
    if moment.tzinfo is None:
        raise SkyError(f"the time {moment.isoformat(sep=' ')} has no time zone", hint="add one")
    return moment.astimezone(zone)


def locals_of(utc: NDArray[np.datetime64], zone: tzinfo) -> list[datetime]:
    """Many UTC instants as aware local times, to the microsecond."""
    return [t.replace(tzinfo=UTC).astimezone(zone) for t in utc.tolist()]


def local_noon(day: date, zone: tzinfo) -> datetime:
    """Twelve o'clock by the wall on a date: where one night ends and the next begins."""
    return datetime.combine(day, time(12), tzinfo=zone)


def evening_of(moment: datetime, zone: tzinfo) -> date:
    """The evening date of the night that an instant belongs to."""
    there = local(moment, zone)
    return there.date() if there.hour >= 12 else there.date() - timedelta(days=1)


def at_clock(evening: date, clock: str, zone: tzinfo) -> datetime:
    """A wall time such as "23:40" on the night that begins on ``evening``.

    Hours before noon belong to the next date. Where the clocks go back and a wall time
    happens twice, write "01:30 first" or "01:30 second", or its letters: "01:30 EDT".

    Raises
    ------
    SkyError
        Not a clock time; a wall time that the clocks skip; one that happens twice and
        does not say which.
    """
    wall, which = _parse_clock(clock)
    day = evening if wall.hour >= 12 else evening + timedelta(days=1)
    earlier = datetime.combine(day, wall, tzinfo=zone)
    later = earlier.replace(fold=1)
    for one in (earlier, later):
        if which is not None and which == letters(one):
            return one
    if which not in (None, "first", "second"):
        raise SkyError(
            f"{wall:%H:%M} is {letters(earlier)} on {day.day} {MONTHS[day.month - 1]} {day.year} "
            f'in {zone}, not {which}; write "{wall:%H:%M}"',
            clock=clock,
            zone=str(zone),
        )
    if earlier.utcoffset() == later.utcoffset():
        return earlier
    survives = earlier.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    if survives != earlier.replace(tzinfo=None):
        raise SkyError(
            f"{wall:%H:%M} does not exist on {day.day} {MONTHS[day.month - 1]} {day.year} in "
            f"{zone}: the clocks go forward over it",
            hint="write a time before or after the gap",
            clock=clock,
            zone=str(zone),
        )
    if which is None:
        raise SkyError(
            f"{wall:%H:%M} happens twice on {day.day} {MONTHS[day.month - 1]} {day.year} in "
            f"{zone}: the clocks go back",
            hint=f'write "{wall:%H:%M} first" or "{wall:%H:%M} second"',
            clock=clock,
            zone=str(zone),
        )
    return earlier if which == "first" else later


def _parse_clock(clock: str) -> tuple[time, str | None]:
    match = _CLOCK.match(clock)
    if match is not None:
        hour, minute, second = (int(g or 0) for g in match.groups()[:3])
        if hour < 24 and minute < 60 and second < 60:
            return time(hour, minute, second), match.group(4)
    raise SkyError(
        f'"{clock}" is not a time of day', hint='write hours and minutes such as "23:40"'
    )
