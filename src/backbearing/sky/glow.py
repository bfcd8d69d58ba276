"""Twilight glow at the target, by the Sun's depth: how much of the night is left.

The formula is the twilight term of Schaefer's program [Schaefer1998]_. At the zenith, with the
Sun 6 to 15 degrees down, it lies within 0.7 magnitude of the fit to measurements at Paranal
[Patat2006]_; volcanic haze or a bright layer of cloud can move a twilight by a magnitude. It says
when glow fades, not what a meter will read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import angle_between_deg
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array
from backbearing.sky.moonlight import (
    DARK_ZENITH_MAG,
    EXTINCTION_MAG,
    LOWEST_SKY_DEG,
    brightening_mag,
    dark_sky_nl,
)
from backbearing.sky.targets import SUN

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

    Floats = NDArray[np.float64]

SIGMA_MAG: Final = 0.7
"""How far the formula may be off, magnitudes (see the module)."""

_SHALLOWEST_DEG: Final = -4.0
_SUN_MAG, _ZERO_MAG = -26.74, -11.05
_NANOLAMBERT = 1.11e-15
"""Erg a second, square centimetre, micrometre and square arcsecond in a nanolambert."""


def twilight_nl(
    *,
    sun_altitude_deg: ArrayLike,
    separation_deg: ArrayLike,
    zenith_distance_deg: ArrayLike,
    extinction_mag: float = EXTINCTION_MAG,
) -> Floats:
    """Sky brightness that twilight adds, nanolamberts; NaN with the Sun above -4 degrees.

    ``10^(-0.4 (-26.74 + 11.05 + 32.5 - h - Z / 360 k)) (100 / rho) (1 - 10^(-0.4 k X))``
    [Schaefer1998]_, with the Sun's altitude h, the target's zenith distance Z and distance from
    the Sun rho, degrees, and the program's air mass X, ``1 / (cos Z + 0.025 e^(-11 cos Z))``.
    """
    h = np.asarray(sun_altitude_deg, dtype=np.float64)
    z = np.asarray(zenith_distance_deg, dtype=np.float64)
    rho = np.asarray(separation_deg, dtype=np.float64)
    k = extinction_mag
    power = 10.0 ** (-0.4 * (_SUN_MAG - _ZERO_MAG + 32.5 - h - z / (360.0 * k)))
    up = np.cos(np.radians(np.minimum(z, 90.0)))
    air_mass = 1.0 / (up + 0.025 * np.exp(-11.0 * up))
    glow = power * (100.0 / rho) * (1.0 - 10.0 ** (-0.4 * k * air_mass)) / _NANOLAMBERT
    return np.asarray(np.where(h > _SHALLOWEST_DEG, np.nan, glow))


def twilight_brightening_mag(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    extinction_mag: float = EXTINCTION_MAG,
    dark_zenith_mag: ArrayLike = DARK_ZENITH_MAG,
    low_skyline: bool = False,
) -> Floats:
    """Magnitudes by which twilight brightens the sky at a target; shapes as in `direction`.

    NaN with the Sun above -4 degrees or the target below the horizontal; good to `SIGMA_MAG`.
    With ``low_skyline`` a target below the horizontal, seen over land that lies lower still,
    has the sky of the horizontal.

    Raises
    ------
    SkyError
        A naive time, a date outside the ephemeris, no such place.
    """
    utc = utc_array(times)
    place: dict[str, Any] = {"lat": lat, "lon": lon, "height_m": height_m, "times": utc}
    az, alt = direction(target, **place)
    sun_az, sun_alt = direction(SUN, refraction=False, **place)
    apart = angle_between_deg(lon1_deg=sun_az, lat1_deg=sun_alt, lon2_deg=az, lat2_deg=alt)
    if low_skyline:
        alt = np.maximum(alt, LOWEST_SKY_DEG)
    added = twilight_nl(
        sun_altitude_deg=sun_alt,
        separation_deg=np.maximum(apart, 1.0),
        zenith_distance_deg=90.0 - alt,
        extinction_mag=extinction_mag,
    )
    dark = dark_sky_nl(90.0 - alt, extinction_mag=extinction_mag, zenith_mag=dark_zenith_mag)
    return np.asarray(np.where(alt <= 0.0, np.nan, brightening_mag(added, dark)))
