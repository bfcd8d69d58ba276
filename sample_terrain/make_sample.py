"""Remake the sample raster, byte for byte, from the grid in the matplotlib wheel.

Run from the repository's root: ``python sample_terrain/make_sample.py``.
Provenance, licence facts and how the grid was placed: ``sample_terrain/README.md``.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import rasterio
from matplotlib import cbook
from rasterio.transform import Affine

if TYPE_CHECKING:
    import numpy as np

CELLS_PER_DEGREE = 1200  # 3 arc-seconds
WEST_EDGE_DEG = -84.41375  # the grid's own xmin
NORTH_EDGE_DEG = 36.44625  # the grid's own ymax; its ymin label lies north of this and is wrong
CREDIT = (
    "NASA/USGS Shuttle Radar Topography Mission, 3 arc-seconds (public domain), "
    "as carried by the matplotlib package (jacksboro_fault_dem.npz)"
)


def sample_grid() -> tuple[np.ndarray, Affine]:
    """Return the heights, metres, int16, shape (344, 403), and their geotransform."""
    with cbook.get_sample_data("jacksboro_fault_dem.npz") as grid:
        heights_m = grid["elevation"]
    cell = 1.0 / CELLS_PER_DEGREE
    return heights_m, Affine(cell, 0.0, WEST_EDGE_DEG, 0.0, -cell, NORTH_EDGE_DEG)


def write_sample(path: Path) -> None:
    """Write the GeoTIFF beside its place, then rename it into place."""
    heights_m, transform = sample_grid()
    rows, columns = heights_m.shape
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        draft = Path(folder) / path.name
        with rasterio.open(
            draft,
            "w",
            driver="GTiff",
            width=columns,
            height=rows,
            count=1,
            dtype="int16",
            crs="EPSG:4326",
            transform=transform,
            nodata=-32768,
            compress=None,
        ) as raster:
            raster.update_tags(AREA_OR_POINT="Point", credit=CREDIT, vertical_datum="EGM96 geoid")
            raster.units = ("metre",)
            raster.write(heights_m, 1)
        draft.replace(path)


def main() -> None:
    """Write to the path asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    here = Path(__file__).resolve().parent
    parser.add_argument("path", nargs="?", type=Path, default=here / "sample_srtm_3arcsec.tif")
    write_sample(parser.parse_args().path)


if __name__ == "__main__":
    main()
