from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.drawing.mercator import (
    Box,
    blurred,
    lat_of,
    mercator_y,
    softened,
)
from backbearing.terrain import Elevation
from backbearing.workflows.map_ground import mercator_grid


def test_agrees_with_the_worked_example_of_epsg_1024():
    # IOGP Publication 373-7-2, method 1024, example (from memory): 24°22'54.433"N
    # 100°20'00.000"W is E -11 169 055.58 m, N 2 800 000.00 m.
    lat = 24 + 22 / 60 + 54.433 / 3600
    assert float(mercator_y(lat)) == pytest.approx(2_800_000.00, abs=0.02)
    assert np.radians(-(100 + 20 / 60)) * WEB_MERCATOR_RADIUS_M == pytest.approx(
        -11_169_055.58, abs=0.01
    )


@given(st.floats(-85.0, 85.0))
def test_agrees_with_proj_and_goes_there_and_back(lat):
    there = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    assert float(mercator_y(lat)) == pytest.approx(there.transform(0.0, lat)[1], abs=1e-6)
    assert float(lat_of(mercator_y(lat))) == pytest.approx(lat, abs=1e-9)


def _hills(hole: bool = False, crs: str = "EPSG:4326") -> Elevation:
    row, col = np.mgrid[0:60, 0:80]
    heights = 400.0 + 60.0 * np.sin(row / 7.0) + 45.0 * np.cos(col / 9.0)
    if hole:
        heights[20:26, 30:40] = np.nan
    step = 1 / 1200 if crs == "EPSG:4326" else 90.0
    corner = (-84.3, 36.3) if crs == "EPSG:4326" else (740_000.0, 4_030_000.0)
    return Elevation.from_array(heights, Affine(step, 0, corner[0], 0, -step, corner[1]), crs)


def _whole(elevation: Elevation) -> Box:
    south, west, north, east = elevation.bounds
    return Box(west, south, east, north)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32616"])
def test_pixels_hold_the_rasters_height_at_their_own_place(crs):
    elevation = _hills(crs=crs)
    grid = mercator_grid(elevation, _whole(elevation))
    row, col = np.mgrid[0 : grid.heights_m.shape[0] : 7, 0 : grid.heights_m.shape[1] : 11]
    lat, lon = grid.place(col, row)
    expected = elevation.height_at(lat=lat, lon=lon)
    np.testing.assert_allclose(grid.heights_m[row, col], expected, atol=1e-6)
    assert np.isfinite(expected).mean() > 0.8


def test_rows_are_even_in_mercator_y_and_not_in_latitude():
    elevation = _hills()
    grid = mercator_grid(elevation, Box(-84.3, 0.0, -84.2, 60.0), largest_px=300)
    lat, _ = grid.place(0.0, np.arange(grid.heights_m.shape[0]))
    np.testing.assert_allclose(np.diff(mercator_y(lat)), -grid.step_m, rtol=1e-9)
    assert np.ptp(np.diff(lat)) > 0.05
    box = grid.box
    assert float(mercator_y(box.north)) == pytest.approx(grid.north_m, abs=1e-3)


def test_unknown_ground_stays_unknown_and_is_never_zero():
    elevation = _hills(hole=True)
    wide = Box(-84.32, 36.2, -84.2, 36.32)
    grid = softened(mercator_grid(elevation, wide), 1.25)
    lat, lon = np.meshgrid(
        grid.place(0.0, np.arange(grid.heights_m.shape[0]))[0],
        grid.place(np.arange(grid.heights_m.shape[1]), 0.0)[1],
        indexing="ij",
    )
    unknown = ~np.isfinite(elevation.height_at(lat=lat, lon=lon))
    assert unknown.any()
    np.testing.assert_array_equal(~np.isfinite(grid.heights_m), unknown)
    assert np.nanmin(grid.heights_m) > 250.0


def test_a_coarse_picture_takes_the_mean_of_its_ground():
    elevation = _hills()
    coarse = mercator_grid(elevation, Box(-84.29, 36.26, -84.24, 36.29), largest_px=8)
    inside = coarse.heights_m[np.isfinite(coarse.heights_m)]
    assert coarse.heights_m.shape[1] <= 8
    assert 380.0 < inside.mean() < 420.0


def test_blur_keeps_a_level_surface_and_its_mean_beside_holes():
    level = np.full((40, 50), 512.0, dtype=np.float32)
    np.testing.assert_allclose(blurred(level, 3.0), 512.0, rtol=1e-5)
    level[8:28, 10:40] = np.nan
    result = blurred(level, 2.0)
    assert np.nanmax(np.abs(result - 512.0)) < 0.01
    assert not np.isfinite(result[18, 25])


def test_boxes_cut_to_their_shared_part():
    assert Box(0, 0, 2, 2).cut(Box(1, 1, 3, 3)) == Box(1, 1, 2, 2)
    assert Box(0, 0, 1, 1).cut(Box(2, 0, 3, 1)) is None
