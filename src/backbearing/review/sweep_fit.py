"""Fit a star's image that was swept along a straight line, many stars at once.

The model is a round Gaussian of width sigma drawn out evenly over a length L: along the
trail a difference of two error functions, across it a Gaussian. Its length and angle go
into the fit as ``q = L^2 (cos 2a, sin 2a)``, in which a round star is an ordinary point:
noise then scatters q about the truth both ways, while lengths alone would only grow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_LEAST_LENGTH_PX2: Final = 0.01
_STEPS: Final = 25
_ROOT_TWO_PI: Final = math.sqrt(2.0 * math.pi)


@dataclass(frozen=True, slots=True)
class Sweeps:
    """Fitted stars, each array of shape (n,).

    Attributes
    ----------
    x_px, y_px : ndarray
        Middle of the trail from the cut-out's middle, right and down.
    along_px2, aslant_px2 : ndarray
        ``L^2 cos 2a`` and ``L^2 sin 2a``, the angle a anticlockwise from the right in
        the picture as one looks at it.
    sigma_px : ndarray
        Width of the star itself, one standard deviation.
    peak : ndarray
        Largest value of the fitted star over its background.
    misfit : ndarray
        Root mean square of what is left over.
    """

    x_px: Floats
    y_px: Floats
    along_px2: Floats
    aslant_px2: Floats
    sigma_px: Floats
    peak: Floats
    misfit: Floats


def fit_sweeps(cuts: Floats, *, start: Floats) -> Sweeps:
    """Fit a swept Gaussian on a flat background to each cut-out [Marquardt1963]_.

    Parameters
    ----------
    cuts : ndarray, shape (n, side, side)
        Light, rows downward; the side odd.
    start : ndarray, shape (n, 3)
        First guess of ``L^2 cos 2a``, ``L^2 sin 2a`` and sigma, pixels.

    Returns
    -------
    Sweeps
        NaN where no fit was found.
    """
    count, side, _ = cuts.shape
    half = side // 2
    grid = np.mgrid[-half : half + 1, -half : half + 1].astype(np.float64)
    down, right = grid[0].ravel(), grid[1].ravel()
    light = cuts.reshape(count, -1).astype(np.float64)
    values = _first_guess(light, right, down, start)
    values = _descend(light, right, -down, values)
    shape, _ = _model(right, -down, values)
    model = values[:, 5, None] * shape
    left = light - model - values[:, 6, None]
    bad = ~np.isfinite(values).all(axis=1)
    values[bad] = np.nan
    return Sweeps(
        x_px=values[:, 0],
        y_px=-values[:, 1],
        along_px2=values[:, 2],
        aslant_px2=values[:, 3],
        sigma_px=np.exp(values[:, 4]),
        peak=np.where(bad, np.nan, model.max(axis=1)),
        misfit=np.where(bad, np.nan, np.sqrt(np.mean(left**2, axis=1))),
    )


def _first_guess(light: Floats, right: Floats, down: Floats, start: Floats) -> Floats:
    """Place, shape, flux and background to begin with, shape (n, 7)."""
    side = round(math.sqrt(light.shape[1]))
    edge = np.maximum(np.abs(right), np.abs(down)) == side // 2
    background = np.median(light[:, edge], axis=1)
    over = np.maximum(light - background[:, None], 0.0)
    flux = np.maximum(over.sum(axis=1), 1e-12)
    values = np.zeros((len(light), 7))
    values[:, 2:4] = start[:, :2]
    values[:, 4] = np.log(start[:, 2])
    values[:, 5] = flux
    values[:, 6] = background
    return values


def _descend(light: Floats, right: Floats, up: Floats, values: Floats) -> Floats:
    """Levenberg and Marquardt's descent, every star with its own damping."""
    damping = np.full(len(light), 1e-2)
    slopes, cost, pull = _normal(light, right, up, values)
    diagonal = np.arange(7)
    for _ in range(_STEPS):
        lifted = slopes.copy()
        own = np.maximum(slopes[:, diagonal, diagonal], 1e-30)
        lifted[:, diagonal, diagonal] = own * (1.0 + damping[:, None])
        step = _solved(lifted, pull)
        step[:, 4] = np.clip(step[:, 4], -0.7, 0.7)
        step[:, :2] = np.clip(step[:, :2], -3.0, 3.0)
        tried = values + step
        tried[:, 4] = np.clip(tried[:, 4], math.log(0.2), math.log(20.0))
        new_slopes, new_cost, new_pull = _normal(light, right, up, tried)
        better = np.isfinite(new_cost) & (new_cost <= cost)
        gain = np.where(better, (cost - new_cost) / np.maximum(cost, 1e-300), 0.0)
        values = np.where(better[:, None], tried, values)
        slopes = np.where(better[:, None, None], new_slopes, slopes)
        pull = np.where(better[:, None], new_pull, pull)
        cost = np.where(better, new_cost, cost)
        damping = np.clip(np.where(better, damping / 5.0, damping * 4.0), 1e-9, 1e9)
        if np.all((gain < 1e-7) & (better | (damping > 1e4))):
            break
    return values


def _solved(matrices: Floats, sides: Floats) -> Floats:
    """Solve each system; a singular one gets no step."""
    scale = 1.0 / np.sqrt(np.maximum(np.einsum("nii->ni", matrices), 1e-300))
    scaled = matrices * scale[:, :, None] * scale[:, None, :]
    scaled[~np.isfinite(scaled).all(axis=(1, 2))] = np.eye(7)
    scaled += 1e-12 * np.eye(7)
    try:
        step = np.linalg.solve(scaled, (sides * scale)[:, :, None])[:, :, 0]
    except np.linalg.LinAlgError:
        return np.zeros_like(sides)
    return np.asarray(np.nan_to_num(step * scale, nan=0.0, posinf=0.0, neginf=0.0))


def _normal(
    light: Floats, right: Floats, up: Floats, values: Floats
) -> tuple[Floats, Floats, Floats]:
    """Normal matrices (n, 7, 7), sums of squares (n,) and right-hand sides (n, 7)."""
    shape, slopes = _model(right, up, values)
    flux = values[:, 5, None]
    rows = np.concatenate(
        [slopes * flux[:, None], shape[:, None], np.ones_like(shape)[:, None]], axis=1
    )
    left = light - flux * shape - values[:, 6, None]
    matrices = np.einsum("nip,njp->nij", rows, rows)
    return matrices, (left**2).sum(axis=1), np.einsum("nip,np->ni", rows, left)


def _model(right: Floats, up: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Light of unit flux (n, p), and its slopes by x, y, both parts of q and ln sigma."""
    from scipy.special import ndtr

    x, y, q1, q2, width = (values[:, i, None] for i in range(5))
    square = np.maximum(np.hypot(q1, q2), _LEAST_LENGTH_PX2)
    angle = 0.5 * np.arctan2(q2, q1)
    length, sigma = np.sqrt(square), np.exp(width)
    c, s = np.cos(angle), np.sin(angle)
    along, across = c * (right - x) + s * (up - y), c * (up - y) - s * (right - x)
    ahead, behind = (along + length / 2.0) / sigma, (along - length / 2.0) / sigma
    first, last = _bell(ahead), _bell(behind)
    run = (ndtr(ahead) - ndtr(behind)) / length
    ridge = _bell(across / sigma) / sigma
    by_along = (first - last) / (sigma * length) * ridge
    by_across = -across / sigma**2 * ridge * run
    by_length = ((first + last) / (2.0 * sigma) - run) / length * ridge
    by_angle = by_along * across - by_across * along
    by_width = (behind * last - ahead * first) / length * ridge
    by_width = by_width + run * ridge * ((across / sigma) ** 2 - 1.0)
    c2, s2 = np.cos(2.0 * angle), np.sin(2.0 * angle)
    by_square, by_turn = by_length / (2.0 * length), by_angle / (2.0 * square)
    slopes = [
        s * by_across - c * by_along,
        -s * by_along - c * by_across,
        c2 * by_square - s2 * by_turn,
        s2 * by_square + c2 * by_turn,
        by_width,
    ]
    return run * ridge, np.stack(slopes, axis=1)


def _bell(value: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * value * value) / _ROOT_TWO_PI)
