"""Geodesics, curvature and dip against published lines and formulas."""

from __future__ import annotations

import math

import numpy as np
import pytest

from backbearing.base import constants
from backbearing.base.angles import angle_between_deg
from backbearing.base.geodesy import altitude_of, curvature_drop_m, line_between, point_along


def dms(degrees: float, minutes: float, seconds: float) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


# GeographicLib, GeodSolve(1) manual page, EXAMPLES: JFK to Changi on WGS84.
def test_jfk_to_changi() -> None:
    line = line_between(
        lat1=dms(40, 38, 23), lon1=-dms(73, 46, 44), lat2=dms(1, 21, 33), lon2=dms(103, 59, 22)
    )
    assert float(line.azimuth_deg) == pytest.approx(dms(3, 18, 29.9), abs=0.1 / 3600)
    assert float(line.end_azimuth_deg) == pytest.approx(dms(177, 29, 9.2), abs=0.1 / 3600)
    assert float(line.distance_m) == pytest.approx(15_347_628, abs=1.0)


# GeographicLib examples: 40.6 N 73.8 W to 51.6 N 0.5 W.
def test_geographiclib_example() -> None:
    line = line_between(lat1=40.6, lon1=-73.8, lat2=51.6, lon2=-0.5)
    assert float(line.distance_m) == pytest.approx(5_551_759.4, abs=0.05)


# ICSM Geocentric Datum of Australia Technical Manual, Flinders Peak to Buninyong (GRS80; the
# WGS84 ellipsoid differs by 0.1 mm in the minor axis, far below the tolerance).
def test_flinders_peak_to_buninyong() -> None:
    here = {"lat1": -dms(37, 57, 3.7203), "lon1": dms(144, 25, 29.5244)}
    line = line_between(**here, lat2=-dms(37, 39, 10.1561), lon2=dms(143, 55, 35.3839))
    assert float(line.distance_m) == pytest.approx(54_972.271, abs=0.001)
    assert float(line.azimuth_deg) == pytest.approx(dms(306, 52, 5.37), abs=0.005 / 3600)
    reverse = (float(line.end_azimuth_deg) + 180.0) % 360.0
    assert reverse == pytest.approx(dms(127, 10, 25.07), abs=0.005 / 3600)


# geographiclib 2.1 (C. Karney), direct problem, short and medium lines.
@pytest.mark.parametrize(
    ("lat", "lon", "azimuth", "distance", "lat2", "lon2", "azimuth2"),
    [
        (36.0, -117.0, 348.987, 8, 36.000070771, -117.00001695, 348.98699),
        (36.0, -117.0, 348.987, 33, 36.00029193, -117.000069918, 348.986959),
        (36.0, -117.0, 200, 50000, 35.576395029, -117.188660859, 199.889672),
        (-31.0, 149.0, 348.987, 33, -30.999707834, 148.999933992, 348.987034),
        (-31.0, 149.0, 60, 1000, -30.995489872, 149.009067497, 59.99533),
        (64.0, -19.0, 348.987, 33, 64.000290573, -19.000128835, 348.986884),
        (64.0, -19.0, 200, 50000, 63.578101353, -19.344303665, 199.691097),
    ],
)
def test_direct_lines(
    lat: float,
    lon: float,
    azimuth: float,
    distance: float,
    lat2: float,
    lon2: float,
    azimuth2: float,
) -> None:
    end = point_along(lat=lat, lon=lon, azimuth_deg=azimuth, distance_m=distance)
    assert float(end.lat) == pytest.approx(lat2, abs=2e-9)
    assert float(end.lon) == pytest.approx(lon2, abs=2e-9)
    assert float(end.azimuth_deg) == pytest.approx(azimuth2, abs=1e-6)


# pymap3d 3.2.0 geodetic2aer on WGS84, no refraction: the spherical parabola keeps to 0.003 degree.
@pytest.mark.parametrize(
    ("lat1", "lon1", "h1", "lat2", "lon2", "h2", "altitude"),
    [
        (36, -117, 800.0, 36.0001, -117.0, 830.0, 69.699974),
        (36, -117, 800, 36.05, -116.95, 1600, 6.352775),
        (36, -117, 800, 36.3, -117.2, 3000, 3.155811),
        (-31, 149, 400, -31.2, 149.1, 900, 1.07769),
        (64, -19, 10, 64.4, -18.5, 1500, 1.45286),
        (0, 37, 1700, 0.45, 37.0, 1700, -0.225),
    ],
)
def test_altitude_without_air(
    lat1: float, lon1: float, h1: float, lat2: float, lon2: float, h2: float, altitude: float
) -> None:
    line = line_between(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2)
    found = float(altitude_of(h2 - h1, line.distance_m, 0.0))
    assert found == pytest.approx(altitude, abs=0.003)


# Curvature and refraction, metres per square kilometre: 0.0675 (k = 0.14), Ghilani and Wolf,
# Elementary Surveying; 0.0673 with refraction a seventh of curvature, survey practice.
@pytest.mark.parametrize(
    ("k", "drop"), [(0.0, 0.07848), (0.13, 0.06828), (0.14, 0.06749), (1 / 7, 0.06727)]
)
def test_drop_at_one_kilometre(k: float, drop: float) -> None:
    assert float(curvature_drop_m(1000.0, k)) == pytest.approx(drop, abs=5e-5)


# Closed form on the sphere: atan2((Re+H) cos g - (Re+h), (Re+H) sin g), Re = R / (1 - k).
@pytest.mark.parametrize(
    ("eye", "top", "distance", "k", "altitude"),
    [
        (0, 100, 1000, 0.13, 5.70664),
        (1.7, 500, 10_000, 0.0, 2.80761),
        (1.7, 500, 10_000, 0.13, 2.81347),
        (1000, 3000, 50_000, 0.13, 2.09437),
        (2, 2, 5000, 0.13, -0.01956),
    ],
)
def test_altitude_against_the_sphere(
    eye: float, top: float, distance: float, k: float, altitude: float
) -> None:
    assert float(altitude_of(top - eye, distance, k)) == pytest.approx(altitude, abs=1e-3)


# pyproj 3.7 (PROJ's own table of ellipsoids): WGS84.
def test_the_ellipsoid_is_projs_own() -> None:
    from pyproj import Geod

    geod = Geod(ellps="WGS84")
    assert geod.a == constants.WGS84_A_M
    assert geod.es == pytest.approx(constants.WGS84_E2, rel=1e-14)
    assert (2.0 * geod.a + geod.b) / 3.0 == pytest.approx(constants.MEAN_EARTH_RADIUS_M, abs=0.05)
    # PROJ's geodesic along the first degree of a meridian.
    shortest = geod.inv(0.0, -0.5, 0.0, 0.5)[2]
    assert constants.LEAST_M_PER_LAT_DEG <= shortest < constants.LEAST_M_PER_LAT_DEG + 1.0


# astropy.constants (IAU 2012 B2, SI), and ERFA: mean sidereal time (gmst06), which turns against
# the equinox, and the Earth rotation angle (era00), which turns against the stars.
def test_light_distance_and_the_turning_sky() -> None:
    import astropy.constants
    import erfa

    assert astropy.constants.c.value == constants.LIGHT_M_S
    assert astropy.constants.au.value == constants.AU_M
    noon = 2_451_545.0
    sidereal = erfa.gmst06(noon, 0.5, noon, 0.5) - erfa.gmst06(noon, 0.0, noon, 0.0)
    rate = (sidereal % (2.0 * math.pi)) / 43_200.0
    assert pytest.approx(rate, rel=1e-9) == constants.SIDEREAL_RATE_RAD_S
    turned = erfa.era00(noon, 0.5) - erfa.era00(noon, 0.0)
    rate = (turned % (2.0 * math.pi)) / 43_200.0
    assert pytest.approx(rate, rel=3e-8) == constants.EARTH_ROTATION_RAD_S


# ERFA seps (IAU SOFA): separation of directions by vectors, not by the haversine.
def test_angles_between_directions_agree_with_sofa() -> None:
    import erfa

    rng = np.random.default_rng(11)
    lon1, lon2 = rng.uniform(-180.0, 360.0, (2, 500))
    lat1, lat2 = rng.uniform(-90.0, 90.0, (2, 500))
    lon2[:100], lat2[:100] = lon1[:100] + 1e-5, lat1[:100] + 1e-6
    found = angle_between_deg(lon1_deg=lon1, lat1_deg=lat1, lon2_deg=lon2, lat2_deg=lat2)
    theirs = np.degrees(erfa.seps(*(np.radians(v) for v in (lon1, lat1, lon2, lat2))))
    np.testing.assert_allclose(found, theirs, rtol=0.0, atol=1e-10)
