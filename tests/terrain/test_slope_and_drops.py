"""Slopes, drops and flat ground."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import OutsideRasterError, TerrainError
from backbearing.terrain import Elevation, slope_and_drops
from backbearing.terrain.slope_and_drops import flat_patches, largest_drop

UTM = Affine(30, 0, 500_000, 0, -30, 4_000_000)


def ground(z: np.ndarray) -> Elevation:
    return Elevation.from_array(np.asarray(z, dtype=float), UTM, "EPSG:32616")


def at(dem: Elevation, row: float, col: float) -> dict[str, float]:
    lat, lon = dem.grid.places(row=row, col=col)
    return {"lat": float(lat), "lon": float(lon)}


def plane(slope_deg: float, toward_deg: float) -> np.ndarray:
    row, col = np.mgrid[0:40, 0:40].astype(float)
    rise = np.tan(np.radians(slope_deg))
    azimuth = np.radians(toward_deg)
    return 500 + 30 * rise * (col * np.sin(azimuth) - row * np.cos(azimuth))


@pytest.mark.parametrize("slope", [0.0, 5.0, 35.0])
@pytest.mark.parametrize("toward", [0.0, 77.0, 200.0])
def test_the_slope_of_a_plane(slope: float, toward: float) -> None:
    dem = ground(plane(slope, toward))
    found = dem.slope_at(**at(dem, 20, 20))
    assert found == pytest.approx(slope, abs=0.03)
    assert np.isnan(dem.slope_at(**at(dem, 0, 20)))
    both = dem.slope_at(lat=[at(dem, 20, 20)["lat"]] * 2, lon=at(dem, 20, 20)["lon"])
    assert both.shape == (2,)


def test_a_cliff_within_reach_and_one_beyond() -> None:
    z = np.full((40, 40), 500.0)
    z[:, 25:] = 440.0
    dem = ground(z)
    drop = largest_drop(dem, **at(dem, 20, 20), within_m=160.0)
    assert drop is not None
    assert drop.fall_m == pytest.approx(60.0)
    assert drop.over_m == pytest.approx(30.0, rel=0.01)
    assert drop.slope_deg == pytest.approx(63.4, abs=0.3)
    assert drop.distance_m == pytest.approx(120.0, rel=0.01)
    assert drop.top_lon < drop.foot_lon
    assert drop.unknown_share == 0.0
    near = largest_drop(dem, **at(dem, 20, 20), within_m=60.0)
    assert near is not None
    assert near.fall_m == 0.0


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_drop_is_found_on_every_side_and_on_the_diagonal(turns: int) -> None:
    z = np.full((40, 40), 500.0)
    z[np.add.outer(np.arange(40), np.arange(40)) > 41] = 470.0
    z[22, 21] = 430.0
    dem = ground(np.rot90(z, turns))
    row, col = {0: (20, 20), 1: (19, 20), 2: (19, 19), 3: (20, 19)}[turns]
    drop = largest_drop(dem, **at(dem, row, col), within_m=150.0)
    assert drop is not None
    assert drop.fall_m == pytest.approx(70.0)


def test_along_a_walk() -> None:
    z = np.full((40, 40), 500.0)
    z[30, 30] = 450.0
    dem = ground(z)
    ends = at(dem, 35, 35)
    walk = largest_drop(
        dem, **at(dem, 20, 20), end_lat=ends["lat"], end_lon=ends["lon"], within_m=20.0
    )
    assert walk is not None
    assert walk.fall_m == pytest.approx(50.0)
    assert walk.distance_m < 31.0
    aside = at(dem, 10, 35)
    other = largest_drop(
        dem, **at(dem, 20, 20), end_lat=aside["lat"], end_lon=aside["lon"], within_m=20.0
    )
    assert other is not None
    assert other.fall_m == 0.0


def test_voids_are_counted_and_all_void_is_nothing_known() -> None:
    z = np.full((40, 40), 500.0)
    z[20, 21:23] = np.nan
    dem = ground(z)
    drop = largest_drop(dem, **at(dem, 20, 20), within_m=60.0)
    assert drop is not None
    assert 0.0 < drop.unknown_share < 0.5
    assert largest_drop(ground(np.full((9, 9), np.nan)), **at(dem, 4, 4), within_m=60.0) is None


def test_questions_that_cannot_be_answered() -> None:
    dem = ground(np.full((40, 40), 500.0))
    with pytest.raises(TerrainError, match="positive"):
        largest_drop(dem, **at(dem, 20, 20), within_m=0.0)
    with pytest.raises(OutsideRasterError):
        largest_drop(dem, lat=10.0, lon=10.0, within_m=50.0)


def test_flat_ground_nearest_first() -> None:
    rng = np.random.default_rng(1)
    z = rng.uniform(400, 600, (60, 60))
    z[5:15, 5:25] = 305.0
    z[40:50, 40:50] = 312.0
    z[30, 30:33] = 333.0
    dem = ground(z)
    patches = flat_patches(dem, **at(dem, 30, 30), within_m=1500.0)
    assert [p.height_m for p in patches] == [312.0, 305.0]
    assert patches[0].area_m2 == pytest.approx(100 * 900, rel=0.01)
    assert patches[0].distance_m == pytest.approx(np.hypot(10, 10) * 30, rel=0.01)
    lat, lon = dem.grid.places(row=40, col=40)
    assert (patches[0].lat, patches[0].lon) == pytest.approx((float(lat), float(lon)))
    assert flat_patches(dem, **at(dem, 30, 30), within_m=200.0) == []
    assert flat_patches(ground(np.full((9, 9), np.nan)), **at(dem, 4, 4), within_m=60.0) == []


@pytest.mark.parametrize(("column", "found"), [(23, True), (24, False)])
def test_an_edge_in_the_cell_beyond_the_reach_is_found(column: int, *, found: bool) -> None:
    # Fifty metres asked, thirty a cell: pixels to 80 m count. Those of column 22 lie 60 m away,
    # and the edge may stand anywhere from there to column 23; those of column 23 lie 90 m away.
    z = np.full((40, 40), 500.0)
    z[:, column:] = 440.0
    dem = ground(z)
    drop = largest_drop(dem, **at(dem, 20, 20), within_m=50.0)
    assert drop is not None
    assert drop.fall_m == (60.0 if found else 0.0)


@pytest.mark.parametrize(("cells", "found"), [(8, 0), (9, 1)])
def test_fewer_than_nine_level_pixels_are_chance(cells: int, found: int) -> None:
    # Ninety metres a cell: eight of them are 64,800 square metres, larger than need be.
    z = np.random.default_rng(1).uniform(400, 600, (40, 40))
    z[20, 20 : 20 + cells] = 333.0
    coarse = Elevation.from_array(z, Affine(90, 0, 500_000, 0, -90, 4_000_000), "EPSG:32616")
    assert len(flat_patches(coarse, **at(coarse, 20, 20), within_m=500.0)) == found


@pytest.mark.parametrize(("rows", "columns", "found"), [(4, 11, 0), (5, 9, 1)])
def test_level_ground_under_four_hectares_is_not_said(rows: int, columns: int, found: int) -> None:
    # Thirty metres a cell on the map, 900.7 square metres on the ground (scale 0.9996): 44 cells
    # are 39,631 square metres, 45 are 40,532.
    z = np.random.default_rng(1).uniform(400, 600, (80, 80))
    z[20 : 20 + rows, 20 : 20 + columns] = 333.0
    dem = ground(z)
    assert len(flat_patches(dem, **at(dem, 20, 20), within_m=500.0)) == found


def test_a_gentler_fall_across_the_diagonal_does_not_hide_a_steep_one() -> None:
    # A slope of 25 degrees that faces five degrees off the row's side: down the column it falls
    # 13.9 m over 30 m (24.9 degrees), across the diagonal 15.1 m over 42.4 m (19.6 degrees).
    dem = ground(plane(25.0, 5.0))
    plain = largest_drop(dem, **at(dem, 20, 20), within_m=60.0)
    steep = largest_drop(dem, **at(dem, 20, 20), within_m=60.0, least_slope_deg=20.0)
    assert plain is not None
    assert steep is not None
    assert (plain.fall_m, plain.slope_deg) == pytest.approx((15.15, 19.7), abs=0.06)
    assert (steep.fall_m, steep.slope_deg) == pytest.approx((13.94, 24.9), abs=0.06)
    assert largest_drop(dem, **at(dem, 20, 20), within_m=60.0, least_slope_deg=26.0) is None


@given(
    count=st.integers(1, 60),
    pairs=st.lists(st.tuples(st.integers(0, 59), st.integers(0, 59)), max_size=80),
)
def test_joined_pixels_are_scipys_connected_components(
    count: int, pairs: list[tuple[int, int]]
) -> None:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    ends = np.array([p for p in pairs if max(p) < count], dtype=np.intp).reshape(-1, 2).T
    graph = coo_array((np.ones(ends.shape[1]), (ends[0], ends[1])), (count, count))
    theirs = connected_components(graph, directed=False)[1]
    smallest = np.full(count, count)
    np.minimum.at(smallest, theirs, np.arange(count))
    np.testing.assert_array_equal(slope_and_drops._level_ground(ends, count), smallest[theirs])
