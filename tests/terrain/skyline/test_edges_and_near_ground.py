"""Eyes on the outermost pixels, and ground so near that a millimetre is an angle."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod

from backbearing.terrain import Elevation
from backbearing.terrain.skyline.grazing import keep_on_raster

GEOD = Geod(ellps="WGS84")
CURVED = (1.0 - 0.13) / (2.0 * 6_371_008.8)
GRIDS = {
    "degrees": (Affine(1 / 3600, 0, 10.0, 0, -1 / 3600, 45.0), "EPSG:4326"),
    "degrees, 62 north": (Affine(1 / 3600, 0, 10.0, 0, -1 / 3600, 62.0), "EPSG:4326"),
    "metres": (Affine(30.0, 0, 500_000.0, 0, -30.0, 5.0e6), "EPSG:32632"),
    "metres, 3 degrees aside": (Affine(30.0, 0, 750_000.0, 0, -30.0, 5.2e6), "EPSG:32632"),
    "metres, of Europe": (Affine(25.0, 0, 3.1e6, 0, -25.0, 2.5e6), "EPSG:3035"),
}


def test_no_wall_is_missed_from_the_outermost_column() -> None:
    # 800 eyes exactly on the first or last column look along it at a wall of 12 degrees.
    rng = np.random.default_rng(1)
    looked = 0
    for cell, north, west in (
        (1 / 3600, 45.2, 10.0),
        (1 / 1200, -31.7, 18.4),
        (1 / 1200, 64.9, 24.3),
    ):
        heights = np.full((420, 300), 100.0)
        heights[210:212] += 20.0 * np.tan(np.radians(12.0)) * cell * 111_000.0
        dem = Elevation.from_array(heights, Affine(cell, 0, west, 0, -cell, north), "EPSG:4326")
        for column in (0.0, 299.0):
            for azimuth, low, high in ((0.0, 231.0, 419.0), (180.0, 0.0, 190.0)):
                at = dem.grid.places(row=rng.uniform(low, high, 67), col=np.full(67, column))
                seen = dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=azimuth)
                assert (seen.unknown_share == 0.0).all()
                assert (seen.altitudes_deg > 0.5).all()
                alone = dem.horizon(lat=at.lat[0], lon=at.lon[0], azimuths_deg=[azimuth])
                assert alone.altitudes_deg[0] == pytest.approx(seen.altitudes_deg[0], abs=1e-9)
                looked += 67
    assert looked > 800


def test_a_ray_that_leaves_the_raster_is_not_held_back() -> None:
    # In a projected raster true north may truly lead off the first column: nothing is known.
    heights = np.full((300, 300), 100.0)
    heights[100:103] = 900.0
    dem = Elevation.from_array(heights, Affine(30.0, 0, 620_000.0, 0, -30.0, 5.0e6), "EPSG:32632")
    at = dem.grid.places(row=[200.0, 200.0], col=[0.0, 3.0])
    seen = dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=[0.0, 300.0])
    assert seen.unknown_share[0] == 1.0
    assert np.isnan(seen.altitudes_deg[0])
    assert seen.reach_m[1] == pytest.approx(3.0 * 30.0 / np.sin(np.radians(60.0)), rel=0.05)


def test_only_rays_along_the_edge_are_turned() -> None:
    rng = np.random.default_rng(2)
    angle = rng.uniform(0.0, 2.0 * np.pi, 500)
    rows = np.column_stack([rng.uniform(0.0, 99.0, 500), 80.0 * np.cos(angle), np.zeros(500)])
    cols = np.column_stack([rng.uniform(0.0, 99.0, 500), 80.0 * np.sin(angle), np.zeros(500)])
    rows[:20, 0], rows[:20, 1:], cols[:20, 1] = 0.0, (-1e-7, -1e-6), 80.0
    was = rows.copy(), cols.copy()
    keep_on_raster(rows, cols, (100, 100))
    assert np.array_equal(rows[20:], was[0][20:])
    assert np.array_equal(cols, was[1])
    assert (rows[:20, 1] > was[0][:20, 1]).all()
    assert (rows[:20, 1] - was[0][:20, 1]).max() < 1e-4 * 80.0
    assert (rows[:20].sum(axis=1) > 0.0).all()


def highest_along(dem: Elevation, seen: Any, i: int) -> float:
    """March along the geodesic itself in steps of millimetres to centimetres; degrees."""
    way = np.concatenate(
        [
            np.geomspace(2e-3, 0.5, 300),
            np.arange(0.5, 40.0, 0.02),
            seen.distances_m[i] + np.linspace(-0.02, 0.02, 81),
        ]
    )
    way = way[way > 1e-3]
    start = (np.full_like(way, v) for v in (seen.lon[i], seen.lat[i], seen.azimuths_deg[i]))
    lon, lat, _ = GEOD.fwd(*start, way)
    rise = dem.height_at(lat=lat, lon=lon) - seen.eye_m[i]
    return float(np.degrees(np.arctan((rise / way - CURVED * way).max())))


@pytest.mark.parametrize("grid", GRIDS)
def test_ground_within_thirty_metres_is_where_the_geodesic_leads(grid: str) -> None:
    # Neighbouring pixels 25 m up or down at random: the slopes reach 70 degrees.
    rng = np.random.default_rng(3)
    dem = Elevation.from_array(rng.normal(300.0, 25.0, (200, 200)), *GRIDS[grid])
    at = dem.grid.places(row=rng.uniform(20.0, 180.0, 300), col=rng.uniform(20.0, 180.0, 300))
    seen = dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=rng.uniform(0.0, 360.0, 300))
    near = np.flatnonzero(seen.distances_m < 30.0)
    assert len(near) > 60
    off = [seen.altitudes_deg[i] - highest_along(dem, seen, i) for i in near]
    assert np.abs(off).max() < 0.003
