"""Whether a file is the tile that it should be: a raster, in place, of its shape, whole.

A server may answer with a page of words, a picture, a list of other files or half a tile. Nothing
is kept before it has been opened with the one driver of its suffix, found where its name says, and
unpacked to its last block.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.datum_shift import is_wgs84
from backbearing.base.errors import FetchError, TerrainError
from backbearing.base.numbers import num
from backbearing.fetching.tile_scheme import Corner
from backbearing.terrain.reading.files import ReadingOptions, open_file
from backbearing.terrain.reading.sources import extremes

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.source import TileSource
    from backbearing.terrain.grid import Grid
    from backbearing.terrain.reading.files import FileSource

OFF_PLACE: Final = 0.02
"""How far, in pixels, a tile may lie from where its scheme puts it."""

ROWS_AT_ONCE: Final = 512

TALLEST_TREE_M: Final = 120.0
"""No tree known is as high, metres (the tallest stands at some 116 m; from memory)."""


def check_tile(path: Path, source: TileSource, corner: Corner, *, said: str = "") -> None:
    """Check that a file is a source's tile.

    Parameters
    ----------
    path : Path
        Its suffix names the driver that may open it.
    source, corner
        What it should be.
    said : str, optional
        What to call the file in a refusal.

    Raises
    ------
    FetchError
        In what it differs.
    """
    named = said or path.name
    file = _opened(path, named)
    rows, cols = file.grid.shape
    most = source.scheme.most_cells(corner)
    # A scheme of posts has an edge more on two sides.
    if (rows - 1) * (cols - 1) > most:
        raise FetchError(
            f"{named} claims {rows:,} x {cols:,} cells, more than the {most:,} of such a tile",
            hint="it was not kept",
        )
    found = corner_of(file.grid, source)
    if found != corner:
        where = "no tile of this product" if found is None else f"the tile {found.name}"
        raise FetchError(
            f"{named} holds {where} and not {corner.name}: {_lies(file.grid)}",
            hint="it was not kept",
        )
    _check_whole(file, source, named)


def _opened(path: Path, named: str) -> FileSource:
    try:
        return open_file(path, ReadingOptions())
    except TerrainError as problem:
        said = str(problem).replace(str(path), named).rstrip(".")
        raise FetchError(f"{said}; it was not kept") from problem


def corner_of(grid: Grid, source: TileSource) -> Corner | None:
    """Find which tile of a source lies as a raster does; None when none.

    The horizontal reference must be WGS 84 in degrees, rows from north, columns from west.
    """
    lies_straight = not (grid.transform.b or grid.transform.d)
    if not (grid.crs.is_geographic and is_wgs84(grid.crs) and lies_straight):
        return None
    rows, cols = grid.shape
    step_lon, step_lat = grid.transform.a, -grid.transform.e
    if step_lon <= 0.0 or step_lat <= 0.0:
        return None
    west, north = grid.transform.c, grid.transform.f
    corner = Corner(round(north - rows * step_lat), (round(west) + 180) % 360 - 180)
    layout = source.scheme.layout(corner)
    if layout is not None:
        fits = (rows, cols) == (layout.rows, layout.cols)
        off = max(
            abs(_turned(west - layout.west)) / step_lon,
            abs(north - layout.north) / step_lat,
            abs(step_lon / layout.lon_step - 1.0) * cols,
            abs(step_lat / layout.lat_step - 1.0) * rows,
        )
        return corner if fits and off <= OFF_PLACE else None
    spare, degrees = int(source.scheme.shared_edge), source.scheme.degrees
    square = (
        corner == tuple(one // degrees * degrees for one in corner)
        and math.isclose((cols - spare) * step_lon, degrees, rel_tol=1e-6)
        and math.isclose((rows - spare) * step_lat, degrees, rel_tol=1e-6)
        and abs(_turned(west - corner.lon)) <= step_lon * (0.5 + OFF_PLACE)
        and abs(north - corner.lat - degrees) <= step_lat * (0.5 + OFF_PLACE)
    )
    return corner if square else None


def _turned(degrees: float) -> float:
    return (degrees + 180.0) % 360.0 - 180.0


def _lies(grid: Grid) -> str:
    rows, cols = grid.shape
    a, _, west, _, e, north = tuple(grid.transform)[:6]
    code = grid.crs.to_epsg()
    system = f"EPSG:{code}" if code else grid.crs.name
    return (
        f"{rows} x {cols} cells from west {num(west, 5)}, north {num(north, 5)}, in steps of "
        f"{num(a)} by {num(-e)}, {system}"
    )


def _check_whole(file: FileSource, source: TileSource, named: str) -> None:
    """Unpack every block once: a file that was cut short shows only there."""
    rows, cols = file.grid.shape
    try:
        for row in range(0, rows, ROWS_AT_ONCE):
            part = file.read(slice(row, min(row + ROWS_AT_ONCE, rows)), slice(0, cols))
            low, high = extremes(np.asarray(part))
            if source.role == "canopy" and (high > TALLEST_TREE_M or low < 0.0):
                raise FetchError(
                    f"{named} holds {high if high > TALLEST_TREE_M else low:,.0f} m, which is no "
                    "height of trees; it was not kept"
                )
    except TerrainError as problem:
        said = str(problem).replace(str(file.path), named).rstrip(".")
        raise FetchError(f"{said}; it was not kept") from problem
