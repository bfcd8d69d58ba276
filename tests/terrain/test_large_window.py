"""A window of a large raster is held by the square, and holds what the file holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS

from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from pathlib import Path

ROWS, COLS = 2000, 8500  # more than 4096 x 4096 together: read in pieces
SQUARE = 64


@pytest.mark.slow
def test_squares_that_are_wanted_are_the_files_and_the_others_are_empty(tmp_path: Path) -> None:
    heights = 100.0 + np.arange(ROWS * COLS, dtype=np.float64).reshape(ROWS, COLS) % 3001.0
    path = tmp_path / "steps.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=COLS, height=ROWS, count=1, dtype="float32",
        crs=CRS.from_epsg(32632), transform=Affine(5.0, 0.0, 6e5, 0.0, -5.0, 5.3e6),
        tiled=True, blockxsize=512, blockysize=512,
    ) as data:  # fmt: skip
        data.write(heights.astype(np.float32), 1)
    ground = Elevation.open(path)
    assert ground.in_pieces
    rows, cols = slice(512, 1990), slice(1024, 8471)
    window = heights[rows, cols]
    wanted = np.random.default_rng(3).random((-(-1478 // SQUARE), -(-7447 // SQUARE))) < 0.2
    wanted[4:12] = False  # a whole strip's share of rows without any, and one row of all
    wanted[20] = True
    each = np.repeat(np.repeat(wanted, SQUARE, axis=0), SQUARE, axis=1)[:1478, :7447]
    held = ground.part(rows, cols, wanted).heights_m
    np.testing.assert_array_equal(held, np.where(each, window, 0.0))
    np.testing.assert_array_equal(ground.part(rows, cols).heights_m, window)
