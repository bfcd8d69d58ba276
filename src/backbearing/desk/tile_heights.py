"""Heights under a map tile: averaged where cells are small, softly drawn out where they are large.

Tiles are sampled on a lattice of whole pixels of some zoom, the same for all tiles of that zoom and
with a rim about each, so that what is drawn from it meets at the tiles' edges. Zoomed out, a pixel
takes the mean of the cells that it covers. Zoomed in beyond the raster's cell the surface between
the lattice's nodes is a cubic B-spline: smooth, never above its highest node nor below its lowest,
and within a part of a cell's height difference of the raster.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.drawing.mercator import MercatorGrid, blurred, lat_of
from backbearing.terrain.surface import heights_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

TILE_PX: Final = 256
RIM: Final = 20
"""Nodes beyond a tile's edge: as far as the broadest shading looks."""

KNOTS: Final = 33
"""Places to a side that are taken to the raster exactly; straight between them."""

SOFTER_CELLS: Final = 0.6
"""Standard deviation of the softening, in cells, before a large cell is drawn out."""


@dataclass(frozen=True, eq=False)
class TileHeights:
    """The lattice under one tile.

    Attributes
    ----------
    grid : MercatorGrid
        Its nodes' heights, metres; NaN where the ground is unknown or open water.
    water : ndarray of bool
        Which nodes lie on open water.
    step_px : int
        Pixels of the tile from node to node, a power of two.
    cell_nodes : float
        Nodes to a cell of the raster, 1 at the least.
    left, top : float
        The tile's corner, counted in nodes from the centre of the first.
    window_m : ndarray
        The raster's own cells about the tile, NaN where unknown.
    row0, col0 : int
        Where that window begins.
    block : int
        Cells to a side whose mean a node was taken from.
    """

    grid: MercatorGrid
    water: NDArray[np.bool_]
    step_px: int
    cell_nodes: float
    left: float
    top: float
    window_m: Floats
    row0: int
    col0: int
    block: int

    def drawn_out(self, values: NDArray[Any], *, rim_px: int = 0) -> NDArray[np.float32]:
        """Give values of the nodes for each pixel of the tile and a rim about it.

        Parameters
        ----------
        values : ndarray, shape (rows, cols) or (rows, cols, n)
            Without NaN.
        rim_px : int
        """
        found = np.asarray(values, np.float32)
        for axis, corner in enumerate((self.top, self.left)):
            first, parts = _taps(corner, self.step_px, rim_px)
            if len(parts) == 1:
                found = found[first] if axis == 0 else found[:, first]
                continue
            shape = (
                (-1, *(1,) * (found.ndim - 1)) if axis == 0 else (1, -1, *(1,) * (found.ndim - 2))
            )
            drawn = np.float32(0.0) * found.take(first, axis=axis)
            for k, part in enumerate(parts):
                drawn += found.take(first + k, axis=axis) * part.reshape(shape)
            found = drawn
        return np.asarray(found, np.float32)

    def surface_m(self, *, rim_px: int) -> NDArray[np.float32]:
        """The softened surface at each pixel of the tile and a rim; NaN where unknown."""
        soft = blurred(self.grid.heights_m.astype(np.float32), SOFTER_CELLS * self.cell_nodes)
        known = np.isfinite(self.grid.heights_m)
        if known.all():
            return self.drawn_out(soft, rim_px=rim_px)
        weight = self.drawn_out(known.astype(np.float32), rim_px=rim_px)
        total = self.drawn_out(np.where(known, soft, np.float32(0.0)), rim_px=rim_px)
        whole = weight > 0.5
        return np.where(whole, total / np.where(whole, weight, 1.0), np.nan).astype(np.float32)


def heights_under(elevation: Elevation, zoom: int, column: int, row: int) -> TileHeights:
    """Sample the raster under a tile of a zoom."""
    half = math.pi * WEB_MERCATOR_RADIUS_M
    pixel_m = 2.0 * half / (TILE_PX << zoom)
    middle_lat = float(lat_of(half - (row + 0.5) * TILE_PX * pixel_m))
    cell_px = elevation.cell_size_m / (pixel_m * math.cos(math.radians(middle_lat)))
    step_px = 1 << max(0, round(math.log2(cell_px)))
    first_x, last_x = _nodes(column, step_px)
    first_y, last_y = _nodes(row, step_px)
    step_m = step_px * pixel_m
    west, north = -half + first_x * step_m, half - first_y * step_m
    at_row, at_col = _on_raster(
        elevation, west, north, step_m, (last_y - first_y, last_x - first_x)
    )
    block = 1 << max(0, round(math.log2(max(1.0 / cell_px, 1.0))))
    window, row0, col0 = _window(elevation, at_row, at_col, block)
    heights, water = _sampled(window, (at_row - row0, at_col - col0), block)
    return TileHeights(
        MercatorGrid(heights, west, north, step_m),
        water,
        step_px,
        max(cell_px / step_px, 1.0),
        column * TILE_PX / step_px - first_x - 0.5,
        row * TILE_PX / step_px - first_y - 0.5,
        np.where(_is_water(window), np.nan, window),
        row0,
        col0,
        block,
    )


def _nodes(tile: int, step_px: int) -> tuple[int, int]:
    """First and past the last node, counted over the whole world, for a tile with its rim."""
    first = math.floor(tile * TILE_PX / step_px) - RIM
    return first, math.ceil((tile + 1) * TILE_PX / step_px) + RIM


def _on_raster(
    elevation: Elevation, west: float, north: float, step_m: float, shape: tuple[int, int]
) -> tuple[Floats, Floats]:
    """Fractional rows and columns of the raster under each node."""
    knots = [np.linspace(0.0, n - 1.0, KNOTS) for n in shape]
    lat = lat_of(north - (knots[0] + 0.5) * step_m)
    lon = wrap_180_deg(np.degrees((west + (knots[1] + 0.5) * step_m) / WEB_MERCATOR_RADIUS_M))
    exact = elevation.grid.pixels(lat=lat[:, None], lon=np.asarray(lon)[None, :])
    down, across = (_between(n) for n in shape)
    return down @ exact.row @ across.T, down @ exact.col @ across.T


@lru_cache(64)
def _between(count: int) -> Floats:
    """Weights of the knots for each of so many nodes, straight between."""
    at = np.arange(count) * (KNOTS - 1) / max(count - 1, 1)
    return np.maximum(0.0, 1.0 - np.abs(at[:, None] - np.arange(KNOTS)[None, :]))


def _window(
    elevation: Elevation, at_row: Floats, at_col: Floats, block: int
) -> tuple[Floats, int, int]:
    """The cells under the nodes, whole blocks of them where the raster has them."""
    bounds = []
    for at, count in zip((at_row, at_col), elevation.shape, strict=True):
        known = at[np.isfinite(at)]
        low, high = (known.min(), known.max()) if known.size else (0.0, 0.0)
        first = min(max(0, math.floor(low / block) - 1) * block, max(count - 2, 0))
        last = max(min(count, (math.floor(high / block) + 3) * block), first + 2)
        bounds.append(slice(first, min(last, max(count, first + 2))))
    rows, cols = bounds
    window = np.asarray(elevation.window_m(rows, cols), np.float64)
    return window, int(rows.start), int(cols.start)


def _sampled(
    window: Floats, at: tuple[Floats, Floats], block: int
) -> tuple[Floats, NDArray[np.bool_]]:
    """Heights and open water at the nodes, of cells or of the means of blocks of cells."""
    water = _is_water(window)
    cells = np.where(water, np.nan, window)
    if block > 1:
        cells = _means(cells, block)
        water = _means(water.astype(np.float64), block) > 0.5
        at = ((at[0] + 0.5) / block - 0.5, (at[1] + 0.5) / block - 0.5)
    rows, cols = cells.shape
    if rows < 2 or cols < 2:
        cells, water = (np.pad(v, ((0, 2 - min(rows, 2)), (0, 2 - min(cols, 2))), "edge")
                        for v in (cells, water))  # fmt: skip
        rows, cols = cells.shape
    if not water.any():
        straight = _upright(cells, at)
        if straight is not None:
            return straight, np.zeros(straight.shape, np.bool_)
    inside = np.isfinite(at[0]) & np.isfinite(at[1])
    row, col = np.where(inside, at[0], -9.0), np.where(inside, at[1], -9.0)
    heights = heights_in(np.ascontiguousarray(cells), row, col)
    i = np.clip(np.nan_to_num(np.rint(row)), 0, rows - 1).astype(np.intp)
    j = np.clip(np.nan_to_num(np.rint(col)), 0, cols - 1).astype(np.intp)
    within = (row > -0.5) & (row < rows - 0.5) & (col > -0.5) & (col < cols - 0.5)
    return heights, water[i, j] & within & ~np.isfinite(heights)


def _upright(cells: Floats, at: tuple[Floats, Floats]) -> Floats | None:
    """Heights where rows and columns of nodes follow the raster's, and all of it is known.

    The same as `heights_in`, one side after the other; None where that cannot be.
    """
    row, col = at[0][:, 0], at[1][0]
    askew = max(float(np.ptp(at[0], axis=1).max()), float(np.ptp(at[1], axis=0).max()))
    if not (askew < 1e-6 and np.isfinite(cells).all()):
        return None
    (i, u), (j, v) = (
        _cell_and_share(one, n) for one, n in zip((row, col), cells.shape, strict=True)
    )
    lines = cells[i] * (1.0 - u)[:, None] + cells[i + 1] * u[:, None]
    return np.asarray(lines[:, j] * (1.0 - v) + lines[:, j + 1] * v)


def _cell_and_share(at: Floats, count: int) -> tuple[NDArray[np.intp], Floats]:
    """The cell that each place lies in and how far across; NaN for what lies outside."""
    inside = (at >= 0.0) & (at <= count - 1)
    cell = np.clip(np.where(inside, at, 0.0).astype(np.intp), 0, count - 2)
    return cell, np.where(inside, at - cell, np.nan)


def _is_water(cells: Floats) -> NDArray[np.bool_]:
    return np.asarray((cells == 0.0) & np.signbit(cells))


def _means(cells: Floats, block: int) -> Floats:
    """Mean of the known cells of each block; unknown where under half of it is known."""
    rows, cols = (-(-n // block) for n in cells.shape)
    spare = ((0, rows * block - cells.shape[0]), (0, cols * block - cells.shape[1]))
    padded = np.pad(cells, spare, constant_values=np.nan) if spare != ((0, 0), (0, 0)) else cells
    parted = padded.reshape(rows, block, cols, block)
    known = np.isfinite(parted)
    if known.all():
        return np.asarray(parted.mean(axis=(1, 3)))
    count = known.sum(axis=(1, 3))
    total = np.where(known, parted, 0.0).sum(axis=(1, 3))
    return np.where(2 * count >= block * block, total / np.maximum(count, 1), np.nan)


@lru_cache(256)
def _taps(
    corner: float, step_px: int, rim_px: int
) -> tuple[NDArray[np.intp], tuple[NDArray[np.float32], ...]]:
    """First node and weights of it and its next for each pixel along a side of a tile.

    Uniform cubic B-splines [DeBoor1978]_; at one pixel a node there is nothing to draw out.
    """
    pixels = np.arange(-rim_px, TILE_PX + rim_px)
    at = corner + (pixels + 0.5) / step_px
    if step_px == 1:
        return np.rint(at).astype(np.intp), (np.ones(len(pixels), np.float32),)
    first = np.floor(at).astype(np.intp)
    t = at - first
    parts = (
        (1.0 - t) ** 3,
        3.0 * t**3 - 6.0 * t**2 + 4.0,
        -3.0 * t**3 + 3.0 * t**2 + 3.0 * t + 1.0,
        t**3,
    )
    return first - 1, tuple((part / 6.0).astype(np.float32) for part in parts)
