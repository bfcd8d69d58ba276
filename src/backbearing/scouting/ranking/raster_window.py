"""A window of the raster about some candidates, and where they stand in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.geodesy import point_along
from backbearing.base.tile_order import place_on_curve
from backbearing.terrain.surface import heights_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.stand.solve import GroundAlong
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

HELD_CELLS: Final = 4096 * 4096
"""Rasters up to so many cells are held whole; of larger ones a window is read."""

TILE: Final = 1024
"""Cells along the side of the fixed squares by which windows of larger rasters are read, so
that a candidate's window does not depend on the others that are scouted with it."""

PROBE_M: Final = 100.0
"""Rows and columns for a metre east and north are taken over so much."""


@dataclass(frozen=True)
class RasterWindow:
    """Heights, and for n candidates rows and columns within them.

    Attributes
    ----------
    heights_m : ndarray, shape (rows, cols)
    origin : ndarray, shape (n, 2)
        Fractional rows and columns of the candidates; NaN off the raster.
    steps : ndarray, shape (n, 4)
        Rows and columns for a metre to the east, then to the north.
    row0, col0 : int
        Where the window starts in the raster.
    cell_m : float
        Size of a cell, metres.
    steps_m : tuple of float
        Metres from row to row and from column to column at the raster's middle.
    """

    heights_m: Any
    origin: Floats
    steps: Floats
    row0: int
    col0: int
    cell_m: float
    steps_m: tuple[float, float]

    @classmethod
    def about(
        cls, elevation: Elevation, *, lat: Floats, lon: Floats, reach_m: float
    ) -> RasterWindow:
        """Give the whole raster where it is small, else one tile and what lies within reach.

        The places are those of one group of `tiles_of`.
        """
        grid = elevation.grid
        origin, steps = _origin_and_steps(elevation, lat, lon)
        rows, cols = grid.shape
        if rows * cols <= HELD_CELLS:
            heights, row0, col0 = elevation.heights_m, 0, 0
        else:
            tile = np.floor(np.nan_to_num(origin[0]) / TILE)
            spare = np.ceil(1.5 * reach_m / min(grid.steps_m)) + 4.0
            low = np.clip(tile * TILE - spare, 0, [rows - 2, cols - 2]).astype(int)
            high = np.clip((tile + 1) * TILE + spare, low + 2, [rows, cols]).astype(int)
            row0, col0 = low.tolist()
            heights = elevation.window_m(slice(row0, high[0]), slice(col0, high[1]))
            origin = origin - low
        heights = np.ascontiguousarray(heights)
        return cls(heights, origin, steps, row0, col0, elevation.cell_size_m, grid.steps_m)

    def heights_at(self, row: Floats, col: Floats) -> Floats:
        """Heights at fractional rows and columns of the window, metres; NaN where unknown."""
        return heights_in(self.heights_m, row, col)

    def along(self, candidate: Ints, back_deg: Floats) -> GroundAlong:
        """Give the ground along bearings from candidates, both of shape (k,)."""
        turn = np.radians(back_deg)
        row, col, run_row, run_col = self._lines(candidate, np.sin(turn), np.cos(turn))

        def heights(which: Ints, distance_m: Floats) -> Floats:
            return self.heights_at(
                row[which] + distance_m * run_row[which], col[which] + distance_m * run_col[which]
            )

        return heights

    def ground_and_slope(
        self, candidate: Ints, back_deg: Floats, distance_m: Floats
    ) -> tuple[Floats, Floats]:
        """Heights, and slopes over one cell in degrees, at places about candidates, (k,)."""
        turn, half = np.radians(back_deg), self.cell_m / 2.0
        row, col, run_row, run_col = self._lines(candidate, np.sin(turn), np.cos(turn))
        row, col = row + distance_m * run_row, col + distance_m * run_col
        east_row, east_col, north_row, north_col = half * self.steps.T[:, candidate]
        up = self.heights_at(row + north_row, col + north_col)
        down = self.heights_at(row - north_row, col - north_col)
        right = self.heights_at(row + east_row, col + east_col)
        left = self.heights_at(row - east_row, col - east_col)
        rise = np.hypot(up - down, right - left) / (2.0 * half)
        return self.heights_at(row, col), np.degrees(np.arctan(rise))

    def _lines(
        self, candidate: Ints, east: Floats, north: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Rows and columns of candidates, and those for a metre each its own way, (k,)."""
        row, col = self.origin.T[:, candidate]
        east_row, east_col, north_row, north_col = self.steps.T[:, candidate]
        return row, col, east * east_row + north * north_row, east * east_col + north * north_col


def _origin_and_steps(elevation: Elevation, lat: Floats, lon: Floats) -> tuple[Floats, Floats]:
    at = elevation.grid.pixels(lat=lat, lon=lon)
    steps = []
    for azimuth in (90.0, 0.0):
        ends = []
        for way in (azimuth, azimuth + 180.0):
            end = point_along(lat=lat, lon=lon, azimuth_deg=way, distance_m=PROBE_M)
            ends.append(elevation.grid.pixels(lat=end.lat, lon=end.lon))
        steps += [(a - b) / (2.0 * PROBE_M) for a, b in zip(*ends, strict=True)]
    return np.stack([at.row, at.col], axis=1), np.stack(steps, axis=1)


def tiles_of(elevation: Elevation, *, lat: Floats, lon: Floats) -> list[NDArray[np.intp]]:
    """Split places into groups that one window can serve, in a fixed order.

    Groups that follow one another lie side by side, so that they find the same ground at hand.
    """
    rows, cols = elevation.grid.shape
    if rows * cols <= HELD_CELLS:
        return [np.arange(len(lat))]
    at = elevation.grid.pixels(lat=lat, lon=lon)
    down, across = (np.floor(np.nan_to_num(v) / TILE) for v in at)
    edge = 1e6
    tile = place_on_curve(np.clip(down, -edge, edge), np.clip(across, -edge, edge))
    order = np.argsort(tile, kind="stable")
    starts = np.flatnonzero(np.diff(tile[order], prepend=-1))
    return np.split(order, starts[1:]) if len(order) else []
