"""The whole raster at once: the same skyline as from each cell alone."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine

from backbearing.errors import TerrainError
from backbearing.geodesy import MEAN_EARTH_RADIUS_M
from backbearing.terrain import Elevation

CELL = 1 / 3600
GRID = Affine(CELL, 0, 10.0, 0, -CELL, 45.0)
UTM = Affine(30.0, 0, 500_000.0, 0, -30.0, 5_000_000.0)


def fractal(n: int, relief_m: float, seed: int = 4) -> np.ndarray:
    rng = np.random.default_rng(seed)
    k = np.hypot(*np.meshgrid(np.fft.fftfreq(n), np.fft.fftfreq(n)))
    k[0, 0] = 1.0
    z = np.real(np.fft.ifft2(np.fft.fft2(rng.normal(size=(n, n))) * k**-2))
    return 500.0 + relief_m * (z - z.min()) / (z.max() - z.min())


def differences(dem: Elevation, azimuth_deg: float, n: int = 60, seed: int = 1) -> np.ndarray:
    """Map less single skylines at random cells, degrees, with the skyline's distance."""
    found = dem.horizon_map(azimuth_deg)
    rng = np.random.default_rng(seed)
    rows, cols = dem.shape
    out = []
    for _ in range(n):
        row, col = int(rng.integers(2, rows - 2)), int(rng.integers(2, cols - 2))
        place = dem.grid.places(row=float(row), col=float(col))
        one = dem.horizon(lat=float(place.lat), lon=float(place.lon), azimuths_deg=[azimuth_deg])
        if np.isfinite(one.altitudes_deg[0]) and np.isfinite(found[row, col]):
            out.append((found[row, col] - one.altitudes_deg[0], one.distances_m[0]))
    return np.array(out)


@pytest.mark.parametrize("azimuth_deg", [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0, 147.3])
@pytest.mark.parametrize(("transform", "crs"), [(GRID, "EPSG:4326"), (UTM, "EPSG:32632")])
def test_against_single_skylines(azimuth_deg: float, transform: Affine, crs: str) -> None:
    dem = Elevation.from_array(fractal(220, 700.0), transform, crs)
    off = differences(dem, azimuth_deg)
    assert len(off) > 40
    assert np.percentile(np.abs(off[:, 0]), 50) < 0.02
    assert np.percentile(np.abs(off[:, 0]), 95) < 0.25


def test_near_skylines_are_exact() -> None:
    dem = Elevation.from_array(fractal(160, 300.0), GRID, "EPSG:4326")
    off = differences(dem, 200.0, n=150)
    near = off[off[:, 1] < 200.0, 0]
    assert len(near) > 10
    assert np.abs(near).max() < 0.01


def test_a_plane_slope_is_its_own_skyline() -> None:
    # Closed form: looking up a slope of 10 degrees the ground stands at 10 degrees, less the
    # eye's height over the way and the fall of the level surface.
    rise = np.tan(np.radians(10.0)) * 30.0
    heights = 1000.0 + rise * np.arange(120)[:, None] * np.ones((1, 120))
    dem = Elevation.from_array(heights, UTM, "EPSG:32632")
    found = dem.horizon_map(180.0, eye_height_m=1.6)
    row, col = 20, 60
    s = 30.0 * (119 - row) * 0.9996**-1
    c = 0.87 / (2 * MEAN_EARTH_RADIUS_M)
    expected = np.degrees(np.arctan((rise * (119 - row) - 1.6) / s - c * s))
    assert found[row, col] == pytest.approx(expected, abs=0.01)


def test_a_wall_far_off_stands_at_its_angle() -> None:
    heights = np.full((300, 50), 100.0)
    heights[280:282] = 400.0
    dem = Elevation.from_array(heights, UTM, "EPSG:32632")
    found = dem.horizon_map(180.0, eye_height_m=2.0)
    s = 30.0 * 180 / 0.9996
    c = 0.87 / (2 * MEAN_EARTH_RADIUS_M)
    expected = np.degrees(np.arctan(298.0 / s - c * s))
    assert found[100, 25] == pytest.approx(expected, abs=0.01)


def test_reach_leaves_farther_ground_out() -> None:
    heights = np.full((300, 50), 100.0)
    heights[280:282] = 400.0
    dem = Elevation.from_array(heights, UTM, "EPSG:32632")
    near = dem.horizon_map(180.0, max_distance_m=2000.0)
    far = dem.horizon_map(180.0)
    assert near[100, 25] < 0.0 < far[100, 25]
    assert near[230, 25] == pytest.approx(far[230, 25], abs=1e-4)
    for reach in (500.0, 900.0, 3000.0):
        short = dem.horizon_map(180.0, max_distance_m=reach)
        rises = short[:279, 5:45] > 0.5  # columns at the sides leave before the wall
        to_foot, to_top = (30.0 / 0.9996 * (row - np.arange(279)) for row in (279, 280))
        assert rises[to_top <= reach].all()
        assert not rises[to_foot > reach].any()


def test_a_void_ahead_is_unknown_where_it_could_matter() -> None:
    heights = fractal(120, 600.0)
    heights[60, 50] = np.nan
    holed = Elevation.from_array(heights, GRID, "EPSG:4326").horizon_map(180.0)
    whole = Elevation.from_array(fractal(120, 600.0), GRID, "EPSG:4326").horizon_map(180.0)
    assert np.isnan(holed[60, 50])
    assert np.isnan(holed[55, 50])
    known = np.isfinite(holed)
    assert known[:, :40].all() or known[:, :40].sum() > 0.95 * known[:, :40].size
    assert np.allclose(holed[known], whole[known], atol=1e-4)


def test_the_edge_is_unknown_not_ninety_degrees() -> None:
    found = Elevation.from_array(fractal(80, 300.0), GRID, "EPSG:4326").horizon_map(180.0)
    assert np.isnan(found[-1]).all()
    assert np.isfinite(found[:-1]).all()
    assert np.nanmax(found) < 80.0


def test_turning_the_raster_turns_the_answer() -> None:
    heights = fractal(90, 500.0)
    south = Elevation.from_array(heights, UTM, "EPSG:32632").horizon_map(180.0)
    north = Elevation.from_array(heights[::-1], UTM, "EPSG:32632").horizon_map(0.0)
    # The grid turns a little against north, and the other way for the turned raster.
    off = np.abs(south - north[::-1])[:85, 5:85]
    assert np.nanpercentile(off, 95) < 0.05


def test_small_and_empty_rasters() -> None:
    one = Elevation.from_array(np.full((1, 5), 3.0), GRID, "EPSG:4326").horizon_map(90.0)
    assert one.shape == (1, 5)
    assert np.isnan(one).all()
    none = Elevation.from_array(np.full((5, 5), np.nan), GRID, "EPSG:4326").horizon_map(90.0)
    assert np.isnan(none).all()


@pytest.mark.parametrize("wrong", [{"eye_height_m": np.nan}, {"max_distance_m": 0.0}])
def test_bad_questions_are_refused(wrong: dict[str, float]) -> None:
    dem = Elevation.from_array(np.full((5, 5), 1.0), GRID, "EPSG:4326")
    with pytest.raises(TerrainError, match=next(iter(wrong))):
        dem.horizon_map(90.0, **wrong)
