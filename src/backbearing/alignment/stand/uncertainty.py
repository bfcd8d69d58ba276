"""How far a clearance may be off, and what may be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.plan.stand import Verdict


REFRACTION_K_SIGMA = 0.03
"""One standard deviation of k about 0.13; its usual range 0.07 to 0.20 is two of them."""

EYE_HEIGHT_SIGMA_M = 0.1
"""How well a tripod's height is known (common practice, no source)."""

SURE_SIGMAS = 2.0
"""How many standard deviations a clearance must have before it is called either way."""


def clearance_sigma_deg(
    skyline_deg: ArrayLike,
    skyline_distance_m: ArrayLike,
    *,
    vertical_sigma_m: float,
    position_sigma_m: float,
) -> NDArray[np.float64]:
    """One standard deviation of a clearance over terrain, degrees.

    First order, independent parts: ``sqrt(2) sigma_z / s`` for the raster's heights at the
    ridge and at the eye, ``sigma_e / s`` for the eye above its ground, ``sigma_p tan(h) / s``
    for the position, ``sigma_k s / 2R`` for the bending of light, all times ``cos^2 h``.
    The sky's own direction is thousands of times better known.

    Parameters
    ----------
    skyline_deg, skyline_distance_m : array_like
        Altitude and distance of the skyline point, shape ``(n,)``.
    vertical_sigma_m, position_sigma_m : float
        Of a height in the raster, and of the tripod's position.

    Returns
    -------
    ndarray
        Shape ``(n,)``; NaN where there is no skyline point.
    """
    altitude = np.radians(np.asarray(skyline_deg, dtype=np.float64))
    distance = np.asarray(skyline_distance_m, dtype=np.float64)
    distance = np.where(distance > 0.0, distance, np.nan)
    heights = (2.0 * vertical_sigma_m**2 + EYE_HEIGHT_SIGMA_M**2) / distance**2
    place = (position_sigma_m * np.tan(altitude) / distance) ** 2
    bending = (REFRACTION_K_SIGMA * distance / (2.0 * MEAN_EARTH_RADIUS_M)) ** 2
    sigma = np.degrees(np.sqrt(heights + place + bending) * np.cos(altitude) ** 2)
    return np.asarray(sigma, dtype=np.float64)


def verdict(clearance_deg: float, sigma_deg: float) -> Verdict:
    """Grade a clearance: two standard deviations decide it either way."""
    if not (np.isfinite(clearance_deg) and np.isfinite(sigma_deg)):
        return "unknown"
    if clearance_deg > SURE_SIGMAS * sigma_deg:
        return "clears"
    return "hidden" if clearance_deg < -SURE_SIGMAS * sigma_deg else "too close to call"
