"""From what the caller has, a path or an array, to a source of heights."""

from __future__ import annotations

from collections.abc import Iterable
from os import PathLike
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.input_files import checked_path
from backbearing.terrain.grid import Grid, shifted
from backbearing.terrain.reading.files import open_file
from backbearing.terrain.reading.mosaic import files_in, open_tiles
from backbearing.terrain.reading.sources import (
    WATER_LEVEL_M,
    ArraySource,
    check_plausible,
    find_voids,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from affine import Affine
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS

    from backbearing.terrain.reading.files import ReadingOptions
    from backbearing.terrain.reading.sources import Source


def source_at(
    path: str | PathLike[str] | Sequence[str | PathLike[str]], options: ReadingOptions
) -> Source:
    """Open a file, a list of tiles or a folder of them; see :meth:`Elevation.open`."""
    if isinstance(path, str | bytes | PathLike) or not isinstance(path, Iterable):
        one = checked_path(path, TerrainError)
        paths = files_in(one, allow_vrt=options.allow_vrt) if one.is_dir() else [one]
        name = str(one)
    else:
        paths = [checked_path(p, TerrainError) for p in path]
        name = ", ".join(str(p) for p in paths[:3]) + (" ..." if len(paths) > 3 else "")
    if not paths:
        raise TerrainError("No elevation file is named", hint="give at least one path")
    if len(paths) == 1:
        return open_file(paths[0], options)
    return open_tiles(paths, options, name)


def source_of(
    heights_m: ArrayLike,
    transform: Affine | Sequence[float],
    crs: Any,
    *,
    posts: bool,
    voids: tuple[float, ...],
    sea_value: float | None,
    tags: Mapping[str, str] | None,
) -> ArraySource:
    """Take heights from an array; see :meth:`Elevation.from_array`."""
    from affine import Affine

    masked = np.ma.getmaskarray(heights_m) if np.ma.isMaskedArray(heights_m) else False
    raw: NDArray[Any] = np.asarray(np.ma.getdata(heights_m))
    if raw.ndim != 2 or raw.size == 0 or raw.dtype.kind not in "iuf":
        raise TerrainError(
            f"Heights of shape {raw.shape} and type {raw.dtype} are no raster",
            hint="give a two-dimensional array of numbers, rows by columns",
        )
    void = find_voids(raw, voids, sea_value, "The array") | masked
    single = raw.dtype.itemsize <= 2 or raw.dtype == np.float32
    kind = np.float32 if single else np.float64
    heights: NDArray[np.floating] = np.array(raw, dtype=kind, order="C")
    heights += 0.0
    heights[void] = np.nan
    if sea_value is not None:
        heights[raw == sea_value] = WATER_LEVEL_M
    check_plausible(heights, "The array")
    heights.setflags(write=False)
    placed = Affine(*tuple(transform)[:6])
    if posts:
        placed = shifted(placed, rows=-0.5, cols=-0.5)
    rows, cols = heights.shape
    return ArraySource(Grid((rows, cols), placed, _crs(crs)), heights, dict(tags or {}))


def _crs(crs: Any) -> CRS:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if crs is None:
        raise TerrainError(
            "The array comes without a coordinate reference system",
            hint="pass one such as 'EPSG:4326'",
        )
    try:
        return CRS.from_user_input(crs).to_2d()
    except CRSError as cause:
        raise TerrainError(
            f"{crs!r} is not a reference system", hint="write one such as 'EPSG:4326'"
        ) from cause
