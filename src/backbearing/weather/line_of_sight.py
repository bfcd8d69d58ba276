"""Where a slanted line of sight passes a height above the sea, on a round Earth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def distance_to_height_m(
    altitude_deg: ArrayLike, eye_m: ArrayLike, height_m: float
) -> NDArray[np.float64]:
    """How far over the ground a straight line of sight first reaches a height, metres.

    In the triangle of eye, Earth's centre and that place the angle at the centre is
    ``arccos(R0 cos(a) / R1) - a``. Bending by the air is left out: at 6 degrees and 9 km up it
    moves the place by less than a kilometre of 75.

    Parameters
    ----------
    altitude_deg, eye_m : array_like
        Of the line, and of the eye above the sea.
    height_m : float
        Above the sea.

    Returns
    -------
    ndarray
        NaN for lines at or below the horizontal, and for eyes that stand higher already.
    """
    altitude = np.radians(np.asarray(altitude_deg, dtype=np.float64))
    eye = np.asarray(eye_m, dtype=np.float64)
    near, far = MEAN_EARTH_RADIUS_M + eye, MEAN_EARTH_RADIUS_M + height_m
    with np.errstate(invalid="ignore"):
        turn = np.arccos(np.minimum(near * np.cos(altitude) / far, 1.0)) - altitude
        reaches = (altitude > 0.0) & (eye < height_m)
    return np.where(reaches, MEAN_EARTH_RADIUS_M * turn, np.nan)
