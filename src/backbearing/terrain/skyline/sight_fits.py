"""Sight lines from any eye near a place: fits that lie on a fixed net over the raster.

The polynomials that ``rays`` fits around one eye change smoothly with the eye. Within a
tile of some tens of kilometres they are interpolated between nine eyes, quadratically down
and across, and checked at two more to a centimetre. A tile whose check fails is cut in
four. Tiles belong to the raster, not to the question, so that an eye always gets the same
lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.terrain.skyline.rays import (
    DEGREES,
    FIT_TOLERANCE_M,
    Rays,
    coefficients_of,
    directions_of,
    farthest_m,
    lines_along,
    misplaced,
    shifts_around,
    trace_rays,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.grid import Grid, Pixels

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

TILE_M: Final = 32_000.0
"""Side of the largest tiles, metres."""

MOST_CUTS: Final = 6
"""How often a tile is cut in four before its eyes are fitted one by one."""

LEAST_REACH_M: Final = 100_000.0 / 2**7
"""Lines reach so far, or twice, four times ... as far: the least that serves a ray."""

EYES: Final = np.array(
    [(u, v) for u in (-1.0, 0.0, 1.0) for v in (-1.0, 0.0, 1.0)] + [(0.58, 0.58), (0.58, -0.58)]
)
"""Nine eyes of a tile and two for checking, where the interpolation is worst; (11, 2)."""


@dataclass(frozen=True)
class SightTile:
    """Sight lines from every eye in one part of the raster.

    Attributes
    ----------
    middle, half : tuple of float
        Row and column of the tile's middle, and half its rows and columns.
    reach_m : float
        Distance over which the polynomials hold.
    degree : int
        Their degree.
    table : ndarray, shape (9, 2, terms)
        Coefficients for row and column at the nine eyes.
    """

    middle: tuple[float, float]
    half: tuple[float, float]
    reach_m: float
    degree: int
    table: Floats

    def rays(self, eye: tuple[float, float], azimuths: Floats) -> Rays:
        """Trace rays from one eye (row, column), azimuths in radians."""
        weights = eye_weights(*((eye[k] - self.middle[k]) / self.half[k] for k in (0, 1)))
        coefficients = np.tensordot(weights, self.table, 1)
        return lines_along(coefficients, self.degree, azimuths, eye, self.reach_m)

    def lines(self, row: Floats, col: Floats, azimuths: Floats) -> Floats:
        """Trace one ray from each of n eyes; polynomials of shape (2, n, degree + 1)."""
        weights = eye_weights(
            (row - self.middle[0]) / self.half[0], (col - self.middle[1]) / self.half[1]
        )
        coefficients = np.einsum("nm,mct->cnt", weights, self.table)
        turn = directions_of(azimuths, self.degree).T
        lines = np.empty((2, len(row), self.degree + 1))
        lines[0, :, 0], lines[1, :, 0] = row, col
        first = 0
        for k in range(1, self.degree + 1):
            of_order = slice(first, first + k + 1)
            lines[:, :, k] = (coefficients[:, :, of_order] * turn[:, of_order]).sum(axis=2)
            first += k + 1
        return lines


def eye_weights(u: ArrayLike, v: ArrayLike) -> Floats:
    """Weights of the nine eyes at places in a tile, -1 to 1 each way; shape (..., 9)."""
    down, across = (
        np.stack([x * (x - 1.0) / 2.0, 1.0 - x * x, x * (x + 1.0) / 2.0], axis=-1)
        for x in (np.asarray(u, dtype=np.float64), np.asarray(v, dtype=np.float64))
    )
    weights: Floats = down[..., :, None] * across[..., None, :]
    return weights.reshape(*weights.shape[:-2], 9)


class SightFits:
    """The tiles of one raster, fitted when first needed and kept."""

    def __init__(self, grid: Grid) -> None:
        self._grid = grid
        self._tiles: dict[tuple[int, int, int, int], SightTile | None] = {}

    def tile(self, row: float, col: float, reach_m: float) -> SightTile | None:
        """Give the tile of an eye, for rays of such a reach; None where it must stand alone."""
        grade = int(_grades(np.array([reach_m]))[0])
        for cuts in range(MOST_CUTS + 1):
            down, across = self._sides(cuts)
            found = self._at((cuts, int(row // down), int(col // across), grade))
            if found is not None:
                return found
        return None

    def tiles(
        self, row: Floats, col: Floats, reach_m: Floats
    ) -> list[tuple[SightTile | None, Ints]]:
        """Sort eyes by their tiles; those that must stand alone come last, with None."""
        grade = _grades(reach_m)
        waiting = np.arange(len(row))
        done: list[tuple[SightTile | None, Ints]] = []
        for cuts in range(MOST_CUTS + 1):
            down, across = self._sides(cuts)
            places = (row[waiting] // down).astype(np.int64), (col[waiting] // across).astype(int)
            left = []
            for key, which in _alike(*places, grade[waiting]):
                found = self._at((cuts, *key))
                if found is None:
                    left.append(waiting[which])
                else:
                    done.append((found, waiting[which]))
            if not left:
                return done
            waiting = np.sort(np.concatenate(left))
        return [*done, (None, waiting)]

    def _at(self, key: tuple[int, int, int, int]) -> SightTile | None:
        if key not in self._tiles:
            self._tiles[key] = self._fitted(*key)
        return self._tiles[key]

    def _sides(self, cuts: int) -> tuple[float, float]:
        """Rows and columns of a tile that was cut so often."""
        down, across = (max(1.0, np.ceil(TILE_M / step)) / 2.0**cuts for step in self._grid.steps_m)
        return float(down), float(across)

    def _fitted(self, cuts: int, down: int, across: int, grade: int) -> SightTile | None:
        middle, half = [], []
        for place, side, count in zip(
            (down, across), self._sides(cuts), self._grid.shape, strict=True
        ):
            first = min(place * side, count - 2.0)
            last = min(first + side, count - 1.0)
            middle.append((first + last) / 2.0)
            half.append((last - first) / 2.0)
        rows, cols = (m + h * e for m, h, e in zip(middle, half, EYES.T, strict=True))
        eyes = self._grid.places(row=rows, col=cols)
        if not np.isfinite(eyes.lat + eyes.lon).all():
            return None
        far = (
            farthest_m(self._grid, lat=float(a), lon=float(o)) for a, o in zip(*eyes, strict=True)
        )
        reach = min(LEAST_REACH_M * 2.0**grade, max(far))
        least_step = min(self._grid.steps_m)
        for degree in DEGREES:
            shifts = shifts_around(self._grid, eyes, reach, degree)
            if shifts is None:
                return None
            table = coefficients_of(shifts[:9], degree)
            if misplaced(table, shifts[:9], degree) * least_step > FIT_TOLERANCE_M:
                continue
            between = np.tensordot(eye_weights(*EYES.T), table, 1)
            if misplaced(between, shifts, degree) * least_step > 2.0 * FIT_TOLERANCE_M:
                return None
            return SightTile((middle[0], middle[1]), (half[0], half[1]), reach, degree, table)
        return None


def _grades(reach_m: Floats) -> Ints:
    """How often the least reach must be doubled to serve each ray; exact, without a logarithm."""
    mantissa, exponent = np.frexp(reach_m / LEAST_REACH_M)
    grades: Ints = np.maximum(exponent - (mantissa == 0.5), 0).astype(np.int64)
    return grades


def _alike(*keys: Ints) -> Iterator[tuple[tuple[int, int, int], Ints]]:
    """Give each combination of three keys that occurs, and where it does."""
    first, second, third = keys
    one = (first * (second.max(initial=0) + 1) + second) * (third.max(initial=0) + 1) + third
    order = np.argsort(one, kind="stable")
    starts = np.flatnonzero(np.diff(one[order], prepend=-1))
    for which in np.split(order, starts[1:]):
        if which.size:
            k = which[0]
            yield (int(first[k]), int(second[k]), int(third[k])), which


class Lines(NamedTuple):
    """Sight lines as polynomials, one to a ray; see :class:`.ray_bundle.Bundle`."""

    rows: Floats
    cols: Floats
    reaches_m: Floats


def trace_each_ray(
    grid: Grid, fits: SightFits, eyes: Pixels, each: dict[str, Floats], *, compiled: bool
) -> Lines:
    """Trace every ray from its eye's tile or, where it has none, by itself.

    ``each`` holds lat, lon, azimuths_deg and max_distance_m of the rays.
    """
    tiles = fits.tiles(eyes.row, eyes.col, each["max_distance_m"])
    width = max(DEGREES[-1] if tile is None else tile.degree for tile, _ in tiles) + 1
    lines = np.zeros((2, len(eyes.row), width))
    reaches = np.empty(len(eyes.row))
    azimuths = np.radians(each["azimuths_deg"])
    for tile, which in tiles:
        if tile is None:
            for n in which:
                reaches[n], alone = _alone(grid, {name: float(v[n]) for name, v in each.items()})
                lines[:, n, : alone.shape[1]] = alone
            continue
        reaches[which] = tile.reach_m
        if compiled:
            _trace_compiled(tile, eyes, azimuths, which, lines)
        else:
            found = tile.lines(eyes.row[which], eyes.col[which], azimuths[which])
            lines[:, which, : tile.degree + 1] = found
    return Lines(lines[0], lines[1], reaches)


def _alone(grid: Grid, ray: dict[str, float]) -> tuple[float, Floats]:
    lat, lon = ray["lat"], ray["lon"]
    reach = min(ray["max_distance_m"], farthest_m(grid, lat=lat, lon=lon))
    azimuth = np.array([ray["azimuths_deg"]])
    rays = trace_rays(grid, lat=lat, lon=lon, azimuths_deg=azimuth, reach_m=reach)
    return reach, np.concatenate([rays.rows, rays.cols])


def _trace_compiled(
    tile: SightTile, eyes: Pixels, azimuths: Floats, which: Ints, lines: Floats
) -> None:
    from backbearing.terrain.skyline._sight_kernels import trace_each

    trace_each(
        tile.table, tile.degree, tile.middle, tile.half,
        which, eyes.row, eyes.col, azimuths, lines[0], lines[1],
    )  # fmt: skip
