"""A small raster that stands for a tile of open sea, where a product has none there.

Sea is neither ground at nought nor unknown: the file says by a mark of its own which number stands
for open water (:data:`backbearing.terrain.reading.files.SEA_TAG`), so that it comes out as
``Ground.SEA``.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import WriteRefusedError
from backbearing.terrain.reading.files import SEA_TAG

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.fetching.tile_scheme import Layout

SEA: Final = -12_345.0
"""The number that stands for open water: no height of any land or sea floor."""


def write_sea_tile(path: Path, layout: Layout, said: str) -> None:
    """Write the stand-in, aside first, then in its place."""
    shape = (layout.rows, layout.cols)
    heights = np.full(shape, SEA, dtype=np.float32)
    write_raster(path, heights, transform_of(layout), said, sea=True)


def transform_of(layout: Layout) -> Any:
    """A layout's transform from (column, row) at pixel corners to degrees."""
    from affine import Affine

    return Affine(layout.lon_step, 0.0, layout.west, 0.0, -layout.lat_step, layout.north)


def write_raster(
    path: Path, heights: Any, transform: Any, said: str, *, sea: bool,
    crs: Any = "EPSG:4326", tags: Mapping[str, str] | None = None,
) -> None:  # fmt: skip
    """Write a GeoTIFF of heights aside, then in its place; NaN is unknown in it.

    Parameters
    ----------
    path : Path
        Replaced where it exists.
    heights : ndarray of float32, shape (rows, cols)
    transform
        From (column, row) at pixel corners to `crs`.
    said : str
        The credit, into the file's own tag for it.
    sea : bool
        Whether :data:`SEA` stands for open water in it.
    crs
        Anything that rasterio takes.
    tags : mapping, optional
        What else the file is to say of itself.

    Raises
    ------
    WriteRefusedError
        When the disk refuses.
    """
    import rasterio

    draft = path.with_name(f".{os.getpid()}-{path.name}")
    rows, cols = heights.shape
    plain = said.replace("©", "(c)").encode("ascii", "replace").decode("ascii")
    try:
        with rasterio.open(
            draft, "w", driver="GTiff", width=cols, height=rows, count=1, dtype="float32",
            crs=crs, transform=transform, nodata=float("nan"), tiled=True, blockxsize=512,
            blockysize=512, compress="deflate", predictor=3, bigtiff="if_safer",
        ) as out:  # fmt: skip
            out.update_tags(**(tags or {}))
            out.update_tags(TIFFTAG_COPYRIGHT=plain, **({SEA_TAG: repr(SEA)} if sea else {}))
            out.units = ["metre"]
            out.write(heights, 1)
        draft.replace(path)
    except Exception as problem:
        # The raster library's own errors share no base.
        of_rasterio = type(problem).__module__.startswith("rasterio")
        if not of_rasterio and not isinstance(problem, OSError):
            raise
        raise WriteRefusedError(
            f"{path} could not be written", hint="is the disk full?", path=str(path)
        ) from problem
    finally:
        draft.unlink(missing_ok=True)
