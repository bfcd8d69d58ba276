"""Ground that may be the true skyline: points of a ray within a few errors of the one found.

Far off the ray is held against the highest pixel of each block of 8 x 8 cells first, so that
only ground that could rise to the skyline by its errors is looked at closely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.terrain.surface import corner_heights

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.height_errors import SightErrors

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

WITHIN_SIGMAS: Final = 3.5
"""Ground lower than this many standard deviations below the skyline found is left out."""

OTHER_SLOPE: Final = 0.2
"""Slope by which the ground elsewhere differs from the eye's, for a start."""

LEAST_SIGMA_M: Final = 1e-3
"""Height error that is always supposed, so that nothing is divided by nought."""

NEAR_CELLS: Final = 24.0
"""As far as this every ray is looked at closely."""

CLOSE_STEP_CELLS: Final = 0.5
FAR_STEP_CELLS: Final = 4.0

SPACING_OF_RANGE: Final = 1.0 / 4.0
"""Rivals stand this share of the errors' short range apart at least: nearer ones err alike."""

LOG_UNTIL: Final = 4.0
"""Spacings from the eye within which rivals stand apart in proportion to their distance."""

ASIDE_SIGMAS: Final = 8.0
"""Ground nearer than this many errors of the eye's place is looked at from about it too."""

MOST: Final = 24
"""Rivals to a ray, the likeliest ones."""


@dataclass(frozen=True)
class Sights:
    """n rays over a raster as polynomials, their eyes, and the skylines found.

    ``rows``, ``cols`` (n, degree + 1) and ``reaches_m`` as in :class:`.ray_bundle.Bundle`;
    ``tangent`` and ``distance_m`` are the skyline's, NaN where there is none.
    """

    rows: Floats
    cols: Floats
    reaches_m: Floats
    starts_m: Floats
    ends_m: Floats
    eyes_m: Floats
    drop_per_m2: float
    steps_m: tuple[float, float]
    tangent: Floats
    distance_m: Floats

    @property
    def cell_m(self) -> Floats:
        """Length of ray to a cell, shape (n,)."""
        return np.asarray(self.reaches_m / np.hypot(self.rows[:, 1], self.cols[:, 1]))

    def pixels(self, ray: Ints, s: Floats) -> tuple[Floats, Floats]:
        """Rows and columns at distances along some rays; one ray number to each distance."""
        t = s / self.reaches_m[ray]
        r, c = np.zeros_like(t), np.zeros_like(t)
        for k in range(self.rows.shape[1] - 1, -1, -1):
            r = r * t + self.rows[ray, k]
            c = c * t + self.cols[ray, k]
        return r, c


class Rivals(NamedTuple):
    """Ground that may be the skyline, flat and in order of rays, then distance.

    ``ray`` tells which ray each stands on; ``tangent`` is its own by the raster, ``highest``
    the same as seen from wherever about the eye's place it stands highest.
    """

    ray: Ints
    distance_m: Floats
    tangent: Floats
    highest: Floats


def find_rivals(
    chunks: Chunks,
    shape: tuple[int, int],
    sights: Sights,
    errors: SightErrors,
    slope: Floats,
    highest_aside: Callable[[Ints, Floats, Floats], Floats],
) -> Rivals:
    """Find the ground of each ray that its errors may raise above the skyline found.

    The skyline point itself is always among them. Rays without a skyline have none.

    Parameters
    ----------
    chunks, shape, sights, errors
        The raster, n rays over it, and what makes them doubtful.
    slope : ndarray, shape (n,)
        The ground's at the eyes, rise over run.
    highest_aside : callable
        Highest tangent of points, given rays, distances and tangents, from about the eye.
    """
    doubt = _OwnSigmas(sights, errors, slope)
    seen = np.flatnonzero(np.isfinite(sights.tangent))
    own = sights.tangent[seen]
    found = [Rivals(seen, sights.distance_m[seen], own, own)]
    near_m = ASIDE_SIGMAS * errors.position_m
    for ray, s in (_close_by(sights), _far_off(chunks, shape, sights, doubt)):
        z = surface_m(chunks, shape, *sights.pixels(ray, s))
        tangent = (z - sights.eyes_m[ray]) / s - sights.drop_per_m2 * s
        highest = tangent.copy()
        near = np.flatnonzero(s < near_m)
        if near.size:
            aside = highest_aside(ray[near], s[near], tangent[near])
            highest[near] = np.fmax(aside, tangent[near])
        with np.errstate(invalid="ignore"):
            may = np.flatnonzero(highest >= doubt.floor(ray, s))
        tangent = np.minimum(tangent[may], sights.tangent[ray[may]])
        some = Rivals(ray[may], s[may], tangent, np.fmax(tangent, highest[may]))
        found.append(_highest_together(some, doubt.spacing_m))
    together = Rivals(*(np.concatenate(column) for column in zip(*found, strict=True)))
    return _likeliest(together, len(seen), doubt)


class _OwnSigmas:
    """Standard deviation of the tangent of ground at a distance, alone, roughly."""

    def __init__(self, sights: Sights, errors: SightErrors, slope: Floats) -> None:
        self._tangent = sights.tangent
        self._aside_m = errors.position_m * (slope + OTHER_SLOPE)
        self._eye_m = max(errors.eye_height_m, LEAST_SIGMA_M)
        self._cell_m = errors.heights.cell_m
        self._scale = errors.heights.difference_scale
        self.spacing_m = SPACING_OF_RANGE * errors.heights.local_range_m
        with np.errstate(invalid="ignore"):
            self._top = self.at(np.arange(len(slope)), np.nan_to_num(sights.distance_m, nan=1.0))

    def at(self, ray: Ints, s: Floats) -> Floats:
        """Of ground at distances along some rays."""
        aside = self._aside_m[ray] * np.minimum(s / self._cell_m, 1.0)
        heights = np.hypot(np.interp(s, *self._scale), self._eye_m)
        return np.asarray(np.hypot(heights, aside) / s)

    def floor(self, ray: Ints, s: Floats) -> Floats:
        """Tangent below which ground at a distance is no rival."""
        sigma = np.hypot(self.at(ray, s), self._top[ray])
        return np.asarray(self._tangent[ray] - WITHIN_SIGMAS * sigma)


def _close_by(sights: Sights) -> tuple[Ints, Floats]:
    """Rays and distances near the eyes, where all ground is looked at, in order of both."""
    near = np.arange(CLOSE_STEP_CELLS, NEAR_CELLS, CLOSE_STEP_CELLS)
    # Half a cell is already far from a low eye on a slope: halve the way down to a 16th.
    steps = np.concatenate([0.5 / 2.0 ** np.arange(3.0, 0.0, -1.0), near])
    close = sights.starts_m[:, None] + steps * sights.cell_m[:, None]
    seen = np.isfinite(sights.tangent)[:, None]
    ray, k = np.nonzero(seen & (close <= sights.ends_m[:, None]))
    return ray, close[ray, k]


def _far_off(
    chunks: Chunks, shape: tuple[int, int], sights: Sights, doubt: _OwnSigmas
) -> tuple[Ints, Floats]:
    """Rays and distances farther off, about what blocks of cells promise, in order of both."""
    far_ray, far = _promising(chunks, shape, sights, doubt)
    offsets = np.arange(0.5 * CLOSE_STEP_CELLS, FAR_STEP_CELLS, CLOSE_STEP_CELLS)
    fine = far[:, None] + (offsets - 0.5 * FAR_STEP_CELLS) * sights.cell_m[far_ray, None]
    ray = np.broadcast_to(far_ray[:, None], fine.shape)
    within = fine <= sights.ends_m[ray]
    return ray[within], fine[within]


def _promising(
    chunks: Chunks, shape: tuple[int, int], sights: Sights, doubt: _OwnSigmas
) -> tuple[Ints, Floats]:
    """Far places whose block of cells holds ground high enough; rays and distances."""
    cell = sights.cell_m
    first = sights.starts_m + (NEAR_CELLS + 0.5 * FAR_STEP_CELLS) * cell
    count = np.where(
        np.isfinite(sights.tangent), (sights.ends_m - first) / (FAR_STEP_CELLS * cell) + 1.0, 0.0
    )
    count = np.maximum(count, 0.0).astype(np.int64)
    ray = np.repeat(np.arange(len(count)), count)
    number = np.arange(len(ray)) - np.repeat(np.cumsum(count) - count, count)
    s = first[ray] + number * (FAR_STEP_CELLS * cell)[ray]
    row, col = sights.pixels(ray, s)
    inside = (row >= 0) & (row <= shape[0] - 1) & (col >= 0) & (col <= shape[1] - 1)
    ray, s, row, col = ray[inside], s[inside], row[inside], col[inside]
    high = block_tops(chunks, shape, row, col)
    half = 0.5 * FAR_STEP_CELLS * cell[ray]
    rise = high - sights.eyes_m[ray]
    top = rise / np.where(rise >= 0.0, s - half, s + half) - sights.drop_per_m2 * (s - half)
    good = top >= doubt.floor(ray, s - half)
    return ray[good], s[good]


def block_tops(chunks: Chunks, shape: tuple[int, int], row: Floats, col: Floats) -> Floats:
    """Highest pixel of the block of 8 x 8 cells that holds each place; inf with voids."""
    i = np.minimum(row.astype(np.int64), shape[0] - 2)
    j = np.minimum(col.astype(np.int64), shape[1] - 2)
    return chunks.tops_of_cells(i, j).astype(np.float64)


def surface_m(chunks: Chunks, shape: tuple[int, int], row: Floats, col: Floats) -> Floats:
    """Height of the bilinear surface at places; NaN off the raster and beside voids."""
    i = np.clip(row.astype(np.int64), 0, shape[0] - 2)
    j = np.clip(col.astype(np.int64), 0, shape[1] - 2)
    u, v = row - i, col - j
    z = corner_heights(chunks, i, j)
    north, south = z[0] + (z[1] - z[0]) * v, z[2] + (z[3] - z[2]) * v
    off = (np.abs(u - 0.5) > 0.501) | (np.abs(v - 0.5) > 0.501)
    return np.where(off, np.nan, north + (south - north) * u)


def _highest_together(rivals: Rivals, spacing_m: float) -> Rivals:
    """Keep the highest of those that stand together; given and left in order."""
    apart = rivals.distance_m / spacing_m
    nearby = LOG_UNTIL * (1.0 + np.log(np.minimum(apart / LOG_UNTIL, 1.0)))
    place = np.floor(np.where(apart < LOG_UNTIL, nearby, apart))
    new = (np.diff(place, prepend=-np.inf) != 0.0) | (np.diff(rivals.ray, prepend=-1) != 0)
    starts = np.flatnonzero(new)
    if not starts.size:
        return rivals
    group = np.cumsum(new) - 1
    best = np.flatnonzero(rivals.highest == np.maximum.reduceat(rivals.highest, starts)[group])
    best = best[np.diff(group[best], prepend=-1) != 0]
    return Rivals(*(column[best] for column in rivals))


def _likeliest(rivals: Rivals, sure: int, doubt: _OwnSigmas) -> Rivals:
    """Keep those of each ray that matter most; the first ``sure`` whatever they are."""
    ray, s, tangent, highest = rivals
    own = doubt.at(ray, s)
    below = np.maximum(tangent[:sure][np.searchsorted(ray[:sure], ray)] - highest, 0.0) / own
    # About the logarithm of what it adds to the skyline on average, alone beside the one found.
    score = np.log(own) - 0.5 * below**2 - np.log(1.0 + below**2)
    score[:sure] = np.inf
    best = np.lexsort((-score, ray))
    starts = np.flatnonzero(np.diff(ray[best], prepend=-1))
    rank = np.arange(len(best)) - np.repeat(starts, np.diff(starts, append=len(best)))
    best = best[rank < MOST]
    best = best[np.lexsort((s[best], ray[best]))]
    return Rivals(ray[best], s[best], tangent[best], highest[best])
