"""The whole raster at once: the same skyline as from each cell alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from affine import Affine
from pyproj import Transformer

from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation
from backbearing.terrain.skyline.sweep import horizon_map

CELL = 1 / 3600
GRID = Affine(CELL, 0, 10.0, 0, -CELL, 45.0)
SAMPLE = Path(__file__).parents[3] / "sample_terrain" / "sample_srtm_3arcsec.tif"
UTM = Affine(30.0, 0, 500_000.0, 0, -30.0, 5_000_000.0)


def fractal(n: int, relief_m: float, seed: int = 4) -> np.ndarray:
    rng = np.random.default_rng(seed)
    k = np.hypot(*np.meshgrid(np.fft.fftfreq(n), np.fft.fftfreq(n)))
    k[0, 0] = 1.0
    z = np.real(np.fft.ifft2(np.fft.fft2(rng.normal(size=(n, n))) * k**-2))
    return 500.0 + relief_m * (z - z.min()) / (z.max() - z.min())


def differences(
    dem: Elevation, azimuth_deg: float, n: int = 60, seed: int = 1, **asked: Any
) -> np.ndarray:
    """Map less single skylines at random cells, degrees, with the skyline's distance."""
    found = dem.horizon_map(azimuth_deg, **asked)
    rng = np.random.default_rng(seed)
    rows, cols = dem.shape
    row, col = rng.integers(2, rows - 2, n), rng.integers(2, cols - 2, n)
    place = dem.grid.places(row=row.astype(float), col=col.astype(float))
    reach = asked.get("max_distance_m") or 100_000.0
    one = dem.skylines(lat=place.lat, lon=place.lon, azimuths_deg=azimuth_deg, max_distance_m=reach)
    off = found[row, col] - one.altitudes_deg
    both = np.isfinite(off)
    return np.column_stack([off[both], one.distances_m[both]])


@pytest.mark.parametrize("azimuth_deg", [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0, 147.3])
@pytest.mark.parametrize(("transform", "crs"), [(GRID, "EPSG:4326"), (UTM, "EPSG:32632")])
def test_against_single_skylines(azimuth_deg: float, transform: Affine, crs: str) -> None:
    dem = Elevation.from_array(fractal(220, 700.0), transform, crs)
    off = differences(dem, azimuth_deg)
    assert len(off) > 40
    assert np.percentile(np.abs(off[:, 0]), 50) < 0.003
    assert np.percentile(np.abs(off[:, 0]), 95) < 0.05


@pytest.mark.parametrize(("lat", "most_high_deg"), [(62.0, 0.05), (70.0, 0.08), (85.0, 0.16)])
@pytest.mark.parametrize("azimuth_deg", [0.0, 77.0, 180.0])
def test_on_a_polar_grid_it_is_high_by_no_more_than_is_said(
    lat: float, most_high_deg: float, azimuth_deg: float
) -> None:
    # Rays turn faster towards the pole than the sweep's first order follows: 0.04 degree too
    # high at 70 north and 0.12 at 85 were found at 600 cells on each of four bearings.
    x, y = Transformer.from_crs(4326, 3413, always_xy=True).transform(20.0, lat)
    n, cell_m = 300, 30.0
    place = Affine(cell_m, 0, x - n * cell_m / 2, 0, -cell_m, y + n * cell_m / 2)
    dem = Elevation.from_array(fractal(n, 900.0), place, "EPSG:3413")
    off = differences(dem, azimuth_deg, n=400)[:, 0]
    assert len(off) > 200
    assert off.max() < most_high_deg
    assert np.percentile(off, 1) > -0.12


@pytest.mark.parametrize(("relief_m", "detail", "most_deg"), [
    (60.0, "fine", 0.01), (60.0, "quick", 0.01), (900.0, "fine", 0.03), (900.0, "quick", 0.08),
])  # fmt: skip
def test_far_skylines_on_rough_ground(relief_m: float, detail: str, most_deg: float) -> None:
    # 30 m cells, eye at 1.6 m; skylines beyond 300 m, against single rays.
    dem = Elevation.from_array(fractal(500, relief_m), GRID, "EPSG:4326")
    off = differences(dem, 147.3, n=800, detail=detail)
    far = np.abs(off[off[:, 1] > 300.0, 0])
    assert len(far) > 200
    assert np.percentile(far, 95) < most_deg
    assert np.percentile(np.abs(off[:, 0]), 95) < 0.1


def test_fine_sees_all_that_quick_sees() -> None:
    dem = Elevation.from_array(fractal(200, 900.0), GRID, "EPSG:4326")
    for azimuth_deg in (33.0, 285.0):
        fine = dem.horizon_map(azimuth_deg)
        quick = dem.horizon_map(azimuth_deg, detail="quick")
        assert np.array_equal(np.isnan(fine), np.isnan(quick))
        assert np.nanmax(quick - fine) < 1e-4
        assert np.nanmax(fine - quick) > 0.0


@pytest.mark.parametrize("reach_m", [150.0, 500.0, 900.0, 2500.0])
@pytest.mark.parametrize("azimuth_deg", [12.0, 238.0])
def test_a_short_reach_against_single_skylines(reach_m: float, azimuth_deg: float) -> None:
    dem = Elevation.from_array(fractal(300, 700.0), UTM, "EPSG:32632")
    off = differences(dem, azimuth_deg, n=300, max_distance_m=reach_m)
    assert len(off) > 200
    assert np.percentile(np.abs(off[:, 0]), 95) < 0.03
    assert off[:, 0].max() < 0.02


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


@pytest.mark.parametrize("azimuth_deg", [20.0, 120.0, 222.0, 290.0])
def test_no_void_that_could_hide_more_is_passed_over(azimuth_deg: float) -> None:
    heights = fractal(200, 500.0)
    heights[60:80, 70:95] = np.nan
    dem = Elevation.from_array(heights, UTM, "EPSG:32632")
    found = dem.horizon_map(azimuth_deg)
    row, col = (v.ravel() for v in np.meshgrid(np.arange(2, 198, 3), np.arange(2, 198, 3)))
    place = dem.grid.places(row=row.astype(float), col=col.astype(float))
    one = dem.skylines(lat=place.lat, lon=place.lon, azimuths_deg=azimuth_deg)
    s = one.unknown_from_m
    over = np.nanmax(heights) - heights[row, col] - 1.6
    could = np.degrees(np.arctan(over / s - 0.87 / (2 * MEAN_EARTH_RADIUS_M) * s))
    doubtful = np.isfinite(s) & (could > one.altitudes_deg)
    answered = np.isfinite(found[row, col])
    assert doubtful.sum() > 100
    assert not (doubtful & answered).any()
    sure = ~doubtful & np.isfinite(one.altitudes_deg)
    assert answered[sure].mean() > 0.98


@pytest.mark.parametrize("shape", [(2, 2), (2, 300), (300, 2), (7, 150), (33, 9), (130, 70)])
def test_every_cell_of_any_shape_is_answered(shape: tuple[int, int]) -> None:
    heights = np.random.default_rng(1).normal(300.0, 20.0, shape)
    dem = Elevation.from_array(heights, GRID, "EPSG:4326")
    row, col = (v.ravel() for v in np.indices(shape))
    place = dem.grid.places(row=row.astype(float), col=col.astype(float))
    for azimuth_deg in (3.0, 33.0, 93.0, 200.0, 271.0, 315.0):
        found = dem.horizon_map(azimuth_deg)[row, col]
        one = dem.skylines(lat=place.lat, lon=place.lon, azimuths_deg=azimuth_deg).altitudes_deg
        assert (np.isfinite(found) == np.isfinite(one)).mean() > 0.97
        assert np.nanpercentile(np.abs(found - one), 90) < 0.2


def test_a_wide_projected_raster_keeps_the_true_bearing() -> None:
    # The grid turns by a degree and a half from side to side; each strip has its own path.
    wide = Affine(900.0, 0, 250_000.0, 0, -900.0, 7_000_000.0)
    dem = Elevation.from_array(fractal(400, 3000.0), wide, "EPSG:32632")
    off = differences(dem, 5.0, n=300)
    assert np.percentile(np.abs(off[:, 0]), 95) < 0.03


def test_a_grid_that_turns_under_the_bearing_is_refused() -> None:
    polar = Affine(5000.0, 0, -500_000.0, 0, -5000.0, 500_000.0)
    dem = Elevation.from_array(np.zeros((200, 200)), polar, "EPSG:3995")
    with pytest.raises(TerrainError, match="turns too far"):
        dem.horizon_map(90.0)


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


@pytest.mark.parametrize(
    "wrong", [{"eye_height_m": np.nan}, {"max_distance_m": 0.0}, {"detail": "rough"}]
)
def test_bad_questions_are_refused(wrong: dict[str, Any]) -> None:
    dem = Elevation.from_array(np.full((5, 5), 1.0), GRID, "EPSG:4326")
    with pytest.raises(TerrainError, match=next(iter(wrong))):
        dem.horizon_map(90.0, **wrong)


@pytest.mark.parametrize("azimuth_deg", [81.0, 99.0, 262.0])
def test_rays_bent_off_the_raster_find_nothing_there(azimuth_deg: float) -> None:
    size = 400
    dem = Elevation.from_array(fractal(size, 900.0), GRID, "EPSG:4326")
    swept = dem.horizon_map(azimuth_deg)
    rows = np.repeat([0.0, 1.0, 2.0, size - 3.0, size - 2.0, size - 1.0], 60)
    cols = np.tile(np.linspace(20.0, size - 21.0, 60).round(), 6)
    at = dem.grid.places(row=rows, col=cols)
    seen = dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=azimuth_deg, eye_height_m=1.6)
    over = swept[rows.astype(int), cols.astype(int)] - seen.altitudes_deg
    assert np.isfinite(over).sum() > 100
    assert np.nanmax(over) < 0.1


def test_real_ground_is_never_far_below_single_skylines() -> None:
    # 7,500 cells of the sample's raster, eyes as over a tripod, against one ray from each: the
    # bad direction is too low, where a target is shown clear of ground that hides it. Too
    # high, by where its voids keep rays on a path of constant bearing.
    dem = Elevation.open(SAMPLE)
    off = np.concatenate([
        differences(dem, azimuth_deg, n=1500, seed=5)[:, 0]
        for azimuth_deg in (33.0, 90.0, 145.0, 202.0, 310.0)
    ])  # fmt: skip
    assert len(off) > 7_000
    assert np.percentile(-off, 99) < 0.05
    assert -off.min() < 0.3
    assert off.max() < 0.05


@pytest.mark.parametrize(("relief_m", "most_deg"), [(300.0, 0.3), (1500.0, 0.5)])
def test_steep_invented_ground_is_seldom_far_below(relief_m: float, most_deg: float) -> None:
    dem = Elevation.from_array(fractal(400, relief_m, seed=8), UTM, "EPSG:32632")
    off = np.concatenate(
        [differences(dem, azimuth_deg, n=1500)[:, 0] for azimuth_deg in (20.0, 77.0, 163.0)]
    )
    assert np.percentile(-off, 99) < 0.05
    assert -off.min() < most_deg
    assert off.max() < 0.05


@pytest.mark.parametrize("azimuth_deg", [0.0, 61.0, 147.3, 180.0, 230.0, 301.0])
@pytest.mark.parametrize("reach_m", [None, 2_000.0])
def test_a_window_is_answered_as_in_the_whole(azimuth_deg: float, reach_m: float | None) -> None:
    dem = Elevation.from_array(fractal(220, 700.0), GRID, "EPSG:4326")
    window = slice(31, 95), slice(140, 209)
    some = horizon_map(dem, azimuth_deg, max_distance_m=reach_m, window=window)
    whole = dem.horizon_map(azimuth_deg, max_distance_m=reach_m)
    np.testing.assert_array_equal(some, whole[window])


@pytest.mark.parametrize("reach_m", [None, 6_000.0])
def test_real_ground_in_windows_is_that_of_the_whole(elevation: Elevation, reach_m) -> None:
    # Where an eye's search began hung on what had been asked before it: 0.005 degree at worst.
    for azimuth_deg, window in (
        (95.2, (slice(229, 344), slice(100, 201))),
        (102.5, (slice(229, 344), slice(100, 201))),
        (80.6, (slice(0, 114), slice(0, 100))),
        (44.1, (slice(0, 114), slice(201, 302))),
    ):
        some = horizon_map(elevation, azimuth_deg, max_distance_m=reach_m, window=window)
        whole = horizon_map(elevation, azimuth_deg, max_distance_m=reach_m)
        np.testing.assert_array_equal(some, whole[window])
