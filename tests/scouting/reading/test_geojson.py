"""Candidates from GeoJSON: geometries of every kind, systems, and what is no GeoJSON."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from backbearing.base.errors import OutingError
from backbearing.scouting.reading.candidates import read_candidates


def collection(*features, **more):
    return {"type": "FeatureCollection", "features": list(features), **more}


def feature(geometry, **properties):
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def point(lon, lat):
    return {"type": "Point", "coordinates": [lon, lat]}


@pytest.fixture
def read(tmp_path):
    def go(document):
        path = tmp_path / "list.geojson"
        path.write_text(document if isinstance(document, str) else json.dumps(document))
        return read_candidates(path)

    return go


def square(lat, lon, metres):
    """A square about a place, its side in metres on the WGS84 ellipsoid by its radii."""
    a, e2 = 6378137.0, 0.00669437999014
    w = 1.0 - e2 * math.sin(math.radians(lat)) ** 2
    dy = math.degrees(metres / 2.0 / (a * (1.0 - e2) / w**1.5))
    dx = math.degrees(metres / 2.0 / (a / math.sqrt(w) * math.cos(math.radians(lat))))
    ring = [(lon - dx, lat - dy), (lon + dx, lat - dy), (lon + dx, lat + dy), (lon - dx, lat + dy)]
    return {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}


def test_an_outline_gives_its_middle_and_its_mean_width(read):
    found = read(collection(feature(square(45.0, 7.0, 10.0), name="Barn", kind="barn")))
    row = found.frame.iloc[0]
    assert row.geometry.y == pytest.approx(45.0, abs=1e-9)
    assert row.geometry.x == pytest.approx(7.0, abs=1e-9)
    # A square's width, seen from all sides in turn, is 4 / pi of its side on the mean.
    assert row["width_m"] == pytest.approx(40.0 / math.pi, rel=1e-4)
    assert not row["width_is_guess"]
    assert found.notes[0].startswith("1 line or area stands at a point on it")


def test_the_mean_width_is_that_over_all_directions(read):
    ring = [(7.0, 45.0), (7.0002, 45.0), (7.00025, 45.0001), (7.0001, 45.0003), (7.0, 45.0)]
    found = read(collection(feature({"type": "Polygon", "coordinates": [ring]})))
    lat = np.array([p[1] for p in ring])
    xy = np.column_stack(
        [
            [math.radians(p[0] - 7.0) * 6388838.29 * math.cos(math.radians(45.0)) for p in ring],
            np.radians(lat - 45.0) * 6367381.8,
        ]
    )
    turns = np.radians(np.arange(0.0, 180.0, 0.01))
    across = xy @ np.array([np.cos(turns), np.sin(turns)])
    mean = float(np.mean(across.max(axis=0) - across.min(axis=0)))
    assert found.frame["width_m"][0] == pytest.approx(mean, rel=1e-4)


def test_a_point_lies_on_a_shape_that_bends_around_its_middle(read):
    from shapely.geometry import Point, shape

    ring = [(0, 0), (3, 0), (3, 3), (2, 3), (2, 1), (1, 1), (1, 3), (0, 3), (0, 0)]
    bent = {"type": "Polygon", "coordinates": [[[7 + x * 1e-4, 45 + y * 1e-4] for x, y in ring]]}
    spot = read(collection(feature(bent, kind="ruin"))).frame.geometry[0]
    assert shape(bent).covers(Point(spot.x, spot.y))


@pytest.mark.parametrize(
    "geometry",
    [
        {"type": "LineString", "coordinates": [[7, 45], [7.0001, 45]]},
        {"type": "MultiPoint", "coordinates": [[7, 45], [7.0001, 45]]},
        {"type": "MultiPolygon", "coordinates": [square(45, 7, 9)["coordinates"]]},
        {"type": "GeometryCollection", "geometries": [point(7, 45), square(45, 7, 9)]},
        {"type": "LineString", "coordinates": [[7, 45], [7, 45]]},
        {"type": "Polygon", "coordinates": [[[7, 45], [7.0001, 45], [7, 45], [7, 45]]]},
        {"type": "Polygon", "coordinates": [[[7, 45], [7.1, 45.1], [7.1, 45], [7, 45.1], [7, 45]]]},
        {"type": "Point", "coordinates": [7, 45, 1200.0]},
        {"type": "Point", "coordinates": [7, 45, None]},
    ],
)
def test_other_geometries_stand_at_a_point_or_are_said(read, geometry):
    found = read(collection(feature(geometry, kind="rock")))
    assert len(found.frame) + len(found.rejected) == 1
    for spot in found.frame.geometry:
        assert 7.0 <= spot.x <= 7.1
        assert 45.0 <= spot.y <= 45.1


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        (feature(None), "it has no geometry"),
        (feature({"type": "Point", "coordinates": []}), "it has no geometry"),
        (feature({"type": "Polygon", "coordinates": []}), "it has no geometry"),
        (feature(point("7", "45")), "cannot be read"),
        (feature({"type": "Circle", "coordinates": [1, 2]}), "cannot be read"),
        (feature({"type": "Polygon", "coordinates": "x"}), "cannot be read"),
        (feature(point(7, 95)), "lies off the globe"),
        (feature(point(True, 45)), ""),
        (feature(point(7, 45), height_m="tall"), "height_m is 'tall'"),
        (feature(point(7, 45), height_m=True), "height_m is True; write a number"),
        (feature(point(7, 45), height_m=[1]), "height_m is [1]; write a number"),
        (feature(point(7, 45), width_m=10**400), "write a finite number"),
        ("no feature", "it is no GeoJSON Feature"),
        (None, "it is no GeoJSON Feature"),
        ({"type": "Point", "coordinates": [7, 45]}, "it is no GeoJSON Feature"),
    ],
)
def test_a_bad_feature_is_said_and_the_rest_goes_on(read, bad, said):
    found = read(collection(bad, feature(point(8, 46))))
    assert len(found.frame) == 1
    assert found.frame["id"][0] == "feature 2"
    assert found.rejected[0].row == 1
    assert said in found.rejected[0].reason


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999"])
def test_coordinates_that_are_no_numbers_are_said(read, number):
    for geometry in (
        f'{{"type":"Point","coordinates":[{number},45]}}',
        f'{{"type":"LineString","coordinates":[[7,45],[{number},45]]}}',
    ):
        found = read(
            '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},'
            f'"geometry":{geometry}}}]}}'
        )
        assert len(found.frame) == 0
        assert len(found.rejected) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "is not GeoJSON"),
        ("[]", "holds no list of features"),
        ('{"type":"FeatureCollection"}', "holds no list of features"),
        ('{"type":"FeatureCollection","features":{}}', "holds no list of features"),
        ('{"features":[]}', "holds no place"),
        ("[" * 100_000, "is not GeoJSON"),
        ("<OGRVRTDataSource/>", "is not GeoJSON"),
        ("null", "holds no list of features"),
    ],
)
def test_what_is_no_geojson_is_refused(read, text, said):
    with pytest.raises(OutingError, match=r"list\.geojson") as refused:
        read(text)
    assert said in str(refused.value)


def test_a_lone_feature_is_a_list_of_one(read):
    assert len(read(feature(point(7, 45), kind="tree")).frame) == 1


@pytest.mark.parametrize("name", ["urn:ogc:def:crs:OGC:1.3:CRS84", "EPSG:4326"])
def test_the_old_crs_member_may_say_wgs84(read, name):
    found = read(collection(feature(point(7, 45)), crs={"properties": {"name": name}}))
    assert found.frame.geometry.x[0] == 7.0
    assert found.notes == ()


def test_another_system_is_converted_and_said(read):
    # UTM zone 32: 500,000 m east on the central meridian, 9 degrees.
    found = read(
        collection(
            feature(point(500_000.0, 4_982_950.4)),
            crs={"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::32632"}},
        )
    )
    spot = found.frame.geometry[0]
    assert spot.x == pytest.approx(9.0, abs=1e-9)
    assert spot.y == pytest.approx(45.0, abs=1e-5)
    assert found.notes == ("The file says EPSG:32632; its places were taken to WGS84.",)


@pytest.mark.parametrize("name", ["+proj=pipeline +step +proj=x", "/etc/passwd", "EPSG:0001", None])
def test_an_odd_system_is_refused(read, name):
    with pytest.raises(OutingError, match=r"list\.geojson"):
        read(collection(feature(point(7, 45)), crs={"properties": {"name": name}}))


def test_a_wood_becomes_points_along_its_edge(read):
    found = read(
        collection(feature(square(45.0, 7.0, 299.0), kind="wood", name="Pines", width_m=300))
    )
    assert len(found.frame) == 0
    assert len(found.others) == 40
    assert set(found.others["kind"]) == {"wood"}
    assert found.others["width_m"].tolist() == [30.0] * 40
    assert found.others["id"][0] == "feature 1 edge 1"
    east = (found.others.geometry.x - 7.0).abs().max()
    assert east == pytest.approx(square(45.0, 7.0, 299.0)["coordinates"][0][1][0] - 7.0, rel=1e-6)
