"""Ways, parking, water and land about many places at once."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiLineString, Point, Polygon, box

from backbearing.base.errors import OutingError
from backbearing.base.geodesy import line_between, point_along
from backbearing.land.closed_ground import on_closed_ground
from backbearing.plan.place import Place
from backbearing.scouting.site.ways import Ways


def place(kind, shape, name="", access="unknown"):
    return Place(kind, name, "", access, shape)


def test_the_nearest_way_is_as_far_as_the_ellipsoid_says():
    spot = Point(-84.36, 36.37)
    ways = Ways((place("parking", spot, "Ford"),))
    lat = np.array([36.37, 36.40, 36.1, 36.37])
    lon = np.array([-84.30, -84.36, -84.2, -84.36])
    near = ways.nearest_way(lat=lat, lon=lon)
    true = line_between(lat1=lat, lon1=lon, lat2=36.37, lon2=-84.36).distance_m
    assert near.distance_m == pytest.approx(true, abs=1e-3)
    assert near.name.tolist() == ["Ford"] * 4
    assert near.distance_m[3] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.slow
@given(
    lat0=st.floats(-80, 80),
    lon0=st.floats(-180, 180),
    azimuth=st.floats(0, 360),
    away=st.floats(1.0, 20_000.0),
)
def test_a_spot_beside_a_long_straight_track_is_as_far_as_it_was_put(lat0, lon0, azimuth, away):
    ends = point_along(lat=lat0, lon=lon0, azimuth_deg=[azimuth, azimuth + 180], distance_m=300.0)
    if np.abs(np.diff(ends.lon))[0] > 180.0:
        return
    track = LineString(np.column_stack([ends.lon, ends.lat]))
    spot = point_along(lat=lat0, lon=lon0, azimuth_deg=azimuth + 90.0, distance_m=away)
    found = Ways((place("track", track),)).nearest_way_m(lat=spot.lat, lon=spot.lon)
    assert found[0] == pytest.approx(away, rel=2e-3, abs=0.5)


def test_across_the_antimeridian_the_way_is_near():
    ways = Ways((place("track", LineString([(179.99, 0.0), (179.9999, 0.0)])),))
    assert ways.nearest_way_m(lat=[0.0], lon=[-179.9999]) == pytest.approx(22.26, abs=0.1)


def test_far_from_the_middle_of_wide_data_the_distance_still_holds():
    tracks = [place("track", LineString([(lon, 45), (lon, 45.1)])) for lon in (-10.0, 0.0, 25.0)]
    found = Ways(tuple(tracks)).nearest_way_m(lat=[45.05], lon=[25.01])
    true = line_between(lat1=45.05, lon1=25.01, lat2=45.05, lon2=25.0).distance_m
    assert found[0] == pytest.approx(float(true), rel=2e-3)


def test_data_over_half_the_globe_are_refused():
    ways = Ways((place("track", Point(0, 0)), place("track", Point(90, 0))))
    with pytest.raises(OutingError, match="km from their middle"):
        ways.nearest_way_m(lat=[0.0], lon=[0.0])


def test_without_data_or_far_from_them_the_distance_is_unknown():
    lat, lon = [36.0, np.nan], [-84.0, -84.0]
    empty = Ways(())
    assert np.isnan(empty.nearest_way_m(lat=lat, lon=lon)).all()
    assert empty.nearest_way(lat=lat, lon=lon).name.tolist() == ["", ""]
    assert empty.land_of(lat=lat, lon=lon).access.tolist() == ["unknown", "unknown"]
    assert not empty.on_closed_ground(lat=lat, lon=lon).any()
    assert not empty.water_within(lat=lat, lon=lon, distance_m=1e6).any()
    assert not empty.has("track")
    some = Ways((place("water", Point(-84.0, 36.0)), place("track", Point(-83.0, 36.0))))
    assert np.isnan(some.nearest_way_m(lat=lat, lon=lon)).all()
    assert some.nearest_water(lat=lat, lon=lon).distance_m[0] < 1e-6
    assert np.isnan(some.nearest_water(lat=lat, lon=lon).distance_m[1])
    assert np.isnan(some.nearest_parking_m(lat=lat, lon=lon)).all()


def test_tracks_and_parking_are_told_apart():
    ways = Ways(
        (
            place("track", MultiLineString([[(7, 45), (7, 45.01)]]), "Lane"),
            place("parking", box(7.01, 45.0, 7.011, 45.001), "Field edge"),
            place("note", Point(7.0, 45.0), "no way"),
        )
    )
    spot = {"lat": [45.0005], "lon": [7.0095]}
    assert ways.nearest_way(**spot).name[0] == "Field edge"
    assert ways.nearest_track_m(**spot)[0] > 700.0
    assert ways.nearest_parking(**spot).name[0] == "Field edge"
    assert ways.nearest_parking_m(lat=[45.0005], lon=[7.0105])[0] < 1e-6


def test_where_lands_overlap_the_gravest_word_counts():
    lands = (
        place("land", box(0, 0, 4, 4), "Moor", "open"),
        place("land", box(1, 0, 4, 4), "Enclosure"),
        place("land", box(2, 0, 4, 4), "Farm", "ask first"),
        place("land", box(3, 0, 4, 4), "Range", "closed"),
    )
    for order in (lands, lands[::-1]):
        land = Ways(order).land_of(lat=[1.0] * 5, lon=[0.5, 1.5, 2.5, 3.5, 9.0])
        assert land.access.tolist() == ["open", "unknown", "ask first", "closed", "unknown"]
        assert land.name.tolist() == ["Moor", "Enclosure", "Farm", "Range", ""]
        assert land.named.tolist() == [True, True, True, True, False]


def test_a_broken_outline_does_no_harm():
    bow = Polygon([(0, 0), (1, 1), (1, 0), (0, 1)])
    ways = Ways((place("land", bow, "Bow", "closed"), place("water", bow)))
    assert ways.land_of(lat=[0.5], lon=[0.9]).access.tolist() == ["closed"]
    assert ways.nearest_water(lat=[0.5], lon=[0.9]).distance_m[0] < 60_000.0


def test_the_sample_bars_what_the_plan_bars(outing):
    from backbearing.land.places import read_places

    places = read_places(outing.ground.places)
    ways = Ways.read(outing.ground.places)
    rng = np.random.default_rng(7)
    lat, lon = rng.uniform(36.29, 36.315, 3000), rng.uniform(-84.195, -84.170, 3000)
    assert (
        ways.on_closed_ground(lat=lat, lon=lon) == on_closed_ground(places, lat=lat, lon=lon)
    ).all()
    assert 0.0 < ways.on_closed_ground(lat=lat, lon=lon).mean() < 1.0
    closed = [p for p in places if p.kind == "land" and p.access == "closed"]
    known = ways.land_of(lat=lat, lon=lon).access == "closed"
    assert (known == on_closed_ground(closed, lat=lat, lon=lon)).all()


def test_the_sample_is_as_far_from_water_as_the_stands_caution_says(outing):
    from backbearing.land.access import _distance_m
    from backbearing.land.places import read_places

    places = [p for p in read_places(outing.ground.places) if p.kind == "water"]
    ways = Ways.read(outing.ground.places)
    lat, lon = np.array([36.3025, 36.3040, 36.300]), np.array([-84.180, -84.1785, -84.182])
    for i, metres in enumerate(ways.nearest_water(lat=lat, lon=lon).distance_m):
        slow = min(_distance_m(p, Point(lon[i], lat[i])) for p in places)
        assert metres == pytest.approx(slow, rel=1e-4, abs=0.05)


def test_several_files_are_joined():
    one = Ways((place("track", Point(7, 45)),), "a", ("x",))
    two = Ways((place("parking", Point(7, 45)),), "b", ("y",))
    both = Ways.joined(one, two)
    assert len(both.places) == 2
    assert both.source == "a, b"
    assert both.notes == ("x", "y")
    assert both.has("parking")


def test_a_table_of_places_is_asked_for_as_a_list():
    with pytest.raises(OutingError, match=r"shape \(2, 2\)"):
        Ways(()).nearest_way_m(lat=np.zeros((2, 2)), lon=np.zeros((2, 2)))


def test_a_file_that_holds_no_ways_is_refused(tmp_path):
    path = tmp_path / "ways.txt"
    path.write_text("x")
    with pytest.raises(OutingError, match=r"ways\.txt"):
        Ways.read(path)
