"""The skyline against handbook tables, closed forms and an independent library."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.geodesy import curvature_drop_m
from backbearing.terrain import Elevation
from backbearing.terrain.slope_and_drops import flat_patches

if TYPE_CHECKING:
    from collections.abc import Callable

LAT, LON = 36.3, -84.2
RADIUS_M = 6_371_008.8
SAMPLE = Path(__file__).parents[2] / "sample_terrain" / "sample_srtm_3arcsec.tif"


def ground(height: Callable[..., np.ndarray], *, half_m: float, cell_m: float) -> Elevation:
    """Make ground from a function of metres east and north of the eye.

    In an azimuthal equidistant projection about the eye, distances and azimuths from it
    are those of the geodesic (Snyder, Map Projections, USGS PP 1395, 1987, p. 191), so
    that a pixel lies at exactly the distance that a worked example names.
    """
    n = round(half_m / cell_m)
    axis = np.arange(-n, n + 1) * cell_m
    z = height(axis[None, :], -axis[:, None]) + np.zeros((axis.size, axis.size))
    corner = -(n + 0.5) * cell_m
    crs = f"+proj=aeqd +lat_0={LAT} +lon_0={LON} +datum=WGS84 +units=m +type=crs"
    return Elevation.from_array(z, Affine(cell_m, 0, corner, 0, -cell_m, -corner), crs)


def sea(half_m: float, cell_m: float) -> Elevation:
    return ground(lambda x, y: 0.0 * x * y, half_m=half_m, cell_m=cell_m)


# Dip of the sea horizon and its distance: acos(Re / (Re + h)) and sqrt(2 Re h) with
# Re = 6371008.8 m / (1 - k), closed forms (any handbook of navigation); k = 0, 0.13, 1/7.
# Tolerance 0.005 degree (0.3 arcminute): the parabola of curvature parts from the circle by
# 0.01 arcminute at 2,000 m.
DIP_ARCMIN = {
    1.7: (2.511, 2.342, 2.325),
    10.0: (6.091, 5.681, 5.639),
    100.0: (19.261, 17.966, 17.832),
    1000.0: (60.905, 56.809, 56.388),
    2000.0: (86.128, 80.336, 79.740),
}
DISTANCE_KM = {
    1.7: (4.654, 4.990, 5.027),
    10.0: (11.288, 12.102, 12.192),
    100.0: (35.696, 38.270, 38.556),
    1000.0: (112.881, 121.021, 121.925),
    2000.0: (159.637, 171.149, 172.428),
}


@pytest.mark.parametrize("eye_m", DIP_ARCMIN)
def test_dip_and_distance_of_the_sea_horizon(eye_m: float) -> None:
    far = 1.2 * 1000.0 * DISTANCE_KM[eye_m][2]
    dem = sea(far, far / 60.0)
    for k, dip, distance in zip(
        (0.0, 0.13, 1 / 7), DIP_ARCMIN[eye_m], DISTANCE_KM[eye_m], strict=True
    ):
        horizon = dem.horizon(
            lat=LAT, lon=LON, eye_height_m=eye_m, refraction_k=k, max_distance_m=far,
            azimuths_deg=np.arange(0.0, 360.0, 37.0),
        )  # fmt: skip
        np.testing.assert_allclose(-60.0 * horizon.altitudes_deg, dip, atol=0.02)
        np.testing.assert_allclose(horizon.distances_m / 1000.0, distance, atol=0.02)


# Bowditch, American Practical Navigator: dip 0.97 sqrt(h ft) and 1.76 sqrt(h m) arcminutes;
# Nautical Almanac 0.0293 degree sqrt(h m). The rules imply k = 0.165 to 0.168.
# Bowditch (1995, 2002), chapter 22: distance 1.17 sqrt(h ft) nautical miles, implying k = 0.173.
def test_bowditchs_rules_at_ten_metres() -> None:
    dem = sea(15_000.0, 250.0)
    dip = dem.horizon(lat=LAT, lon=LON, eye_height_m=10.0, refraction_k=0.1665)
    np.testing.assert_allclose(-60.0 * dip.altitudes_deg, 5.57, atol=0.02)
    np.testing.assert_allclose(-dip.altitudes_deg, 0.0293 * np.sqrt(10.0), atol=0.0005)
    far = dem.horizon(lat=LAT, lon=LON, eye_height_m=10.0, refraction_k=0.173)
    np.testing.assert_allclose(far.distances_m / 1000.0, 12.411, atol=0.02)


# Ghilani and Wolf, Elementary Surveying: curvature and refraction 0.0675 K^2 metres (k = 0.14),
# and the rule 0.0673 D^2 for refraction of one seventh of the curvature; k = 0: 0.0785.
@pytest.mark.parametrize(
    ("k", "metres_per_km2"), [(0.0, 0.07848), (0.13, 0.06828), (0.14, 0.06749), (1 / 7, 0.06727)]
)
def test_the_surveyors_rule_of_curvature_and_refraction(k: float, metres_per_km2: float) -> None:
    assert float(curvature_drop_m(1000.0, k)) == pytest.approx(metres_per_km2, abs=0.00005)
    drop = 100.0 * metres_per_km2
    ridge = ground(lambda _, y: np.where(y == 10_000.0, 60.0, 0.0), half_m=12_000.0, cell_m=250.0)
    horizon = ridge.horizon(lat=LAT, lon=LON, eye_height_m=2.0, refraction_k=k, azimuths_deg=[0.0])
    seen = 58.0 - 10_000.0 * np.tan(np.radians(horizon.altitudes_deg[0]))
    assert seen == pytest.approx(drop, abs=0.006)


# Closed form on a sphere with refraction: atan2((Re + H) cos g - (Re + h), (Re + H) sin g),
# g = s / Re, Re = R / (1 - k). Tolerance 0.005 degree; the parabola alone parts by 0.001.
@pytest.mark.parametrize(
    ("eye_m", "top_m", "distance_m", "k", "altitude_deg"),
    [
        (0.0, 100.0, 1000.0, 0.13, 5.70664),
        (1.7, 500.0, 10_000.0, 0.0, 2.80761),
        (1.7, 500.0, 10_000.0, 0.13, 2.81347),
        (1.7, 500.0, 10_000.0, 1 / 7, 2.81405),
        (1000.0, 3000.0, 50_000.0, 0.13, 2.09437),
        (2.0, 2.0, 5000.0, 0.13, -0.01956),
    ],
)
@pytest.mark.parametrize("azimuth", [0.0, 90.0, 180.0, 270.0])
def test_a_top_on_the_round_earth(
    eye_m: float, top_m: float, distance_m: float, k: float, altitude_deg: float, azimuth: float
) -> None:
    east, north = np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))
    dem = ground(
        lambda x, y: np.where(np.abs(x * east + y * north - distance_m) < 1e-6, top_m, -200.0),
        half_m=1.2 * distance_m,
        cell_m=distance_m / 40.0,
    )
    horizon = dem.horizon(
        lat=LAT, lon=LON, ground_m=0.0, eye_height_m=eye_m, refraction_k=k, azimuths_deg=[azimuth]
    )
    assert horizon.altitudes_deg[0] == pytest.approx(altitude_deg, abs=0.0011)
    assert horizon.distances_m[0] == pytest.approx(distance_m, abs=0.1)


# Closed form on a flat Earth (k near 1): an endless straight wall 50 m above the eye, 300 m
# off, seen b degrees aside: atan((H / d) cos b).
@pytest.mark.parametrize(
    ("aside_deg", "altitude_deg"), [(0.0, 9.4623), (30.0, 8.2132), (60.0, 4.7636), (80.0, 1.6578)]
)
@pytest.mark.parametrize("side", [-1.0, 1.0])
def test_an_endless_wall(aside_deg: float, altitude_deg: float, side: float) -> None:
    dem = ground(lambda _, y: np.where(y == 300.0, 51.6, 0.0), half_m=2000.0, cell_m=20.0)
    horizon = dem.horizon(lat=LAT, lon=LON, azimuths_deg=[side * aside_deg], refraction_k=0.99)
    assert horizon.altitudes_deg[0] == pytest.approx(altitude_deg, abs=0.001)


# Closed form on a flat Earth: an endless plane rising 10 degrees, b degrees off the way up:
# atan(tan(10 degrees) cos b).
@pytest.mark.parametrize(
    ("off_deg", "altitude_deg"),
    [(0.0, 10.0), (30.0, 8.6822), (60.0, 5.0384), (90.0, 0.0), (150.0, -8.6822)],
)
def test_an_endless_slope(off_deg: float, altitude_deg: float) -> None:
    rise = np.tan(np.radians(10.0))
    dem = ground(lambda _, y: 500.0 + rise * y, half_m=1500.0, cell_m=30.0)
    horizon = dem.horizon(
        lat=LAT, lon=LON, azimuths_deg=[off_deg], eye_height_m=0.0, refraction_k=0.99
    )
    assert horizon.altitudes_deg[0] == pytest.approx(altitude_deg, abs=0.001)


# Closed form: a farther ridge is hidden iff dh1/s1 - (1-k) s1/2R > dh/s - (1-k) s/2R.
@pytest.mark.parametrize("near_m", [80.0, 95.0, 99.0, 101.0, 105.0, 130.0])
def test_which_of_two_ridges_makes_the_skyline(near_m: float) -> None:
    def tangent(rise: float, s: float) -> float:
        return rise / s - 0.87 * s / (2 * RADIUS_M)

    far_m = 8000.0 * (tangent(98.4, 4000.0) + 0.87 * 8000.0 / (2 * RADIUS_M)) + 1.6
    dem = ground(
        lambda _, y: np.where(y == 4000.0, near_m, 0.0) + np.where(y == 8000.0, far_m, 0.0),
        half_m=9000.0,
        cell_m=100.0,
    )
    found = dem.horizon(lat=LAT, lon=LON, azimuths_deg=[0.0]).distances_m[0]
    hidden = tangent(near_m - 1.6, 4000.0) > tangent(far_m - 1.6, 8000.0)
    assert found == pytest.approx(4000.0 if hidden else 8000.0, abs=1.0)


# pymap3d 3.2 (ellipsoidal, no refraction), geodetic2aer: azimuth and altitude of a top.
# Tolerance 0.003 degree: the sphere of mean radius against the ellipsoid.
@pytest.mark.parametrize(
    ("here", "there"),
    [
        ((36.0, -117.0, 800.0), (36.05, -116.95, 1600.0)),
        ((36.0, -117.0, 800.0), (36.3, -117.2, 3000.0)),
        ((-31.0, 149.0, 400.0), (-31.2, 149.1, 900.0)),
        ((64.0, -19.0, 10.0), (64.4, -18.5, 1500.0)),
        ((0.0, 37.0, 1700.0), (0.45, 37.0, 1900.0)),
    ],
)
def test_a_lone_top_against_pymap3d(
    here: tuple[float, float, float], there: tuple[float, float, float]
) -> None:
    pymap3d = pytest.importorskip("pymap3d")
    azimuth, altitude, _ = pymap3d.geodetic2aer(*there, *here)
    cell = 1 / 200
    west, north = min(here[1], there[1]) - 20.5 * cell, max(here[0], there[0]) + 20.5 * cell
    rows = round((north - min(here[0], there[0])) / cell) + 21
    cols = round((max(here[1], there[1]) - west) / cell) + 21
    z = np.zeros((rows, cols))
    z[round((north - there[0]) / cell - 0.5), round((there[1] - west) / cell - 0.5)] = there[2]
    dem = Elevation.from_array(z, Affine(cell, 0, west, 0, -cell, north), "EPSG:4326")
    assert float(dem.height_at(lat=there[0], lon=there[1])) == pytest.approx(there[2], rel=1e-6)
    horizon = dem.horizon(
        lat=here[0], lon=here[1], ground_m=here[2], eye_height_m=0.0, refraction_k=0.0,
        azimuths_deg=[azimuth],
    )  # fmt: skip
    assert horizon.altitudes_deg[0] == pytest.approx(altitude, abs=0.003)


# Norris Lake, Tennessee: surface at 1,020 ft or 311 m (Wikipedia), some 29 ft or 9 m lower in
# winter (hickorystar.com after the Tennessee Valley Authority); the sample's radar flew then.
def test_norris_lake_lies_flat_on_the_sample() -> None:
    dem = Elevation.open(SAMPLE)
    patches = flat_patches(dem, lat=36.27, lon=-84.12, within_m=2500.0, min_area_m2=500_000.0)
    assert patches
    assert patches[0].height_m == pytest.approx(305.0, abs=6.0)
