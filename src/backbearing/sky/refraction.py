"""Astronomical refraction: one convention, continuous below the horizontal.

Bennett's formula gives the bending from the *apparent* altitude [Bennett1982]_, scaled
by pressure and temperature. It rises down to an apparent altitude of ``-4.4 + sqrt(7.31)``
(about -1.70) degrees, where its own derivative vanishes; below that the bending is held
at the value reached there (0.95 degree in the reference air). The curve is therefore
continuous, smooth and monotone everywhere: a target seen downward from a height, or
still under the skyline, has an altitude that moves without a jump. Below the horizontal
no formula is certain (the light passes through air that nobody measured): read it as a
convention, good to a few arcminutes at 0 degrees and to some tenths of a degree at -2.
The camera's dip is not added here; the ground's altitudes carry it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

REFERENCE_PRESSURE_HPA = 1010.0
REFERENCE_TEMPERATURE_C = 10.0
TURNING_ALTITUDE_DEG = -4.4 + np.sqrt(7.31)
"""Apparent altitude under which the bending is held constant, degrees."""

_TROPOPAUSE_M = 11_000.0


def standard_atmosphere(height_m: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Pressure (hPa) and temperature (degrees C) at a height, metres [USSA1976]_.

    The troposphere's law, valid to 11 km; heights beyond are taken as 11 km.
    """
    h = np.minimum(np.asarray(height_m, dtype=np.float64), _TROPOPAUSE_M)
    temperature_k = 288.15 - 0.0065 * h
    pressure = 1013.25 * (temperature_k / 288.15) ** 5.255876
    return np.asarray(pressure), np.asarray(temperature_k - 273.15)


def air_factor(pressure_hpa: ArrayLike, temperature_c: ArrayLike) -> NDArray[np.float64]:
    """Scale of the bending against the reference air, ``(P/1010)(283/(273+T))`` [Meeus1998]_."""
    p = np.asarray(pressure_hpa, dtype=np.float64)
    t = np.asarray(temperature_c, dtype=np.float64)
    factor: NDArray[np.float64] = (p / REFERENCE_PRESSURE_HPA) * (283.0 / (273.0 + t))
    return factor


def bending_deg(apparent_altitude_deg: ArrayLike, factor: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Bending of light, degrees, at an apparent altitude ([Meeus1998]_ eq. 16.3, held below).

    Parameters
    ----------
    apparent_altitude_deg : array
        What the camera sees, degrees.
    factor : array
        From `air_factor`; 1 at 1010 hPa and 10 degrees C.
    """
    h = np.maximum(np.asarray(apparent_altitude_deg, dtype=np.float64), TURNING_ALTITUDE_DEG)
    bent: NDArray[np.float64] = np.asarray(factor) / 60.0 / np.tan(np.radians(h + 7.31 / (h + 4.4)))
    return bent


def true_altitude_deg(
    apparent_altitude_deg: ArrayLike, factor: ArrayLike = 1.0
) -> NDArray[np.float64]:
    """Altitude without air, degrees, of what is seen at an apparent altitude."""
    h = np.asarray(apparent_altitude_deg, dtype=np.float64)
    return np.asarray(h - bending_deg(h, factor))


def apparent_altitude_deg(true_altitude: ArrayLike, factor: ArrayLike = 1.0) -> NDArray[np.float64]:
    """Altitude as seen, degrees: `true_altitude_deg` inverted by Newton's rule.

    The slope lies between 1 and 1.3 for any air on Earth, so the steps converge from
    everywhere; the round trip closes to 1e-9 degree.
    """
    true, scale = np.broadcast_arrays(
        np.asarray(true_altitude, dtype=np.float64), np.asarray(factor, dtype=np.float64)
    )
    seen = true + bending_deg(true, scale)
    for _ in range(12):
        h = np.maximum(seen, TURNING_ALTITUDE_DEG)
        argument = np.radians(h + 7.31 / (h + 4.4))
        tangent = np.tan(argument)
        bent = scale / 60.0 / tangent
        slope = scale / 60.0 * np.radians(1.0 - 7.31 / (h + 4.4) ** 2) * (1.0 + 1.0 / tangent**2)
        step = (seen - bent - true) / (1.0 + slope)
        seen = seen - step
        if not np.any(np.abs(step) > 1e-11):
            break
    return np.asarray(seen)
