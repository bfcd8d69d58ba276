"""Cover from rasters: heights of a canopy, or a surface model beside the bare ground.

Both may have a reference system and a cell size of their own; they are brought to the ground's
cells window by window, so that no more is in memory than a window of the ground asks for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.numbers import num
from backbearing.terrain.cover.kinds import TALLEST_TREE_M
from backbearing.terrain.reading.files import FileSource, ReadingOptions, open_file, opened
from backbearing.terrain.reading.sources import USUAL_VOIDS

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Singles = NDArray[np.float32]

NOISE_BELOW_M: Final = -5.0
"""Heights of trees a little below nought are noise; lower ones are no heights of trees."""

MOST_SUBCELLS: Final = 8
"""Along each side of a ground's cell a surface model is looked at in so many places at most."""

CELLS_AT_ONCE: Final = 8_000_000
"""Cells of a finer grid that are in memory at once."""


def open_cover(path: Path, key: str) -> FileSource:
    """Open a raster of ``[ground] canopy`` or ``surface``; reads no heights.

    Raises
    ------
    TerrainError
        For a file that is missing, no GeoTIFF, or without a place.
    """
    if path.suffix.lower() not in (".tif", ".tiff"):
        raise TerrainError(
            f"[ground] {key} names {path.name}, which is no GeoTIFF",
            hint="give a .tif of heights in metres",
            path=str(path),
        )
    try:
        return open_file(path, ReadingOptions())
    except TerrainError as problem:
        raise TerrainError(
            f"[ground] {key}: {problem.what}", hint=problem.hint_parts, path=str(path)
        ) from problem


@dataclass(frozen=True)
class CanopyRaster:
    """How high trees stand over the ground."""

    file: FileSource

    def over(self, grid: Grid, rows: slice, cols: slice) -> Singles:
        """Highest of all canopy cells that touch each of the ground's, metres; NaN unknown.

        Raises
        ------
        TerrainError
            When the file cannot be read there, or holds heights that no tree has.
        """
        highest = _brought(self.file, grid, (rows, cols), 1, "max")
        low = float(np.fmin.reduce(highest, axis=None, initial=np.inf))
        high = float(np.fmax.reduce(highest, axis=None, initial=-np.inf))
        if high > TALLEST_TREE_M or low < NOISE_BELOW_M:
            odd = high if high > TALLEST_TREE_M else low
            raise TerrainError(
                f"{self.file.name} holds a height of {num(odd)} m, which no tree has",
                hint="declare the number that marks unknown ground as the file's nodata, or name a "
                "surface model as [ground] surface",
                height_m=odd,
            )
        return np.maximum(highest, np.float32(0.0))


@dataclass(frozen=True)
class SurfaceRaster:
    """Heights above sea level of whatever is uppermost, from the same level as the ground's."""

    file: FileSource

    def over(self, grid: Grid, rows: slice, cols: slice, ground: GroundWindow) -> Singles:
        """How high the surface stands over the ground, metres; NaN unknown.

        A finer surface is compared with the ground at up to 8 by 8 places of each cell, for on a
        slope the highest surface of a cell is not above the ground at its middle. The highest of
        them counts.
        """
        fine = _subcells(grid, self.file.grid)
        out = np.full((rows.stop - rows.start, cols.stop - cols.start), np.nan, dtype=np.float32)
        strip = max(1, CELLS_AT_ONCE // max(out.shape[1] * fine * fine, 1))
        for first in range(0, out.shape[0], strip):
            own = slice(first, min(first + strip, out.shape[0]))
            some = slice(rows.start + own.start, rows.start + own.stop)
            surface = _brought(self.file, grid, (some, cols), fine, "surface")
            above = surface - ground.at(some, cols, fine)
            out[own] = _highest_of(above, fine)
        return np.fmax(out, np.where(np.isnan(out), np.float32(np.nan), np.float32(0.0)))


@dataclass(frozen=True)
class GroundWindow:
    """A window of the bare ground with one cell more about it, to look between its cells."""

    heights_m: NDArray[np.floating]
    row0: int
    col0: int

    def at(self, rows: slice, cols: slice, fine: int) -> NDArray[np.float64]:
        """Heights at the middles of so many parts of each cell, bilinear."""
        row = _middles(rows, fine) - self.row0
        col = _middles(cols, fine) - self.col0
        high, wide = self.heights_m.shape
        i = np.clip(np.floor(row).astype(np.int64), 0, max(high - 2, 0))
        j = np.clip(np.floor(col).astype(np.int64), 0, max(wide - 2, 0))
        # Beyond the outermost pixel centres the outermost heights go on.
        u, v = np.clip(row - i, 0.0, 1.0)[:, None], np.clip(col - j, 0.0, 1.0)[None, :]
        k, m = np.minimum(i + 1, high - 1), np.minimum(j + 1, wide - 1)
        z = self.heights_m.astype(np.float64)
        upper = z[np.ix_(i, j)] * (1.0 - v) + z[np.ix_(i, m)] * v
        lower = z[np.ix_(k, j)] * (1.0 - v) + z[np.ix_(k, m)] * v
        return np.asarray(upper * (1.0 - u) + lower * u)


def _middles(span: slice, fine: int) -> NDArray[np.float64]:
    """Middles of the parts of cells, counted from the centre of the first cell of all."""
    count = (span.stop - span.start) * fine
    return np.asarray(span.start - 0.5 + (np.arange(count) + 0.5) / fine)


def _highest_of(above: NDArray[np.float64], fine: int) -> Singles:
    rows, cols = (n // fine for n in above.shape)
    parts = above.reshape(rows, fine, cols, fine)
    highest = np.fmax.reduce(np.fmax.reduce(parts, axis=3), axis=1)
    return np.asarray(highest, dtype=np.float32)


def _subcells(grid: Grid, finer: Grid) -> int:
    ratio = grid.cell_size_m / finer.cell_size_m
    return int(np.clip(math.ceil(ratio - 0.25), 1, MOST_SUBCELLS))


def _brought(
    file: FileSource, grid: Grid, window: tuple[slice, slice], fine: int, how: str
) -> Singles:
    """A raster's heights in metres on (parts of) a window of the ground's cells."""
    import rasterio
    from affine import Affine
    from rasterio.crs import CRS
    from rasterio.enums import Resampling
    from rasterio.warp import reproject

    rows, cols = window
    shape = ((rows.stop - rows.start) * fine, (cols.stop - cols.start) * fine)
    out = np.full(shape, np.nan, dtype=np.float32)
    place = grid.transform @ Affine.translation(cols.start, rows.start) @ Affine.scale(1.0 / fine)
    if how == "surface":
        smaller = file.grid.cell_size_m < 0.75 * grid.cell_size_m / fine
        resampling = Resampling.average if smaller else Resampling.bilinear
    else:
        resampling = Resampling.max
    with opened(file.path, file.driver) as data:
        reproject(
            rasterio.band(data, file.band),
            out,
            src_nodata=_void_of(file, data),
            dst_transform=place,
            dst_crs=CRS.from_wkt(grid.crs.to_wkt()),
            dst_nodata=np.nan,
            resampling=resampling,
            warp_mem_limit=64,
        )
    for mark in USUAL_VOIDS:
        out[out == np.float32(mark)] = np.nan
    if file.scale != 1.0 or file.offset != 0.0 or file.metres_per_unit != 1.0:
        out = (out * file.scale + file.offset).astype(np.float32) * np.float32(file.metres_per_unit)
    return out


def _void_of(file: FileSource, data: object) -> float | None:
    """The file's own mark of unknown ground; NaN for numbers with a point and none declared."""
    if file.nodata is not None:
        return file.nodata
    kind = np.dtype(data.dtypes[file.band - 1]).kind  # type: ignore[attr-defined]
    return math.nan if kind == "f" else None
