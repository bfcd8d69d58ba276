"""Heights within a window are the raster's own."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from scipy.ndimage import map_coordinates

from backbearing.terrain import Elevation
from backbearing.terrain.surface import heights_in

CELL = 1.0 / 1200.0


def with_holes_and_water() -> Elevation:
    z = np.random.default_rng(8).uniform(-20.0, 300.0, (14, 11)).astype(np.float32)
    z[3, 4] = np.nan
    z[8:10, 6:9] = -777.0
    z[5, 2] = 0.0  # land at sea level
    return Elevation.from_array(
        z, Affine(CELL, 0, 7.0, 0, -CELL, 46.0), "EPSG:4326", sea_value=-777.0
    )


def test_heights_in_a_window_are_those_of_the_raster_to_the_last_bit() -> None:
    dem = with_holes_and_water()
    rng = np.random.default_rng(1)
    row, col = rng.uniform(-0.6, 13.6, 20_000), rng.uniform(-0.6, 10.6, 20_000)
    whole = rng.random(20_000) < 0.3
    row[whole], col[whole] = np.round(row[whole]), np.round(col[whole])
    lat, lon = dem.grid.places(row=row, col=col)
    pixels = dem.grid.pixels(lat=lat, lon=lon)
    found = heights_in(dem.heights_m, pixels.row, pixels.col)
    assert np.array_equal(found, dem.height_at(lat=lat, lon=lon), equal_nan=True)
    assert 0.5 < np.isfinite(found).mean() < 0.95


def test_between_known_pixels_it_is_scipys_bilinear_surface() -> None:
    z = np.random.default_rng(4).uniform(0.5, 90.0, (9, 12))
    row, col = np.random.default_rng(5).uniform(0.0, 1.0, (2, 500)) * [[8.0], [11.0]]
    expected = map_coordinates(z, [row, col], order=1)
    assert heights_in(z, row, col) == pytest.approx(expected, abs=1e-10)


def test_nothing_is_known_off_the_window_or_nowhere() -> None:
    z = np.full((4, 5), 7.0)
    row = np.array([-0.01, 3.01, 1.0, np.nan, 0.0, 3.0])
    col = np.array([1.0, 1.0, 4.01, 2.0, 0.0, 4.0])
    found = heights_in(z, row, col)
    assert np.isnan(found[:4]).all()
    assert found[4:].tolist() == [7.0, 7.0]
    assert heights_in(z, row[:0], col[:0]).shape == (0,)
