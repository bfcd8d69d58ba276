"""Adjoining tiles read as one raster, without a seam and without inventing ground."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.terrain.grid import EDGE_SNAP, Grid, shifted
from backbearing.terrain.reading.files import DRIVERS, FileSource, ReadingOptions, open_file
from backbearing.terrain.reading.sources import WATER_LEVEL_M

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Pixels
    from backbearing.terrain.reading.sources import Heights

MOST_TILES = 5_000
"""Files beyond which a folder is taken for the wrong one."""

OFF_GRID = 0.01
"""How far, in cells, a tile may lie off the common grid."""


@dataclass(frozen=True)
class Tile:
    """A file and the row and column of the whole at which it starts."""

    source: FileSource
    row0: int
    col0: int

    @property
    def rows(self) -> range:
        """Rows of the whole that the tile holds."""
        return range(self.row0, self.row0 + self.source.grid.shape[0])

    @property
    def cols(self) -> range:
        """Columns of the whole that the tile holds."""
        return range(self.col0, self.col0 + self.source.grid.shape[1])


@dataclass(frozen=True)
class MosaicSource:
    """Several tiles on one grid; the first known height counts where tiles overlap."""

    grid: Grid
    tiles: tuple[Tile, ...] = field(repr=False)
    name: str
    options: ReadingOptions = field(repr=False)

    @property
    def tags(self) -> Mapping[str, str]:
        """Tags of all tiles; the first tile's word counts."""
        merged: dict[str, str] = {}
        for tile in reversed(self.tiles):
            merged.update(tile.source.tags)
        return merged

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def read(self, rows: slice, cols: slice) -> Heights:
        """Read a window across tiles, in metres."""
        shape = (rows.stop - rows.start, cols.stop - cols.start)
        heights = np.full(shape, np.nan, dtype=np.float32)
        absent = np.ones(shape, dtype=np.bool_)
        for tile in self.tiles:
            r0, r1 = max(rows.start, tile.rows.start), min(rows.stop, tile.rows.stop)
            c0, c1 = max(cols.start, tile.cols.start), min(cols.stop, tile.cols.stop)
            if r0 >= r1 or c0 >= c1:
                continue
            part = tile.source.read(
                slice(r0 - tile.row0, r1 - tile.row0), slice(c0 - tile.col0, c1 - tile.col0)
            )
            here = np.s_[r0 - rows.start : r1 - rows.start, c0 - cols.start : c1 - cols.start]
            absent[here] = False
            heights[here] = np.where(np.isnan(heights[here]), part, heights[here])
        if self.options.missing_tile_is_sea:
            heights[absent] = WATER_LEVEL_M
        return heights

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell which pixels some tile holds."""
        shape = np.shape(pixels.row)
        if self.options.missing_tile_is_sea:
            return np.ones(shape, dtype=np.bool_)
        found = np.zeros(shape, dtype=np.bool_)
        for tile in self.tiles:
            found |= (
                (pixels.row >= tile.rows.start - EDGE_SNAP)
                & (pixels.row <= tile.rows.stop - 1 + EDGE_SNAP)
                & (pixels.col >= tile.cols.start - EDGE_SNAP)
                & (pixels.col <= tile.cols.stop - 1 + EDGE_SNAP)
            )
        return found


def files_in(folder: Path, *, allow_vrt: bool) -> list[Path]:
    """List the elevation files of a folder, in order of name.

    Raises
    ------
    TerrainError
        When there is none, or far too many.
    """
    suffixes = {s for s, driver in DRIVERS.items() if driver != "VRT" or allow_vrt}
    found = sorted(p for p in folder.iterdir() if p.suffix.lower() in suffixes and p.is_file())
    if not found:
        raise TerrainError(
            f"{folder} holds no elevation file; files ending in "
            f"{', '.join(sorted(suffixes))} are read.",
            path=str(folder),
        )
    if len(found) > MOST_TILES:
        raise TerrainError(
            f"{folder} holds {len(found):,} elevation files",
            hint="name the few around the subject",
            path=str(folder),
        )
    return found


def open_tiles(paths: Sequence[Path], options: ReadingOptions, name: str) -> MosaicSource:
    """Open tiles as one raster; reads no heights.

    Raises
    ------
    TerrainError
        When the tiles differ in CRS, cell size or alignment.
    """
    sources = [open_file(path, options) for path in paths]
    first = sources[0]
    offsets = _unwrap([_offset(first, other) for other in sources], first)
    top, left = min(r for r, _ in offsets), min(c for _, c in offsets)
    tiles = tuple(
        Tile(source, row - top, col - left)
        for source, (row, col) in zip(sources, offsets, strict=True)
    )
    shape = (max(t.rows.stop for t in tiles), max(t.cols.stop for t in tiles))
    transform = shifted(first.grid.transform, rows=top, cols=left)
    grid = replace(first.grid, shape=shape, transform=transform)
    return MosaicSource(grid, tiles, name, options)


def _offset(first: FileSource, other: FileSource) -> tuple[int, int]:
    """Rows and columns from the first tile's corner to the other's."""
    one, two = first.grid, other.grid
    if not one.crs.equals(two.crs, ignore_axis_order=True):
        raise TerrainError(
            f"{first.path} is in {one.crs.name} and {other.path} in {two.crs.name}",
            hint="warp all tiles to one reference system",
            path=str(other.path),
        )
    a, b, _, d, e, _ = tuple(one.transform)[:6]
    same = np.allclose(
        (a, b, d, e), np.array(tuple(two.transform))[[0, 1, 3, 4]], rtol=1e-6, atol=1e-12
    )
    if not same:
        raise TerrainError(
            f"{first.path} and {other.path} differ in cell size",
            hint="resample all tiles to one",
            path=str(other.path),
        )
    x, y = two.transform.c - one.transform.c, two.transform.f - one.transform.f
    turn = a * e - b * d
    col, row = (e * x - b * y) / turn, (a * y - d * x) / turn
    if abs(col - round(col)) > OFF_GRID or abs(row - round(row)) > OFF_GRID:
        raise TerrainError(
            f"{other.path} lies {abs(col - round(col)):.2f} columns and "
            f"{abs(row - round(row)):.2f} rows off the grid of {first.path}",
            hint="resample it",
            path=str(other.path),
        )
    return round(row), round(col)


def _unwrap(offsets: list[tuple[int, int]], first: FileSource) -> list[tuple[int, int]]:
    """Lay tiles east of the antimeridian beside those west of it: close the widest gap."""
    if not first.grid.crs.is_geographic or first.grid.transform.b:
        return offsets
    around = round(360.0 / abs(first.grid.transform.a))
    cols = sorted({col % around for _, col in offsets})
    gaps = np.diff([*cols, cols[0] + around])
    start = cols[(int(np.argmax(gaps)) + 1) % len(cols)]
    shifted = [(row, (col - start) % around) for row, col in offsets]
    base = offsets[0][1] - shifted[0][1]
    return [(row, col + base) for row, col in shifted]
