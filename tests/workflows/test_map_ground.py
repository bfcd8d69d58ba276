"""The ground of a map: the raster's own heights at their places, read before anything is drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.geodesy import line_between
from backbearing.drawing.mercator import Box, mercator_y, softened
from backbearing.terrain import Elevation
from backbearing.workflows.map_ground import map_ground, mercator_grid

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan


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


def test_the_map_has_three_scales_about_the_subject(plan: Plan, elevation: Elevation) -> None:
    ground = map_ground(plan, elevation)
    boxes = [grid.box for grid in (ground.far, ground.near, ground.close)]
    for box in boxes:
        assert box.south < plan.subject.lat < box.north
        assert box.west < plan.subject.lon < box.east
    sides = [box.north - box.south for box in boxes]
    assert sides == sorted(sides, reverse=True)
    for grid in (ground.far, ground.near, ground.close):
        rows, columns = grid.heights_m.shape
        lat, lon = grid.place(columns // 2, rows // 2)
        if grid is not ground.far:
            there = float(elevation.height_at(lat=lat, lon=lon))
            assert grid.heights_m[rows // 2, columns // 2] == pytest.approx(there, abs=0.5)


def test_the_rasters_own_points_lie_near_the_subject(plan: Plan, elevation: Elevation) -> None:
    ground = map_ground(plan, elevation)
    assert ground.cell_m == elevation.cell_size_m
    assert len(ground.points) > 10
    for lat, lon, height in ground.points:
        line = line_between(lat1=plan.subject.lat, lon1=plan.subject.lon, lat2=lat, lon2=lon)
        assert float(line.distance_m) <= 320.0
        assert height == pytest.approx(float(elevation.height_at(lat=lat, lon=lon)), abs=1e-6)
