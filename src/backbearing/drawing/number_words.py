"""Numbers in words for the page; whatever is not finite is said to be unknown."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.text import compass_point
from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units


def bearing_words(bearing_deg: float) -> str:
    """A bearing from 0 up to 360 degrees: ``178.3°``."""
    return f"{num(round(bearing_deg, 1) % 360.0, 1)}°"


def magnetic_words(bearing_magnetic_deg: float, unknown: str = "magnetic unknown") -> str:
    """A bearing by the compass, and that it is one: ``184.1° magnetic``."""
    if not math.isfinite(bearing_magnetic_deg):
        return unknown
    return f"{bearing_words(bearing_magnetic_deg)} magnetic"


def direction_words(bearing_deg: float) -> str:
    """A true bearing with its compass letters: ``178.3° S``."""
    if not math.isfinite(bearing_deg):
        return "unknown"
    return f"{bearing_words(bearing_deg)} {compass_point(bearing_deg)}"


def position(lat: float, lon: float) -> str:
    """Latitude and longitude with hemispheres, to about 10 cm."""
    ns, ew = "N" if lat >= 0 else "S", "E" if lon >= 0 else "W"
    return f"{num(abs(lat), 6)}°\u00a0{ns}, {num(abs(lon), 6)}°\u00a0{ew}"


def seconds(value: float) -> str:
    """A shutter time, never rounded up: ``6 s``, ``2.5 s``."""
    if not math.isfinite(value):
        return "unknown"
    shown = math.floor(value * 10.0) / 10.0 if value < 10.0 else math.floor(value)
    return f"{num(shown)} s"


def pixels(value: float) -> str:
    """A length on the sensor: ``3.2 px``."""
    return f"{num(value, 1)} px" if math.isfinite(value) else "unknown"


def percent(value: float) -> str:
    """A fraction as a percentage: ``36 %``."""
    return f"{num(100.0 * value, 0)} %" if math.isfinite(value) else "unknown"


def minutes(value: float) -> str:
    """A stretch of minutes: ``4.6 min``, ``12 min``."""
    if not math.isfinite(value):
        return "unknown"
    return f"{num(value, 0)} min" if value >= 10.0 else f"{num(value, 1)} min"


def height(metres: float) -> str:
    """A ground height, and whose height it is."""
    return f"{num(metres, 0)} m, as the raster counts" if math.isfinite(metres) else "unknown"


def tilt(pitch_deg: float) -> str:
    """The camera's tilt, up or down."""
    if not math.isfinite(pitch_deg):
        return "unknown"
    return f"{num(abs(pitch_deg), 1)}° {'up' if pitch_deg >= 0 else 'down'} at the frame's middle"


def over(clearance_deg: float) -> str:
    """How far the target stands over the skyline, or how deep behind it."""
    if not math.isfinite(clearance_deg):
        return "unknown"
    if clearance_deg < 0.0:
        return f"hidden by {num(-clearance_deg, 1)}°"
    return f"{num(clearance_deg, 1)}° over"


def climb_words(climb_m: float, descent_m: float, units: Units = METRIC) -> str:
    """How far a way goes up and down."""
    if not math.isfinite(climb_m):
        return "climb unknown"
    return f"{units.small(climb_m, 0)} up, {units.small(descent_m, 0)} down"


def skyline_break(skyline_break_deg: float) -> str:
    """How far the subject's top breaks the skyline behind it."""
    if not math.isfinite(skyline_break_deg):
        return "unknown"
    side = "above" if skyline_break_deg >= 0.0 else "below"
    return f"its top {num(abs(skyline_break_deg), 1)}° {side} the ground behind"


def swing(metres_per_minute: float) -> str:
    """How far the stand moves sideways, in steps that a tape can follow."""
    if not math.isfinite(metres_per_minute):
        return "unknown"
    side = "left" if metres_per_minute >= 0 else "right"
    per_five = abs(metres_per_minute) * 5.0
    return f"{num(per_five, 2)} m to the {side} every 5 min, facing the subject"


def crs_name(crs: str) -> str:
    """The short name of a reference system that may be written out in full."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        found = CRS.from_user_input(crs)
    except CRSError:
        return crs
    code = found.to_authority()
    return f"{found.name} ({':'.join(code)})" if code else str(found.name)


def listed(labels: Sequence[str]) -> str:
    """Labels in a row, their common unit once: ``16, 24, 40 mm``."""
    if all(label.endswith(" mm") for label in labels):
        return ", ".join(label.removesuffix(" mm") for label in labels) + " mm"
    return ", ".join(labels)


def ground_words(credit: str) -> str:
    """Whose the raster is, behind a sentence; nothing where nobody is named."""
    return f" Ground: {credit}" if credit.strip() else ""
