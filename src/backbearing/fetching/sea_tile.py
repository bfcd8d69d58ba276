"""A small raster that stands for a tile of open sea, where a product has none there.

Sea is neither ground at nought nor unknown: the file says by a mark of its own which number stands
for open water (:data:`backbearing.terrain.reading.files.SEA_TAG`), so that it comes out as
``Ground.SEA``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.terrain.reading.files import SEA_TAG

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.tile_scheme import Layout

SEA: Final = -12_345.0
"""The number that stands for open water: no height of any land or sea floor."""


def write_sea_tile(path: Path, layout: Layout, said: str) -> None:
    """Write the stand-in, aside first, then in its place."""
    draft = path.with_name(f"{path.name}.new")
    shape = (layout.rows, layout.cols)
    with created(draft, shape, transform_of(layout), said, sea=True) as out:
        out.write(np.full(shape, SEA, dtype=np.float32), 1)
    draft.replace(path)


def transform_of(layout: Layout) -> Any:
    """A layout's transform from (column, row) at pixel corners to degrees."""
    from affine import Affine

    return Affine(layout.lon_step, 0.0, layout.west, 0.0, -layout.lat_step, layout.north)


def created(path: Path, shape: tuple[int, int], transform: Any, said: str, *, sea: bool) -> Any:
    """Open a new GeoTIFF of heights for writing; NaN is unknown in it.

    Parameters
    ----------
    path : Path
        Replaced where it exists.
    shape, transform
        Its rows and columns, and its place in EPSG:4326.
    said : str
        The credit, into the file's own tag for it.
    sea : bool
        Whether :data:`SEA` stands for open water in it.
    """
    import rasterio

    out = rasterio.open(
        path, "w", driver="GTiff", width=shape[1], height=shape[0], count=1, dtype="float32",
        crs="EPSG:4326", transform=transform, nodata=float("nan"), tiled=True, blockxsize=512,
        blockysize=512, compress="deflate", predictor=3, bigtiff="if_safer",
    )  # fmt: skip
    plain = said.replace("©", "(c)").encode("ascii", "replace").decode("ascii")
    out.update_tags(TIFFTAG_COPYRIGHT=plain, **({SEA_TAG: repr(SEA)} if sea else {}))
    out.units = ["metre"]
    return out
