"""Where a frame says it was taken: the GPS fields of EXIF [CIPA-DC-008]_."""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import Any

from backbearing.review.exif_values import number, positive, text

_LAT_REF, _LAT, _LON_REF, _LON = 1, 2, 3, 4
_TIME, _DATE, _SIGMA = 7, 29, 31
_DATE_TEXT = re.compile(r"(\d{4}):(\d{2}):(\d{2})")


@dataclass(frozen=True, slots=True)
class GpsFix:
    """A receiver's fix.

    Attributes
    ----------
    lat, lon : float
        WGS84 degrees; NaN where unknown.
    error_m : float
        Horizontal error that the receiver states, metres; NaN where it states none.
    time : datetime or None
        UTC of the fix, which may be older than the frame.
    """

    lat: float = math.nan
    lon: float = math.nan
    error_m: float = math.nan
    time: dt.datetime | None = None

    @property
    def known(self) -> bool:
        """Whether there is a position."""
        return math.isfinite(self.lat) and math.isfinite(self.lon)


def read_gps(gps: dict[int, Any], notes: list[str]) -> GpsFix:
    """Read the fix; what is written but cannot be a position is noted.

    Parameters
    ----------
    gps : dict
        The GPS table.
    notes : list of str
        Grows by a sentence for what could not be believed.
    """
    if _LAT not in gps and _LON not in gps:
        return GpsFix(time=_time(gps))
    lat = _angle(gps.get(_LAT), text(gps.get(_LAT_REF)), "NS", 90.0)
    lon = _angle(gps.get(_LON), text(gps.get(_LON_REF)), "EW", 180.0)
    if not (math.isfinite(lat) and math.isfinite(lon)):
        notes.append("Its GPS position cannot be read (a part is missing, or is no number).")
        return GpsFix(time=_time(gps))
    if lat == 0.0 and lon == 0.0:
        notes.append("Its GPS position is 0, 0: the receiver had no fix.")
        return GpsFix(time=_time(gps))
    return GpsFix(lat, lon, positive(gps.get(_SIGMA)), _time(gps))


def _angle(parts: Any, side: str, sides: str, limit: float) -> float:
    """Degrees from degrees, minutes and seconds with a letter; NaN for anything else."""
    if not isinstance(parts, list | tuple) or len(parts) != 3:
        return math.nan
    letter = side.strip().upper()
    values = [number(part) for part in parts]
    # Seconds of 0/0 are written where degrees or minutes carry the fraction.
    if math.isnan(values[2]) and getattr(parts[2], "numerator", 1) == 0:
        values[2] = 0.0
    if len(letter) != 1 or letter not in sides or not all(v >= 0.0 for v in values):
        return math.nan
    if values[1] > 60.0 or values[2] > 60.0:
        return math.nan
    degrees = values[0] + values[1] / 60.0 + values[2] / 3600.0
    if degrees > limit:
        return math.nan
    return -degrees if letter == sides[1] else degrees


def _time(gps: dict[int, Any]) -> dt.datetime | None:
    match = _DATE_TEXT.fullmatch(text(gps.get(_DATE)).strip())
    clock = gps.get(_TIME)
    if match is None or not isinstance(clock, list | tuple) or len(clock) != 3:
        return None
    hours, minutes, seconds = (number(part) for part in clock)
    if not (0.0 <= hours < 24.0 and 0.0 <= minutes < 60.0 and 0.0 <= seconds < 61.0):
        return None
    try:
        day = dt.datetime(*(int(part) for part in match.groups()), tzinfo=dt.UTC)  # type: ignore[misc,arg-type]
    except ValueError:
        return None
    return day + dt.timedelta(hours=hours, minutes=minutes, seconds=seconds)
