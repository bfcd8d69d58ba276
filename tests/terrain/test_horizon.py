"""The skyline from a point, against closed forms, a slow march, and itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.errors import OutsideRasterError, TerrainError, VoidGroundError
from backbearing.base.geodesy import altitude_of, line_between, point_along
from backbearing.terrain import Elevation
from backbearing.terrain import chunks as chunks_module
from backbearing.terrain.reading.sources import ArraySource
from backbearing.terrain.skyline import one_eye as skyline_module

if TYPE_CHECKING:
    from collections.abc import Callable

WEST, NORTH, CELL = -84.41375, 36.44625, 1 / 1200
TRANSFORM = Affine(CELL, 0, WEST, 0, -CELL, NORTH)
METRES = Affine(30.0, 0, 500_000.0, 0, -30.0, 4_000_000.0)
MIDDLE = {"lat": 36.30, "lon": -84.25}


@pytest.fixture(params=["plain", "compiled"])
def engine(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Run a test with each of the two ways of marching."""
    compiled = request.param == "compiled"
    monkeypatch.setattr(skyline_module, "compiled_pays", lambda _: compiled)
    return str(request.param)


def around(dem: Elevation, *, lat: float, lon: float) -> tuple[np.ndarray, np.ndarray]:
    """Distance and azimuth of every pixel centre from a place."""
    row, col = np.indices(dem.shape)
    to = dem.grid.places(row=row, col=col)
    line = line_between(lat1=lat, lon1=lon, lat2=to.lat, lon2=to.lon)
    return line.distance_m, line.azimuth_deg


def built(height: Callable[..., np.ndarray], shape: tuple[int, int] = (344, 403)) -> Elevation:
    """Make ground whose height is a function of distance and azimuth from the middle."""
    flat = Elevation.from_array(np.zeros(shape), TRANSFORM, "EPSG:4326")
    return Elevation.from_array(height(*around(flat, **MIDDLE)), TRANSFORM, "EPSG:4326")


@pytest.mark.slow
@pytest.mark.parametrize("eye_m", [1.7, 10.0, 20.0])
@pytest.mark.parametrize("k", [0.0, 0.13])
def test_level_ground_shows_the_dip_of_the_sea(engine: str, eye_m: float, k: float) -> None:
    dem = built(lambda s, _: np.zeros_like(s))
    horizon = dem.horizon(**MIDDLE, eye_height_m=eye_m, refraction_k=k)
    radius = 6_371_008.8 / (1 - k)
    dip, far = np.degrees(np.arccos(radius / (radius + eye_m))), np.sqrt(2 * radius * eye_m)
    whole = horizon.reach_m > far
    assert whole.any()
    np.testing.assert_allclose(horizon.altitudes_deg[whole], -dip, atol=0.005)
    np.testing.assert_allclose(horizon.altitudes_deg[whole], -dip, atol=2e-5)
    np.testing.assert_allclose(horizon.distances_m[whole], far, rtol=0.001)


def test_a_cone_is_seen_at_its_top(engine: str) -> None:
    tip = {"lat": NORTH - CELL * 100.5, "lon": WEST + CELL * 300.5}
    flat = Elevation.from_array(np.zeros((344, 403)), TRANSFORM, "EPSG:4326")
    s, _ = around(flat, **tip)
    dem = Elevation.from_array(np.maximum(0.0, 800.0 - s / 4.0), TRANSFORM, "EPSG:4326")
    line = line_between(lat1=MIDDLE["lat"], lon1=MIDDLE["lon"], lat2=tip["lat"], lon2=tip["lon"])
    horizon = dem.horizon(**MIDDLE, azimuths_deg=[line.azimuth_deg])
    expected = altitude_of(800.0 - 1.6, line.distance_m, 0.13)
    assert horizon.altitudes_deg[0] == pytest.approx(float(expected), abs=0.005)
    assert horizon.distances_m[0] == pytest.approx(float(line.distance_m), abs=1.0)
    assert horizon.skyline_lat[0] == pytest.approx(tip["lat"], abs=1e-5)
    assert horizon.skyline_lon[0] == pytest.approx(tip["lon"], abs=1e-5)
    assert horizon.skyline_heights_m[0] == pytest.approx(800.0, abs=0.1)


def test_a_plane_slope(engine: str) -> None:
    """Upslope the plane itself is the skyline; flat Earth, so no curvature within 30 m."""
    z = 1000.0 - np.tan(np.radians(10.0)) * METRES.e * np.arange(400)[:, None] * -1
    dem = Elevation.from_array(np.broadcast_to(z, (400, 400)), METRES, "EPSG:32616")
    lat, lon = dem.grid.places(row=200, col=200)
    up = dem.grid.places(row=199, col=200)
    north = line_between(lat1=lat, lon1=lon, lat2=up.lat, lon2=up.lon)
    scale = float(north.distance_m) / 30.0
    offsets = np.array([0.0, 30.0, 60.0])
    horizon = dem.horizon(
        lat=float(lat), lon=float(lon), azimuths_deg=north.azimuth_deg + offsets,
        eye_height_m=0.0, max_distance_m=100.0,
    )  # fmt: skip
    grade = np.tan(np.radians(10.0)) / scale
    expected = np.degrees(np.arctan(grade * np.cos(np.radians(offsets))))
    np.testing.assert_allclose(horizon.altitudes_deg, expected, atol=0.005)


@pytest.mark.parametrize(("relief", "power"), [(150.0, 2.2), (2500.0, 1.7)])
def test_never_below_a_slow_march_and_hardly_above(
    engine: str, rough: Callable[..., np.ndarray], march: Callable[..., tuple[float, float]],
    relief: float, power: float,
) -> None:  # fmt: skip
    """From 100 m out a march at 0.005 cell is nearly converged; it can only be too low."""
    z = rough(344, 403, relief_m=relief, power=power, seed=4)
    dem = Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    azimuths = np.arange(3.0, 360.0, 41.0)
    found = dem.horizon(**MIDDLE, azimuths_deg=azimuths, min_distance_m=100.0)
    slow = np.array(
        [
            march(z, WEST, NORTH, CELL, **MIDDLE, azimuth=a, step_m=0.4, from_m=100.0, to_m=2.4e4)
            for a in azimuths
        ]
    )
    error = found.altitudes_deg - slow[:, 0]
    assert error.min() > -5e-4
    assert error.max() < 0.01


def test_near_ground_is_exact_where_a_march_is_not(
    engine: str, rough: Callable[..., np.ndarray], march: Callable[..., tuple[float, float]]
) -> None:
    """At 1.6 m eye height a march at 0.05 cell misses near crests; one at 2 cm does not."""
    z = rough(344, 403, relief_m=2500.0, power=1.7, seed=9)
    dem = Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    azimuths = np.arange(0.0, 360.0, 24.0)
    found = dem.horizon(**MIDDLE, azimuths_deg=azimuths, max_distance_m=400.0)
    for azimuth, altitude in zip(azimuths, found.altitudes_deg, strict=True):
        fine, _ = march(
            z, WEST, NORTH, CELL, **MIDDLE, azimuth=azimuth, step_m=0.02, from_m=0.02, to_m=400.0
        )
        assert -5e-4 < altitude - fine < 0.005


def test_both_engines_agree_with_voids_and_water(
    rough: Callable[..., np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    z = rough(200, 240, relief_m=900.0, seed=2)
    rng = np.random.default_rng(0)
    z[rng.random(z.shape) < 0.003] = np.nan
    z[30:60, 150:200] = np.nan
    z[100:140, 20:60] = 0.0
    dem = Elevation.from_array(z, TRANSFORM, "EPSG:4326", sea_value=0)
    place = {"lat": NORTH - CELL * 90.3, "lon": WEST + CELL * 110.8}
    answers = []
    for compiled in (False, True):
        monkeypatch.setattr(skyline_module, "compiled_pays", lambda _, c=compiled: c)
        answers.append(dem.horizon(**place, eye_height_m=3.0, azimuths_deg=np.arange(0, 360, 0.5)))
    one, two = answers
    assert one.unknown_share.max() > 0.1
    for name, tolerance in (
        ("altitudes_deg", 1e-9), ("distances_m", 1e-6), ("unknown_share", 1e-9),
        ("unknown_from_m", 1e-6), ("reach_m", 1e-9),
    ):  # fmt: skip
        np.testing.assert_allclose(getattr(one, name), getattr(two, name), atol=tolerance)


def test_pieces_of_a_large_raster_give_the_same_skyline(
    engine: str, rough: Callable[..., np.ndarray], monkeypatch: pytest.MonkeyPatch
) -> None:
    z = rough(250, 310, relief_m=700.0, seed=3)
    z[200:210, 30:50] = np.nan
    whole = Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    monkeypatch.setattr(chunks_module, "PIECE", 48)
    monkeypatch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    monkeypatch.setattr(chunks_module, "KEEP_BYTES", 100_000)
    monkeypatch.setattr(ArraySource, "array", property(lambda _: None))
    pieces = Elevation(ArraySource(whole.grid, z))
    place = {"lat": NORTH - CELL * 120.3, "lon": WEST + CELL * 144.2}
    one = whole.horizon(**place)
    for _ in range(2):
        many = pieces.horizon(**place)
        np.testing.assert_allclose(many.altitudes_deg, one.altitudes_deg, atol=1e-9)
        np.testing.assert_allclose(many.distances_m, one.distances_m, atol=1e-6)
        np.testing.assert_allclose(many.unknown_share, one.unknown_share, atol=1e-9)
        np.testing.assert_allclose(many.unknown_from_m, one.unknown_from_m, atol=1e-6)
    few = pieces.horizon(**place, azimuths_deg=[33.0, 213.0])
    assert few.altitudes_deg == pytest.approx(whole.horizon(**place).altitudes_deg[[33, 213]])


@pytest.mark.parametrize("crs", ["EPSG:32616", "EPSG:3857", "EPSG:5070", "EPSG:32618"])
def test_azimuths_are_true_in_any_reference_system(engine: str, crs: str) -> None:
    """A lone peak is found on its geodesic azimuth, however far grid north is off."""
    from pyproj import Transformer

    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(-84.25, 36.30)
    dem = Elevation.from_array(
        np.zeros((600, 600)), Affine(60, 0, x - 18_000, 0, -60, y + 18_000), crs
    )
    for azimuth in (31.0, 143.0, 256.0):
        end = point_along(lat=36.30, lon=-84.25, azimuth_deg=azimuth, distance_m=12_000.0)
        row, col = (round(float(v)) for v in dem.grid.pixels(lat=end.lat, lon=end.lon))
        z = np.zeros((600, 600))
        z[row, col] = 500.0
        peak = Elevation.from_array(z, dem.transform, crs)
        top = dem.grid.places(row=row, col=col)
        line = line_between(lat1=36.30, lon1=-84.25, lat2=top.lat, lon2=top.lon)
        asked = float(line.azimuth_deg) + np.arange(-0.2, 0.201, 0.01)
        horizon = peak.horizon(lat=36.30, lon=-84.25, azimuths_deg=asked)
        best = int(np.argmax(horizon.altitudes_deg))
        assert asked[best] == pytest.approx(float(line.azimuth_deg), abs=0.011)
        assert horizon.distances_m[best] == pytest.approx(float(line.distance_m), rel=2e-4)


@pytest.mark.parametrize("lat", [70.2, -65.3, 0.1])
def test_far_rays_bend_as_geodesics_do(engine: str, lat: float) -> None:
    """A thin ridge 80 km off stands where the geodesic says, to a tenth of a cell."""
    step = 1 / 600
    transform = Affine(step, 0, 20.0, 0, -step, lat + 0.3)
    z = np.zeros((360, 1900))
    dem = Elevation.from_array(z, transform, "EPSG:4326")
    end = point_along(lat=lat, lon=20.5, azimuth_deg=88.0, distance_m=80_000.0)
    at = dem.grid.pixels(lat=end.lat, lon=end.lon)
    z[:, round(float(at.col))] = 4000.0
    high = Elevation.from_array(z, transform, "EPSG:4326")
    horizon = high.horizon(lat=lat, lon=20.5, azimuths_deg=[88.0])
    pixel = high.grid.pixels(lat=horizon.skyline_lat, lon=horizon.skyline_lon)
    assert pixel.col[0] == pytest.approx(round(float(at.col)), abs=0.1)
    on_ray = point_along(lat=lat, lon=20.5, azimuth_deg=88.0, distance_m=horizon.distances_m[0])
    assert float(on_ray.lat) == pytest.approx(float(horizon.skyline_lat[0]), abs=1e-9)
    assert horizon.altitudes_deg[0] == pytest.approx(
        float(altitude_of(4000.0 - 1.6, horizon.distances_m[0], 0.13)), abs=1e-4
    )


def test_a_turned_or_south_up_raster_shows_the_same_skyline(
    engine: str, rough: Callable[..., np.ndarray]
) -> None:
    z = rough(120, 160, relief_m=600.0, seed=8)
    plain = Elevation.from_array(z, TRANSFORM, "EPSG:4326")
    flipped = Elevation.from_array(
        z[::-1], Affine(CELL, 0, WEST, 0, CELL, NORTH - 120 * CELL), "EPSG:4326"
    )
    turned = Elevation.from_array(
        np.rot90(z), Affine(0, -CELL, WEST + 160 * CELL, -CELL, 0, NORTH), "EPSG:4326"
    )
    place = {"lat": NORTH - CELL * 60.3, "lon": WEST + CELL * 80.2}
    expected = plain.horizon(**place)
    for other in (flipped, turned):
        found = other.horizon(**place)
        np.testing.assert_allclose(found.altitudes_deg, expected.altitudes_deg, atol=1e-5)
        np.testing.assert_allclose(found.reach_m, expected.reach_m, atol=0.01)


def test_beside_the_seam_of_a_raster_around_the_world(engine: str) -> None:
    z = np.full((180, 1440), 500.0)
    world = Elevation.from_array(z, Affine(0.25, 0, -180, 0, -0.25, 22.5), "EPSG:4326")
    horizon = world.horizon(lat=0.1, lon=179.5, azimuths_deg=[90.0, 270.0])
    assert horizon.reach_m[0] == pytest.approx(0.375 * 111_319.5, rel=1e-4)
    assert horizon.reach_m[1] == 100_000.0
    assert horizon.altitudes_deg == pytest.approx(-0.038, abs=0.001)


def test_a_far_ridge_behind_a_near_one(engine: str) -> None:
    dem = built(lambda s, _: np.where(np.abs(s - 2000) < 120, 60.0, 0.0) + 300.0 * (s > 10_000))
    horizon = dem.horizon(**MIDDLE, azimuths_deg=[10.0, 100.0])
    assert (np.abs(horizon.distances_m - 2000) < 220).all()
    beyond = dem.horizon(**MIDDLE, azimuths_deg=[10.0, 100.0], min_distance_m=3000.0)
    assert (beyond.distances_m > 9_800).all()
    assert (beyond.altitudes_deg < horizon.altitudes_deg).all()


def test_eye_on_the_outermost_pixel_centres(engine: str) -> None:
    dem = built(lambda s, _: np.full_like(s, 300.0))
    corner = {"lat": NORTH - CELL / 2, "lon": WEST + CELL / 2}
    horizon = dem.horizon(**corner, azimuths_deg=[45.0, 135.0, 225.0, 315.0])
    assert horizon.reach_m[[0, 2, 3]] == pytest.approx(0.0, abs=0.1)
    assert np.isnan(horizon.altitudes_deg[[0, 2, 3]]).all()
    assert horizon.unknown_share[[0, 2, 3]] == pytest.approx(1.0)
    assert horizon.altitudes_deg[1] < 0.0
    assert horizon.unknown_share[1] == 0.0


def test_how_far_the_raster_reached(engine: str) -> None:
    dem = built(lambda s, _: np.full_like(s, 300.0))
    horizon = dem.horizon(**MIDDLE)
    ends = point_along(
        lat=MIDDLE["lat"], lon=MIDDLE["lon"], azimuth_deg=horizon.azimuths_deg,
        distance_m=horizon.reach_m,
    )  # fmt: skip
    pixel = dem.grid.pixels(lat=ends.lat, lon=ends.lon)
    off = np.stack([pixel.row, 343 - pixel.row, pixel.col, 402 - pixel.col]).min(axis=0)
    np.testing.assert_allclose(off, 0.0, atol=1e-4)
    assert dem.horizon(**MIDDLE, max_distance_m=5000.0).reach_m == pytest.approx(5000.0)


def test_a_measured_ground_below_the_rasters(engine: str) -> None:
    dem = built(lambda s, _: 500.0 + 200.0 * (s > 5000))
    own = dem.horizon(**MIDDLE)
    same = dem.horizon(**MIDDLE, ground_m=500.0)
    np.testing.assert_allclose(same.altitudes_deg, own.altitudes_deg)
    lower = dem.horizon(**MIDDLE, ground_m=495.0)
    assert lower.min_distance_m == pytest.approx(dem.cell_size_m)
    assert lower.altitudes_deg.max() < 4.0
    told = dem.horizon(**MIDDLE, ground_m=495.0, min_distance_m=20.0)
    assert told.min_distance_m == 20.0


def test_what_is_refused() -> None:
    dem = built(lambda s, _: np.where(s < 200, np.nan, 300.0))
    with pytest.raises(VoidGroundError, match="ground_m"):
        dem.horizon(**MIDDLE)
    with pytest.raises(OutsideRasterError, match=r"spans lat 36\.159"):
        dem.horizon(lat=-84.25, lon=36.30)
    with pytest.raises(TerrainError, match="lat is nan"):
        dem.horizon(lat=float("nan"), lon=36.30)
    place = {"lat": 36.35, "lon": -84.3}
    for wrong, message in (
        ({"eye_height_m": -1.0}, "eye_height_m"),
        ({"max_distance_m": 0.0}, "max_distance_m"),
        ({"refraction_k": 1.0}, "refraction_k"),
        ({"min_distance_m": 2e5}, "min_distance_m"),
        ({"azimuths_deg": []}, "azimuths_deg"),
        ({"azimuths_deg": [np.nan]}, "azimuths_deg"),
        ({"azimuths_deg": [[1.0]]}, "azimuths_deg"),
        ({"eye_height_m": float("nan")}, "eye_height_m"),
    ):
        with pytest.raises(TerrainError, match=message):
            dem.horizon(**place, **wrong)


@pytest.mark.slow
def test_poles_are_refused_with_a_sentence() -> None:
    step = 0.01
    cap = Elevation.from_array(
        np.zeros((300, 36_000), dtype=np.float32), Affine(step, 0, -180, 0, -step, 90), "EPSG:4326"
    )
    with pytest.raises(TerrainError, match="pole"):
        cap.horizon(lat=89.5, lon=0.0)
    with pytest.raises(TerrainError, match="pole"):
        cap.horizon(lat=88.5, lon=0.0, max_distance_m=400_000.0)
    near = cap.horizon(lat=87.5, lon=0.0, max_distance_m=20_000.0)
    assert np.isfinite(near.altitudes_deg).all()
    polar = Elevation.from_array(
        np.zeros((400, 400)), Affine(1500, 0, -300_000, 0, -1500, 300_000), "EPSG:3413"
    )
    place = polar.grid.places(row=300, col=200)
    over = polar.horizon(lat=float(place.lat), lon=float(place.lon), max_distance_m=20_000.0)
    assert over.lat < 89.0
    assert np.isfinite(over.altitudes_deg).all()
    with pytest.raises(TerrainError, match="pole"):
        polar.horizon(lat=89.7, lon=10.0)


def test_a_scalar_azimuth_and_wrapped_ones() -> None:
    dem = built(lambda s, az: 300.0 + 100.0 * (s > 3000) * (az > 180))
    one = dem.horizon(**MIDDLE, azimuths_deg=270.0)
    assert one.altitudes_deg.shape == (1,)
    wrapped = dem.horizon(**MIDDLE, azimuths_deg=[-90.0, 630.0])
    np.testing.assert_allclose(wrapped.azimuths_deg, 270.0)
    np.testing.assert_allclose(wrapped.altitudes_deg, one.altitudes_deg[0])


def test_an_answer_cannot_be_changed() -> None:
    dem = built(lambda s, _: np.zeros_like(s))
    asked = np.arange(0.0, 360.0, 10.0)
    horizon = dem.horizon(**MIDDLE, azimuths_deg=asked)
    with pytest.raises(ValueError, match="read-only"):
        horizon.altitudes_deg[0] = 5.0
    asked[0] = 77.0
    assert horizon.azimuths_deg[0] == 0.0
