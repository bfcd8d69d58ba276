"""A camera's clock put right: its zone, its error, and what a receiver says of it."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num

if TYPE_CHECKING:
    from backbearing.review.exif import FrameExif

WORTH_SAYING_S: Final = 30.0
_STALE_S: Final = 900.0


def frame_time(
    exif: FrameExif, *, zone: str, clock_ahead_s: float
) -> tuple[dt.datetime | None, str]:
    """Find the true time of a frame and say what was assumed.

    Parameters
    ----------
    exif : FrameExif
    zone : str
        IANA name of the zone that the camera's clock shows, where the frame says none.
    clock_ahead_s : float
        How far the clock is ahead of the true time.

    Returns
    -------
    time : datetime or None
        UTC; None where the frame has no time.
    sentence : str
    """
    if exif.wall_time is None:
        return None, "No time in the frame."
    if exif.utc_offset is not None:
        shown = exif.wall_time.replace(tzinfo=dt.timezone(exif.utc_offset))
        said = f"The frame gives its offset from UTC as {_offset(exif.utc_offset)}."
    else:
        shown = exif.wall_time.replace(tzinfo=ZoneInfo(zone))
        said = f"The frame names no zone; its clock is taken to show {zone}.{_doubt(shown)}"
    time = shown.astimezone(dt.UTC) - dt.timedelta(seconds=clock_ahead_s)
    if clock_ahead_s:
        way = "ahead" if clock_ahead_s > 0.0 else "behind"
        said += f" Put right by {num(abs(clock_ahead_s))} s that it was {way}."
    return time, said + _receiver(exif, time)


def _offset(offset: dt.timedelta) -> str:
    minutes = round(offset.total_seconds() / 60.0)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _doubt(shown: dt.datetime) -> str:
    """Say when the clocks changed over a wall time."""
    if shown.replace(fold=1).utcoffset() == shown.utcoffset():
        return ""
    back = shown.astimezone(dt.UTC).astimezone(shown.tzinfo)
    if back.replace(tzinfo=None) == shown.replace(tzinfo=None):
        return " That wall time comes twice that night; the first is taken."
    return " The zone's clocks skip that wall time: the camera's was not put forward."


def _receiver(exif: FrameExif, time: dt.datetime) -> str:
    """Set the clock beside the receiver's time; an old fix says nothing of the clock."""
    if exif.gps.time is None:
        return ""
    ahead = (time - exif.gps.time).total_seconds()
    if abs(ahead) <= WORTH_SAYING_S:
        return " The receiver's time agrees."
    if abs(ahead) <= _STALE_S:
        return (
            f" The receiver's time is {num(abs(ahead), 0)} s "
            f"{'earlier' if ahead > 0 else 'later'}: an old fix, or the camera's clock is off by "
            "so much (--clock-ahead)."
        )
    hours = ahead / 3600.0
    return (
        f" The receiver's time is {num(abs(hours), 1)} h {'earlier' if ahead > 0 else 'later'}: "
        "is the camera's clock in another zone (--camera-zone)?"
    )
