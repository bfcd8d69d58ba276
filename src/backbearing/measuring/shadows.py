"""Heights from a shadow, with the Sun's altitude at that minute."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base import asked
from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num
from backbearing.measuring.readings import Measured, Reading, a_length, propagated
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array
from backbearing.sky.targets import Target

if TYPE_CHECKING:
    import datetime as dt

LOWEST_SUN_DEG: Final = 5.0
"""Under it a shadow is some twelve times as long as its thing is high, and refraction and the
ground's slope decide (our own choice)."""

BLUR_SIGMA_DEG: Final = 0.15
"""Where in the half-shade the tip is marked: anywhere over the Sun's 0.53 degree, which has this
standard deviation, 0.53 / sqrt(12)."""

SLOPE_SIGMA_DEG: Final = 3.0
"""Of the ground's slope along the shadow where it was only looked at (our own choice)."""

_FASTEST_DEG_S: Final = 360.0 / 86_400.0
"""The Sun's altitude changes by no more: once round in a day, at the equator and due east."""

CLOCK_SIGMA_S: Final = 30.0
"""Of the moment at which a shadow was marked (common practice, no source)."""


def sun_altitude_deg(
    *, lat: float, lon: float, when: dt.datetime, height_m: float = 0.0
) -> tuple[float, float]:
    """Altitude of the Sun's middle as seen, with refraction, and its azimuth, degrees.

    Parameters
    ----------
    lat, lon : float
        WGS84 degrees.
    when : datetime
        With its zone.
    height_m : float
        Of the ground over the sea; sets the air.

    Raises
    ------
    MeasureError
        For a moment without zone.
    SkyError
        For a date outside the ephemeris, or a place off the globe.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.measuring import sun_altitude_deg
    >>> noon = datetime(2027, 6, 21, 17, 40, tzinfo=timezone.utc)
    >>> altitude, azimuth = sun_altitude_deg(lat=36.37, lon=-84.36, when=noon)
    >>> f"{altitude:.0f} degrees up"
    '77 degrees up'
    """
    asked.moment(when, "when", MeasureError)
    azimuth, altitude = direction(
        Target.body("sun"), lat=lat, lon=lon, height_m=height_m, times=when
    )
    return float(altitude), float(azimuth)


def height_by_shadow(
    shadow_m: Reading,
    *,
    lat: float,
    lon: float,
    when: dt.datetime,
    when_sigma_s: float = CLOCK_SIGMA_S,
    slope_deg: Reading | None = None,
    ground_m: float = 0.0,
) -> Measured:
    """Height from the length of a shadow.

    ``H = L (cos g tan h + sin g)``: L along the ground from below the top to the shadow's tip, g
    the ground's slope that way (upward positive), h the altitude of the Sun's middle with
    refraction. The tip's half-shade spans the Sun's 0.53 degree, which is in the doubt.

    Parameters
    ----------
    shadow_m : Reading
        Metres.
    lat, lon : float
        Of the place, WGS84 degrees; a tenth of a degree is enough.
    when : datetime
        With its zone.
    when_sigma_s : float
        Of that moment, seconds.
    slope_deg : Reading, optional
        Degrees; level within 3 when left out.
    ground_m : float
        Of the ground over the sea, metres.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        For a Sun below 5 degrees, a shadow that runs up a slope steeper than the Sun, or a doubt of
        a third and more.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.measuring import Reading, height_by_shadow, taped
    >>> when = datetime(2027, 6, 21, 21, 0, tzinfo=timezone.utc)
    >>> found = height_by_shadow(
    ...     taped(9.0), lat=36.37, lon=-84.36, when=when, slope_deg=Reading(0.0, 0.5)
    ... )
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '9.1 m, give or take 0.2 m'
    """
    altitude, _ = sun_altitude_deg(lat=lat, lon=lon, when=when, height_m=ground_m)
    if altitude < LOWEST_SUN_DEG:
        below = "below the horizon" if altitude < 0.0 else f"only {num(altitude, 1)}° high"
        raise MeasureError(
            f"the Sun stood {below} at {when.isoformat(sep=' ', timespec='minutes')}",
            hint=f"measure a shadow while it stands above {num(LOWEST_SUN_DEG)}°, and look at the "
            "zone of the time",
            altitude_deg=altitude,
        )
    if not shadow_m.value > 0.0:
        raise MeasureError(
            f"shadow_m is {num(shadow_m.value)}",
            hint="write a length above 0, in metres",
            key="shadow_m",
        )
    slope = slope_deg or Reading(0.0, SLOPE_SIGMA_DEG)
    if not abs(slope.value) < 45.0 or slope.value <= -altitude:
        raise MeasureError(
            f"slope_deg is {num(slope.value)} with the Sun at {num(altitude, 1)}°",
            hint="write the ground's slope from the subject to the shadow's tip, upward positive; "
            "on ground that falls off as steeply as the Sun stands there is no shadow to tape",
            key="slope_deg",
        )
    rate = _rate_deg_s(lat=lat, lon=lon, when=when)
    sigma = math.hypot(BLUR_SIGMA_DEG, rate * when_sigma_s)
    readings = {"shadow_m": shadow_m, "sun_deg": Reading(altitude, sigma), "slope_deg": slope}

    def height(shadow_m: float, sun_deg: float, slope_deg: float) -> float:
        if not 0.0 < sun_deg < 90.0:
            return math.nan
        sun, ground = math.radians(sun_deg), math.radians(slope_deg)
        return shadow_m * (math.cos(ground) * math.tan(sun) + math.sin(ground))

    notes = [f"the Sun stood {num(altitude, 1)}° high"]
    if slope_deg is None:
        notes.append(f"the ground was taken as level within {num(SLOPE_SIGMA_DEG)}°")
    return a_length(propagated(height, readings, "a shadow", notes=notes), "height")


def height_by_two_shadows(
    shadow_m: Reading, staff_m: Reading, staff_shadow_m: Reading, *, apart_s: float = 60.0
) -> Measured:
    """Height from its shadow and that of a staff on the same slope, without clock or almanac.

    ``H = S L / l``, by similar triangles: one Sun, and one slope. The half-shade of both tips is in
    the doubt, and the Sun's way, a quarter of a degree a minute at most, in the time between.

    Parameters
    ----------
    shadow_m, staff_shadow_m : Reading
        Along the ground, metres.
    staff_m : Reading
        Length of the upright staff, metres.
    apart_s : float
        Between the two marks, seconds.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        For lengths that are none, shadows twelve times as long as the staff, or a doubt of a third
        and more.

    Examples
    --------
    >>> from backbearing.measuring import Reading, height_by_two_shadows, taped
    >>> found = height_by_two_shadows(taped(15.0), Reading(2.0, 0.01), Reading(2.4, 0.02))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '12.5 m, give or take 0.2 m'
    """
    named = {"shadow_m": shadow_m, "staff_m": staff_m, "staff_shadow_m": staff_shadow_m}
    for key, one in named.items():
        if not one.value > 0.0:
            raise MeasureError(
                f"{key} is {num(one.value)}", hint="write a length above 0, in metres", key=key
            )
    sun = math.atan(staff_m.value / staff_shadow_m.value)
    if math.degrees(sun) < LOWEST_SUN_DEG:
        raise MeasureError(
            f"the staff's shadow is {num(staff_shadow_m.value / staff_m.value, 0)} times as long "
            "as the staff",
            hint=f"wait until the Sun stands above {num(LOWEST_SUN_DEG)}°",
        )
    moved = _FASTEST_DEG_S * max(apart_s, 0.0) / math.sqrt(3.0)
    blur = Reading(0.0, math.hypot(math.sqrt(2.0) * BLUR_SIGMA_DEG, moved))

    def height(shadow_m: float, staff_m: float, staff_shadow_m: float, moved_deg: float) -> float:
        if not staff_shadow_m > 0.0:
            return math.nan
        seen = math.atan2(staff_m, staff_shadow_m) + math.radians(moved_deg)
        return shadow_m * math.tan(seen) if 0.0 < seen < math.pi / 2.0 else math.nan

    found = propagated(height, {**named, "moved_deg": blur}, "two shadows")
    return a_length(found, "height")


def _rate_deg_s(*, lat: float, lon: float, when: dt.datetime) -> float:
    """How fast the Sun's altitude changes, degrees a second, either way."""
    times = utc_array(when) + np.array([-60, 60], dtype="timedelta64[s]")
    _, altitude = direction(Target.body("sun"), lat=lat, lon=lon, times=times)
    return float(np.abs(np.diff(altitude))[0]) / 120.0
