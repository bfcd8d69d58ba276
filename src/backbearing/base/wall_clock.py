"""Clock times as people write them, unmistakable also where the clocks go back."""

from __future__ import annotations

import datetime as dt
import os
from zoneinfo import ZoneInfo


def hm(moment: dt.datetime, zone: str | dt.tzinfo | None = None, *, seconds: bool = False) -> str:
    """Write a moment as a clock on the wall shows it: ``23:40``.

    Where the clocks go back and the same time comes twice, with the zone's letters:
    ``01:30 EDT``.

    Parameters
    ----------
    moment : datetime
        Aware.
    zone : str or tzinfo, optional
        Where the clock hangs; the moment's own zone when left out.
    seconds : bool
        Whether to write them too.
    """
    local = moment if zone is None else moment.astimezone(_zone(zone))
    shown = local.strftime("%H:%M:%S" if seconds else "%H:%M")
    return f"{shown} {letters(local)}" if comes_twice(local) else shown


def letters(moment: dt.datetime, zone: str | dt.tzinfo | None = None) -> str:
    """Short name of local time then, such as ``EDT``, or its offset from UTC."""
    local = moment if zone is None else moment.astimezone(_zone(zone))
    return local.tzname() or local.strftime("UTC%z")


def comes_twice(local: dt.datetime) -> bool:
    """Whether a wall time comes twice because the clocks go back over it."""
    first, second = local.replace(fold=0), local.replace(fold=1)
    if first.utcoffset() == second.utcoffset():
        return False
    # In a gap, where the clocks go forward, the two differ as well; no moment falls there.
    return first.astimezone(dt.UTC).astimezone(local.tzinfo).replace(fold=0) == first


def wall_hours(moment: dt.datetime, zone: str | dt.tzinfo, midnight: dt.date) -> float:
    """Hours that the clock on the wall has counted on from the midnight that begins a date.

    25.5 is half past one the next morning, whatever the clocks did in between.
    """
    wall = moment.astimezone(_zone(zone)).replace(tzinfo=None)
    return (wall - dt.datetime.combine(midnight, dt.time())) / dt.timedelta(hours=1)


def clock_change(
    start: dt.datetime, end: dt.datetime, zone: str | dt.tzinfo
) -> tuple[dt.datetime | None, float]:
    """When the clocks change between two moments (to the second), and by how many hours.

    None and 0 where they do not. Two changes within a night are unknown to the zones.
    """

    def offset(moment: dt.datetime) -> dt.timedelta:
        return moment.astimezone(_zone(zone)).utcoffset() or dt.timedelta()

    by = offset(end) - offset(start)
    if not by:
        return None, 0.0
    before, after = start, end
    while after - before > dt.timedelta(seconds=1):
        middle = before + (after - before) / 2
        if offset(middle) == offset(start):
            before = middle
        else:
            after = middle
    return after, by / dt.timedelta(hours=1)


def _zone(zone: str | dt.tzinfo) -> dt.tzinfo:
    return ZoneInfo(zone) if isinstance(zone, str) else zone


def now_utc() -> dt.datetime:
    """Give the present moment to the second, or the one that ``SOURCE_DATE_EPOCH`` holds.

    With that variable set to seconds since 1970 whatever is written is the same to the byte
    when it is written again (the convention of reproducible-builds.org). What is no such number
    counts as not set.
    """
    held = os.environ.get("SOURCE_DATE_EPOCH", "")
    if held.isascii() and held.isdigit() and len(held) <= 11:
        return dt.datetime.fromtimestamp(int(held), dt.UTC)
    return dt.datetime.now(dt.UTC).replace(microsecond=0)
