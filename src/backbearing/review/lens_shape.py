"""How far a lens itself draws its stars out, away from the middle or around it.

A trail, a shake and a wrong shutter leave a smear that is the same all over, or the prediction's
own; coma and astigmatism grow from the middle outwards and turn with the place. The stars of one
frame tell them apart where there are enough of them outside.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Complex = NDArray[np.complex128]

FEWEST: Final = 20
FEWEST_OUTSIDE: Final = 8
OUTSIDE: Final = 0.5
"""Of the way from the middle to the corner: stars beyond it tell of the lens."""

LEAST_PX: Final = 1.0
"""At the corner; what is less is within what any lens does, and left where it is."""

SURE_SIGMA: Final = 4.0


class LensShape(NamedTuple):
    """What the lens draws stars out by at the corner, pixels.

    ``radial_px`` is as long as a trail would be: above zero away from the middle, below zero
    around it; it grows with the square of the way from the middle. ``sigma_px`` is its standard
    error, ``along_px2`` the part of each star's ``L^2 exp(2 i a)``; zeros where none shows.
    """

    radial_px: float
    sigma_px: float
    along_px2: Complex


def lens_shape(
    x: Floats, y: Floats, beyond: Complex, predicted: Complex, *, width_px: int, height_px: int
) -> LensShape:
    """Find the part of the stars' smear that turns about the middle of the frame.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Places, fractions of the frame from its left and bottom edge.
    beyond : ndarray of complex, shape (n,)
        Measured less predicted ``L^2 exp(2 i a)``, pixels squared.
    predicted : ndarray of complex, shape (n,)
        Of the prediction, whose factor (a shutter open longer) is settled along with it.
    width_px, height_px : int

    Returns
    -------
    LensShape
        NaN where too few stars stand outside.
    """
    none = np.zeros(len(x), dtype=np.complex128)
    right, up = (x - 0.5) * width_px, (y - 0.5) * height_px
    far = np.hypot(right, up) / (math.hypot(width_px, height_px) / 2.0)
    if len(x) < FEWEST or (far > OUTSIDE).sum() < FEWEST_OUTSIDE:
        return LensShape(math.nan, math.nan, none)
    outwards = np.asarray(far**4 * np.exp(2j * np.arctan2(up, right)), dtype=np.complex128)
    found, sigma = _settled(beyond, outwards, predicted)
    size = math.sqrt(abs(found))
    # Of a root: half of it where it stands well above its error, the root of that elsewhere.
    error = sigma / (2.0 * size) if size * size > sigma else math.sqrt(sigma)
    if abs(found) < SURE_SIGMA * sigma or size < LEAST_PX:
        return LensShape(0.0, error, none)
    return LensShape(math.copysign(size, found), error, np.asarray(found * outwards))


def _settled(beyond: Complex, outwards: Complex, predicted: Complex) -> tuple[float, float]:
    """Least squares of a smear all over, a factor and the part outwards, outliers weighed down."""
    one = np.ones(len(beyond))
    none = np.zeros(len(beyond))
    columns = [one + 0j, 1j * one, outwards]
    if np.abs(predicted).max(initial=0.0) > 0.25:
        columns.append(predicted)
    model = np.concatenate(
        [np.stack([c.real for c in columns], 1), np.stack([c.imag for c in columns], 1)]
    )
    data = np.concatenate([beyond.real, beyond.imag])
    weight = np.concatenate([one, one])
    scatter, inverse, settled = 1.0, np.eye(len(columns)), none
    for _ in range(8):
        inverse = np.linalg.pinv(model.T @ (weight[:, None] * model))
        settled = inverse @ (model.T @ (weight * data))
        left = data - model @ settled
        apart = np.hypot(left[: len(one)], left[len(one) :])
        scatter = max(float(np.median(apart)) / 1.1774, 1e-3)
        kept = np.clip(1.0 - (apart / (5.0 * scatter)) ** 2, 0.0, 1.0) ** 2
        weight = np.concatenate([kept, kept])
    return float(settled[2]), scatter * math.sqrt(max(float(inverse[2, 2]), 0.0))
