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
_DIRECTION_REF, _DIRECTION = 16, 17
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
    image_direction_deg : float
        Where the camera's compass says that the lens points, 0 to below 360; NaN where it says
        nothing, or does not say from which north.
    from_magnetic : bool
        Whether that is from magnetic north.
    """

    lat: float = math.nan
    lon: float = math.nan
    error_m: float = math.nan
    time: dt.datetime | None = None
    image_direction_deg: float = math.nan
    from_magnetic: bool = False

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
    lat, lon = _place(gps, notes)
    direction, from_magnetic = _direction(gps)
    error = positive(gps.get(_SIGMA)) if math.isfinite(lat) else math.nan
    return GpsFix(lat, lon, error, _time(gps), direction, from_magnetic)


def _place(gps: dict[int, Any], notes: list[str]) -> tuple[float, float]:
    """Latitude and longitude; NaN both where one of them cannot be read."""
    if _LAT not in gps and _LON not in gps:
        return math.nan, math.nan
    lat = _angle(gps.get(_LAT), text(gps.get(_LAT_REF)), "NS", 90.0)
    lon = _angle(gps.get(_LON), text(gps.get(_LON_REF)), "EW", 180.0)
    if not (math.isfinite(lat) and math.isfinite(lon)):
        notes.append("Its GPS position cannot be read (a part is missing, or is no number).")
        return math.nan, math.nan
    if lat == 0.0 and lon == 0.0:
        notes.append("Its GPS position is 0, 0: the receiver had no fix.")
        return math.nan, math.nan
    return lat, lon


def _direction(gps: dict[int, Any]) -> tuple[float, bool]:
    """Where the image looks, and whether from magnetic north (T is true, M is magnetic)."""
    north = text(gps.get(_DIRECTION_REF)).strip().upper()
    value = number(gps.get(_DIRECTION))
    if north not in ("T", "M") or not 0.0 <= value <= 360.0:
        return math.nan, False
    return value % 360.0, north == "M"


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
