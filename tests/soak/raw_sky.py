"""The sky by a library of its own: no line of the package's astronomy is used here.

Directions come from Skyfield [1]_ with JPL's DE421, refraction from Bennett's formula as
Meeus prints it (Astronomical Algorithms, 2nd ed., 1998, eq. 16.3), the air from the US
Standard Atmosphere of 1976.

.. [1] Rhodes, B. (2019). Skyfield. Astrophysics Source Code Library, ascl:1907.024.
"""

from __future__ import annotations

import atexit
import math
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from backbearing.sky.targets import Target

    Floats = np.ndarray[Any, np.dtype[np.float64]]

BARYCENTRES: Final = ("jupiter", "saturn", "uranus", "neptune")
MOON_RADIUS_KM: Final = 1737.4
"""Mean radius [IAU2015]_."""


def directions(
    target: Target, times: Sequence[dt.datetime], *, lat: float, lon: float, height_m: float
) -> tuple[Floats, Floats]:
    """Azimuth, and altitude without air, of a target at moments; degrees, each (n,)."""
    from skyfield.api import Star, wgs84

    planets, timescale = _sky()
    if target.body_name is not None:
        barycentre = " barycenter" if target.body_name in BARYCENTRES else ""
        seen: Any = planets[target.body_name + barycentre]
    else:
        assert target.ra_deg is not None
        seen = Star(
            ra_hours=target.ra_deg / 15.0,
            dec_degrees=target.dec_deg,
            ra_mas_per_year=target.ra_cos_dec_mas_yr,
            dec_mas_per_year=target.dec_mas_yr,
        )
    eye = planets["earth"] + wgs84.latlon(lat, lon, elevation_m=height_m)
    altitude, azimuth, _ = (
        eye.at(timescale.from_datetimes(list(times))).observe(seen).apparent().altaz()
    )
    return np.asarray(azimuth.degrees), np.asarray(altitude.degrees)


def moon_limb_deg(
    times: Sequence[dt.datetime], *, lat: float, lon: float, height_m: float
) -> Floats:
    """Altitude without air of the Moon's upper limb, degrees (n,)."""
    from skyfield.api import wgs84

    planets, timescale = _sky()
    eye = planets["earth"] + wgs84.latlon(lat, lon, elevation_m=height_m)
    altitude, _, distance = (
        eye.at(timescale.from_datetimes(list(times))).observe(planets["moon"]).apparent().altaz()
    )
    return np.asarray(altitude.degrees + np.degrees(np.arcsin(MOON_RADIUS_KM / distance.km)))


def seen_altitude_deg(without_air_deg: Floats, height_m: float) -> Floats:
    """Altitude as seen, degrees: Bennett's bending, by repetition."""
    kelvin = 288.15 - 0.0065 * min(height_m, 11_000.0)
    hectopascals = 1013.25 * (kelvin / 288.15) ** 5.2559
    air = hectopascals / 1010.0 * 283.0 / (kelvin - 0.15)
    seen = np.array(without_air_deg, dtype=np.float64)
    for _ in range(30):
        h = np.maximum(seen, -1.69)
        seen = without_air_deg + air / 60.0 / np.tan(np.radians(h + 7.31 / (h + 4.4)))
    return seen


def mirrored(target: Target, time: dt.datetime) -> tuple[float, float]:
    """ICRS place of a fixed target's mirror image in the equator of date, degrees.

    From a place on the same meridian as far south as the other is north, it stands as high
    and on the mirrored azimuth.
    """
    assert target.ra_deg is not None
    assert target.dec_deg is not None
    _, timescale = _sky()
    of_date = timescale.from_datetime(time).M
    ra, dec = math.radians(target.ra_deg), math.radians(target.dec_deg)
    icrs = np.array([math.cos(dec) * math.cos(ra), math.cos(dec) * math.sin(ra), math.sin(dec)])
    x, y, z = of_date.T @ (np.array([1.0, 1.0, -1.0]) * (of_date @ icrs))
    return math.degrees(math.atan2(y, x)) % 360.0, math.degrees(math.asin(z))


@cache
def _sky() -> tuple[Any, Any]:
    from importlib.resources import files

    from skyfield.api import Loader

    # Its own way to the folder warns of Earth orientation tables that are not used here.
    loader = Loader(str(files("skyfield_data") / "data"), verbose=False)
    planets = loader("de421.bsp")
    atexit.register(planets.close)
    return planets, loader.timescale(builtin=True)
