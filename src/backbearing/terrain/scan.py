"""The skyline over a whole raster at once, on one bearing."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.errors import TerrainError
from backbearing.geodesy import DEFAULT_REFRACTION_K, MEAN_EARTH_RADIUS_M, point_along

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Grid

NEAR_ROWS: Final = 12
"""Rows about each eye whose ground is solved exactly; farther ground is in the hulls."""

THREADS: Final = 2


@dataclass(frozen=True)
class _Turned:
    """The raster turned so that the bearing runs down its rows, and its lines over it.

    ``slope`` (rows - 1,) is columns a row, ``step_m`` (rows - 1,) metres a row, ``shift``
    (rows,) the columns a line has moved, ``x_m`` (rows,) how far along it is.
    """

    heights_m: NDArray[np.float64]
    slope: NDArray[np.float64]
    step_m: NDArray[np.float64]
    shift: NDArray[np.float64]
    x_m: NDArray[np.float64]
    swap: bool
    flip: bool

    def back(self, values: NDArray[np.float32]) -> NDArray[np.float32]:
        """Turn a result back to the raster's own rows and columns."""
        values = values[::-1] if self.flip else values
        return np.ascontiguousarray(values.T if self.swap else values)


def horizon_map(
    elevation: Elevation,
    azimuth_deg: float,
    *,
    eye_height_m: float = 1.6,
    refraction_k: float = DEFAULT_REFRACTION_K,
    max_distance_m: float | None = None,
) -> NDArray[np.float32]:
    """Find the skyline's altitude on one true bearing from every cell, degrees.

    Ground within `NEAR_ROWS` rows of an eye is solved exactly on the bilinear surface.
    Farther ground stands in upper hulls along scan lines, read every half row; an eye
    between two lines takes the tangents of both, weighted. Lines keep the bearing's own
    direction on the grid at the middle of each row; a geodesic leaves them sideways by
    ``s^2 tan(lat) sin(azimuth) / 2R``, 50 m at 30 km and 36 degrees north.

    Parameters
    ----------
    elevation : Elevation
        The raster; read whole.
    azimuth_deg : float
        True bearing, clockwise from north.
    eye_height_m : float
        Height of the eye above each cell's ground, metres.
    refraction_k : float
        Terrestrial refraction coefficient.
    max_distance_m : float, optional
        Look no farther; to the raster's edge when None.

    Returns
    -------
    ndarray
        Shape ``(rows, cols)``, float32. The skyline of the raster's own ground: what lies
        beyond its edge is not known. NaN on voids, where a void ahead could hide more
        than what was found (ground as high as the raster's highest is supposed in it),
        and where no ground is known ahead.

    Raises
    ------
    TerrainError
        For an azimuth or height that is not finite, or a reach that is not positive.
    """
    _check(azimuth_deg, eye_height_m, refraction_k, max_distance_m)
    heights = np.asarray(elevation.heights_m)
    if min(heights.shape) < 2 or not np.isfinite(heights).any():
        return np.full(heights.shape, np.nan, dtype=np.float32)
    turned = _turn(elevation.grid, heights, azimuth_deg % 360.0)
    far = _far(turned, eye_height_m, refraction_k, max_distance_m or np.inf)
    near = _near(turned, eye_height_m, refraction_k, max_distance_m or np.inf)
    tangent = np.fmax(near, far)
    tangent[np.isposinf(tangent)] = np.nan
    return turned.back(np.degrees(np.arctan(tangent)).astype(np.float32))


def _check(azimuth: float, eye: float, k: float, reach: float | None) -> None:
    for name, value in (("azimuth_deg", azimuth), ("eye_height_m", eye), ("refraction_k", k)):
        if not np.isfinite(value):
            raise TerrainError(f"{name} is {value}; write a finite number.", key=name)
    if reach is not None and not reach > 0.0:
        raise TerrainError(
            f"max_distance_m is {reach}; write metres above 0, or leave it out.",
            key="max_distance_m",
        )


def _turn(grid: Grid, heights: NDArray[Any], azimuth_deg: float) -> _Turned:
    rows, cols = heights.shape
    down, across = _direction(grid, (rows - 1) / 2.0, (cols - 1) / 2.0, azimuth_deg)
    swap = bool(abs(across) > abs(down))
    z = heights.T if swap else heights
    flip = bool((across if swap else down) < 0.0)
    z = np.ascontiguousarray(z[::-1] if flip else z, dtype=np.float64)
    n = len(z)
    middle = np.arange(n - 1) + 0.5
    own = (n - 1) - middle if flip else middle
    other = np.full(n - 1, (z.shape[1] - 1) / 2.0)
    place = (other, own) if swap else (own, other)
    down_a, across_a = _direction(grid, place[0], place[1], azimuth_deg)
    ahead, aside = (across_a, down_a) if swap else (down_a, across_a)
    ahead = -ahead if flip else ahead
    slope, step = aside / ahead, 1.0 / ahead
    return _Turned(
        z, slope, step,
        np.concatenate([[0.0], np.cumsum(slope)]), np.concatenate([[0.0], np.cumsum(step)]),
        swap, flip,
    )  # fmt: skip


def _direction(grid: Grid, row: Any, col: Any, azimuth_deg: float) -> tuple[Any, Any]:
    """Rows and columns a metre on a true bearing at places of the grid."""
    here = grid.places(row=row, col=col)
    length = float(min(grid.steps_m))
    ends = [
        point_along(lat=here.lat, lon=here.lon, azimuth_deg=azimuth_deg + turn, distance_m=length)
        for turn in (0.0, 180.0)
    ]
    one, two = (grid.pixels(lat=end.lat, lon=end.lon) for end in ends)
    return (one.row - two.row) / (2.0 * length), (one.col - two.col) / (2.0 * length)


def _far(turned: _Turned, eye_m: float, k: float, reach_m: float) -> NDArray[np.float64]:
    from backbearing.terrain._scan_kernels import scan_line

    z, shift = turned.heights_m, turned.shift
    left, right = (np.full(z.shape, np.nan) for _ in range(2))
    lines = np.arange(int(np.floor(-shift.max())) - 1, z.shape[1] + int(np.ceil(-shift.min())) + 1)
    c = (1.0 - k) / (2.0 * MEAN_EARTH_RADIUS_M)
    highest = float(np.nanmax(z))

    def scan(part: NDArray[np.int64]) -> None:
        for line in part.tolist():
            scan_line(
                z, shift, turned.x_m, line, NEAR_ROWS, reach_m, eye_m, c, highest, left, right
            )

    _in_threads(scan, lines)
    share = (shift - np.floor(shift))[:, None]
    both = (1.0 - share) * left + share * right
    return np.where(np.isnan(left) | (share == 0.0), np.where(share == 0.0, left, right),
                    np.where(np.isnan(right), left, both))  # fmt: skip


def _near(turned: _Turned, eye_m: float, k: float, reach_m: float) -> NDArray[np.float64]:
    from backbearing.terrain._scan_kernels import near_ground

    z = turned.heights_m
    out = np.full(z.shape, np.nan)
    c = (1.0 - k) / (2.0 * MEAN_EARTH_RADIUS_M)
    highest = float(np.nanmax(z))

    def solve(part: NDArray[np.int64]) -> None:
        for row in part.tolist():
            near_ground(
                z, turned.slope, turned.step_m, row, NEAR_ROWS, reach_m, eye_m, c, highest, out
            )

    _in_threads(solve, np.arange(len(z)))
    return out


def _in_threads(work: Any, items: NDArray[np.int64]) -> None:
    """Share items among threads; the compiled kernels let go of Python's lock."""
    work(items[:1])  # the first call compiles, once
    with ThreadPoolExecutor(THREADS) as pool:
        for done in [pool.submit(work, part) for part in np.array_split(items[1:], 8 * THREADS)]:
            done.result()
