"""The plane about a point: there and back, far data, and the quick rule for near pairs."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.geodesy import line_between
from backbearing.base.local_plane import LocalPlane, offsets_m

PLACES = st.tuples(st.floats(-80.0, 80.0), st.floats(-180.0, 180.0))
METRES = st.floats(-50_000.0, 50_000.0)


@given(PLACES, METRES, METRES)
def test_metres_come_back_from_their_place(
    place: tuple[float, float], east: float, north: float
) -> None:
    plane = LocalPlane(*place)
    lat, lon = plane.places(east_m=east, north_m=north)
    found = plane.metres(lat=lat, lon=lon)
    assert np.array(found) == pytest.approx(np.array([east, north]), abs=1e-6)


def test_unknown_places_are_nowhere() -> None:
    east, north = LocalPlane(36.0, -84.0).metres(lat=[36.0, np.nan], lon=[np.nan, -84.0])
    assert np.isnan(east).all()
    assert np.isnan(north).all()


def test_geometries_go_there_and_back_one_or_many() -> None:
    plane = LocalPlane(36.0, -84.0)
    line = shapely.LineString([(-84.0, 36.0), (-84.01, 36.02)])
    area = shapely.box(-84.1, 35.9, -84.0, 36.0)
    both = plane.to_plane(np.array([line, area], dtype=object))
    assert both[0].equals(plane.to_plane(line))
    back = plane.to_earth(both)
    assert back[1].equals_exact(area, 1e-9)


def test_about_the_middle_even_across_the_antimeridian() -> None:
    shapes = [shapely.Point(179.0, 10.0), shapely.Point(-179.0, 10.0)]
    plane = LocalPlane.about(shapes)
    assert abs(plane.lon) == pytest.approx(180.0, abs=1e-9)
    assert plane.lat == pytest.approx(10.0, abs=0.01)
    # One degree of longitude at 10 degrees north is 109.6 km on the ellipsoid.
    assert plane.reach_m(shapes) == pytest.approx(109_640.0, rel=5e-3)


@given(PLACES, st.floats(-2000.0, 2000.0), st.floats(-2000.0, 2000.0))
def test_the_quick_rule_is_as_good_as_it_says(
    place: tuple[float, float], east: float, north: float
) -> None:
    lat1, lon1 = (np.array([v]) for v in place)
    lat2, lon2 = LocalPlane(*place).places(east_m=np.array([east]), north_m=np.array([north]))
    found = np.array(offsets_m(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2))[:, 0]
    away = float(line_between(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2).distance_m[0])
    assert float(np.hypot(*found)) == pytest.approx(away, rel=0.006, abs=1e-6)
    assert float(np.hypot(*(found - [east, north]))) <= 0.007 * away + 1e-6
