"""Whether a skyline could still change: what higher ground beyond it would have to be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.geodesy import MEAN_EARTH_RADIUS_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def drop_per_m2(refraction_k: float) -> float:
    """``(1 - k) / 2R``: curvature less refraction [Ghilani2012]_, per metre."""
    return (1.0 - refraction_k) / (2.0 * MEAN_EARTH_RADIUS_M)


def tangents_of(altitudes_deg: Floats) -> Floats:
    """Tangents of altitudes in degrees; -inf where there is no skyline."""
    tangent = np.tan(np.radians(altitudes_deg))
    return np.where(np.isnan(tangent), -np.inf, tangent)


def spoiling_span(tangent: Floats, rise_m: Floats, drop: float) -> tuple[Floats, Floats]:
    """Distances between which ground rising so far over the eye would top each skyline.

    Parameters
    ----------
    tangent : ndarray, shape (n,)
        Tangents of the skylines; -inf where there is none.
    rise_m : ndarray, shape (n,)
        Height of the ground above the eye, metres.
    drop : float
        As :func:`drop_per_m2` gives it.

    Returns
    -------
    tuple of ndarray, shape (n,)
        Nearest and farthest distance, metres: NaN and -1 where no such ground could.
    """
    with np.errstate(invalid="ignore"):
        root = np.sqrt(tangent * tangent + 4.0 * drop * rise_m)
        near, far = ((-tangent + sign * root) / (2.0 * drop) for sign in (-1.0, 1.0))
    none = np.isneginf(tangent)
    never = np.isnan(root) & ~none
    near = np.where(none, 0.0, np.where(never, np.nan, np.maximum(near, 0.0)))
    far = np.where(none, np.inf, np.where(never, -1.0, far))
    return near, far
