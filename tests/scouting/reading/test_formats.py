"""Candidates from GeoPackage, GPX and KML, as independent writers make them, and hostile ones."""

from __future__ import annotations

import sqlite3

import geopandas
import gpxpy.gpx
import pytest
from fastkml import kml
from fastkml.data import Data, ExtendedData
from pygeoif.geometry import Point as KmlPoint
from shapely import LineString, MultiPoint, Point, Polygon

from backbearing.base.errors import OutingError
from backbearing.scouting.reading.candidates import read_candidates

PLACES = [("Oak", 45.123456, 7.234567, "tree"), ("Señora's 麦 barn", -33.9, 151.2, "barn")]


def frame_of(crs="EPSG:4326", **columns):
    points = [Point(lon, lat) for _, lat, lon, _ in PLACES]
    table = {"name": [p[0] for p in PLACES], "kind": [p[3] for p in PLACES], **columns}
    return geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326").to_crs(crs)


def check_places(found, tolerance_deg=1e-9):
    assert found.frame["name"].tolist() == [p[0] for p in PLACES]
    assert found.frame["kind"].tolist() == [p[3] for p in PLACES]
    assert found.frame.geometry.y.tolist() == pytest.approx(
        [p[1] for p in PLACES], abs=tolerance_deg
    )
    assert found.frame.geometry.x.tolist() == pytest.approx(
        [p[2] for p in PLACES], abs=tolerance_deg
    )


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:4269", "ESRI:54030"])
def test_a_geopackage_in_any_system_gives_the_same_places(tmp_path, crs):
    path = tmp_path / "list.gpkg"
    frame_of(crs, height_m=[6.5, None]).to_file(path, driver="GPKG")
    found = read_candidates(path)
    # NAD83 and WGS84 lie within a metre or two of one another, and PROJ says so.
    check_places(found, 2e-5 if crs == "EPSG:4269" else 1e-8)
    assert found.frame["id"].tolist() == ["fid 1", "fid 2"]
    assert found.frame["height_m"][0] == 6.5
    assert found.frame["height_is_guess"].tolist() == [False, True]
    assert bool(found.notes) == (crs != "EPSG:4326")


def test_a_geopackage_with_shapes_of_every_kind(tmp_path):
    path = tmp_path / "list.gpkg"
    shapes = [
        Point(7, 45),
        Point(),
        None,
        Polygon([(7, 45), (7.0001, 45), (7.0001, 45.0001), (7, 45.0001)]),
        LineString([(7.1, 45), (7.1001, 45)]),
        MultiPoint([(7.2, 45)]),
    ]
    geopandas.GeoDataFrame({"NAME": list("abcdef")}, geometry=shapes, crs=4326).to_file(
        path, driver="GPKG"
    )
    found = read_candidates(path)
    assert found.frame["name"].tolist() == ["a", "d", "e", "f"]
    assert [r.reason for r in found.rejected] == [
        "Fid 2: it has no geometry; give it a point.",
        "Fid 3: it has no geometry; give it a point.",
    ]


def test_layers_of_a_geopackage_are_named_or_asked_for(tmp_path):
    path = tmp_path / "list.gpkg"
    frame_of().to_file(path, driver="GPKG", layer="one")
    frame_of().iloc[:1].to_file(path, driver="GPKG", layer="two")
    with pytest.raises(OutingError, match="has 2 layers with places; name one of one, two"):
        read_candidates(path)
    assert len(read_candidates(path, layer="two")) == 1
    with pytest.raises(OutingError, match="has no layer 'three'"):
        read_candidates(path, layer="three")


def test_a_geopackage_without_a_system_is_refused(tmp_path):
    for code, name in ((None, "list.gpkg"), (0, "zero.gpkg"), (-1, "minus.gpkg")):
        path = tmp_path / name
        frame = frame_of()
        if code is None:
            frame = frame.set_crs(None, allow_override=True)
            with pytest.warns(UserWarning, match="crs"):
                frame.to_file(path, driver="GPKG")
        else:
            frame.to_file(path, driver="GPKG")
            with sqlite3.connect(path) as base:
                base.execute("update gpkg_geometry_columns set srs_id = ?", (code,))
                base.execute("update gpkg_contents set srs_id = ?", (code,))
            base.close()
        with pytest.raises(OutingError, match="names no coordinate system"):
            read_candidates(path)


@pytest.mark.parametrize("suffix", [".gpkg", ".gpx", ".kml", ".csv", ".geojson", ".osm.pbf"])
def test_another_driver_behind_a_suffix_is_refused(tmp_path, suffix):
    secret = tmp_path / "secret.csv"
    secret.write_text("name,lat,lon\nsecret,1,2\n")
    path = tmp_path / f"list{suffix}"
    path.write_text(
        f'<OGRVRTDataSource><OGRVRTLayer name="secret"><SrcDataSource>{secret}</SrcDataSource>'
        '<GeometryField encoding="PointFromColumns" x="lon" y="lat"/></OGRVRTLayer>'
        "</OGRVRTDataSource>"
    )
    with pytest.raises(OutingError, match="list"):
        read_candidates(path)


def test_a_plain_database_or_a_torn_file_is_no_geopackage(tmp_path):
    plain = tmp_path / "plain.gpkg"
    with sqlite3.connect(plain) as base:
        base.execute("create table t (x)")
    base.close()
    with pytest.raises(OutingError, match="not a GeoPackage inside"):
        read_candidates(plain)
    whole = tmp_path / "whole.gpkg"
    frame_of().to_file(whole, driver="GPKG")
    torn = tmp_path / "torn.gpkg"
    torn.write_bytes(whole.read_bytes()[:5000])
    with pytest.raises(OutingError, match=r"torn\.gpkg"):
        read_candidates(torn)


def gpx_file(path, *, extensions=""):
    gpx = gpxpy.gpx.GPX()
    for name, lat, lon, kind in PLACES:
        point = gpxpy.gpx.GPXWaypoint(
            lat, lon, elevation=1234.0, name=name, type=kind, description="A note\nof two lines"
        )
        gpx.waypoints.append(point)
    gpx.routes.append(gpxpy.gpx.GPXRoute(name="no place"))
    path.write_text(gpx.to_xml("1.1").replace("<desc>", f"{extensions}<desc>"), encoding="utf-8")
    return path


def test_waypoints_of_gpx(tmp_path):
    found = read_candidates(gpx_file(tmp_path / "list.gpx"))
    check_places(found)
    assert found.frame["id"].tolist() == ["waypoint 1", "waypoint 2"]
    assert found.frame["note"].tolist() == ["A note of two lines"] * 2
    assert found.frame["height_is_guess"].all()
    assert found.notes == ("1 route or track is no place and was left out.",)


def test_sizes_in_the_extensions_of_gpx(tmp_path):
    own = '<extensions><b:height_m xmlns:b="urn:x">7.5</b:height_m><kind>rock</kind></extensions>'
    found = read_candidates(gpx_file(tmp_path / "list.gpx", extensions=own))
    assert found.frame["height_m"].tolist() == [7.5, 7.5]
    assert set(found.frame["kind"]) == {"rock"}


def test_our_own_gpx_and_kml_can_be_read_back(tmp_path, plan):
    from backbearing.exports.gpx import plan_gpx
    from backbearing.exports.kml import plan_kml

    for name, write in (("plan.gpx", plan_gpx), ("plan.kml", plan_kml)):
        path = tmp_path / name
        path.write_text(write(plan), encoding="utf-8")
        frame = read_candidates(path).frame
        here = frame[frame["name"].str.contains("Averil Chapel")]
        assert here.geometry.y.to_numpy() == pytest.approx(plan.subject.lat, abs=1e-6)
        assert here.geometry.x.to_numpy() == pytest.approx(plan.subject.lon, abs=1e-6)
        assert len(here) >= 1


def test_bad_waypoints_are_said_with_their_line(tmp_path):
    path = tmp_path / "list.gpx"
    path.write_text(
        '<gpx xmlns="http://www.topografix.com/GPX/1/1">\n<wpt lat="45" lon="7"/>\n'
        '<wpt lat="45,5" lon="7"/>\n<wpt lon="7"/></gpx>'
    )
    found = read_candidates(path)
    assert len(found.frame) == 1
    assert [r.reason for r in found.rejected] == [
        "Waypoint 2: lat is '45,5'; write a decimal point: 45.5 (line 3).",
        "Waypoint 3: lat is missing; write WGS84 degrees.",
    ]


def kml_file(path):
    document = kml.KML()
    top = kml.Document(name="All")
    for (name, lat, lon, kind), folder in zip(PLACES, ("Trees", "2024"), strict=True):
        holder = kml.Folder(name=folder)
        place = kml.Placemark(
            name=name, description="<b>A note</b>", geometry=KmlPoint(lon, lat, 12.0)
        )
        if folder == "2024":
            place.extended_data = ExtendedData(
                elements=[Data(name="kind", value=kind), Data(name="height_m", value="9.5")]
            )
        holder.append(place)
        top.append(holder)
    document.append(top)
    path.write_text(document.to_string(prettyprint=True), encoding="utf-8")
    return path


def test_placemarks_of_kml_in_folders(tmp_path):
    found = read_candidates(kml_file(tmp_path / "list.kml"))
    check_places(found)
    assert found.frame["height_m"].tolist()[1] == 9.5
    assert found.frame["height_is_guess"].tolist() == [True, False]
    assert found.frame["note"].tolist() == ["<b>A note</b>"] * 2


KML = '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{}</Document></kml>'

HOLED = (
    "<Polygon><outerBoundaryIs><LinearRing><coordinates>7,45,0\n7.002,45,0\n7.002,45.002,0 "
    "7,45.002,0 7,45,0</coordinates></LinearRing></outerBoundaryIs><innerBoundaryIs>"
    "<LinearRing><coordinates>7.0009,45.0009 7.0011,45.0009 7.001,45.0011 7.0009,45.0009"
    "</coordinates></LinearRing></innerBoundaryIs></Polygon>"
)
TWICE = (
    "<MultiGeometry><Point><coordinates>7,45</coordinates></Point><Point><coordinates>"
    "7,45</coordinates></Point></MultiGeometry>"
)


@pytest.mark.parametrize(
    ("geometry", "where"),
    [
        ("<Point><coordinates> 7,45 </coordinates></Point>", (7, 45)),
        ("<Point><coordinates>7,45,0</coordinates></Point>", (7, 45)),
        ("<LineString><coordinates>7,45 7.002,45</coordinates></LineString>", (7.001, 45)),
        (
            HOLED,
            (7.001, 45.001),
        ),
        (
            TWICE,
            (7, 45),
        ),
    ],
)
def test_geometries_of_kml(tmp_path, geometry, where):
    path = tmp_path / "list.kml"
    path.write_text(KML.format(f"<Placemark><name>a</name>{geometry}</Placemark>"))
    found = read_candidates(path)
    spot = found.frame.geometry[0]
    assert (spot.x, spot.y) == pytest.approx(where, abs=1e-9)


def test_bad_placemarks_are_said_and_links_are_not_followed(tmp_path):
    path = tmp_path / "list.kml"
    path.write_text(
        KML.format(
            "<NetworkLink><Link><href>file:///etc/hostname</href></Link></NetworkLink>\n"
            "<Placemark><name>a</name></Placemark>\n"
            "<Placemark><Point><coordinates>7;45</coordinates></Point></Placemark>\n"
            "<Placemark><Point><coordinates>7,nan</coordinates></Point></Placemark>"
            "<Placemark><Point><coordinates>7,45</coordinates></Point></Placemark>"
        )
    )
    found = read_candidates(path)
    assert len(found.frame) == 1
    assert found.notes == ("1 link to another file was not followed.",)
    assert [r.row for r in found.rejected] == [1, 2, 3]
    assert found.rejected[1].reason == (
        "Placemark 2: its coordinates are '7;45'; write longitude,latitude with points (line 3)."
    )


@pytest.mark.parametrize("suffix", ["gpx", "kml"])
@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<{}", "is not well-formed XML"),
        ("", "is empty"),
        ("plain words", "is not well-formed XML"),
        ("<other/>", "has <other> for its root"),
        ("<{0}/>", "holds no place"),
        (
            '<!DOCTYPE {0} [<!ENTITY x SYSTEM "file:///etc/hostname">]><{0}>&x;</{0}>',
            "document type",
        ),
        ('<!DOCTYPE {0} [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><{0}>&b;</{0}>', "document type"),
        ("<!DOCTYPE {0}><{0}/>", "document type"),
        ("<{0}>&x;</{0}>", "is not well-formed XML"),
        ("<{0}>" + "<a>" * 5000, "deep"),
        ('<?xml version="1.0" encoding="nonsense"?><{0}/>', "list"),
        ("<{0}>\x00</{0}>", "is not well-formed XML"),
        ("<{0}>\ufffe</{0}>", "is not well-formed XML"),
    ],
)
def test_hostile_xml_is_refused_in_a_sentence(tmp_path, suffix, text, said):
    path = tmp_path / f"list.{suffix}"
    path.write_text(text.replace("{0}", suffix).replace("{}", suffix), encoding="utf-8")
    with pytest.raises(OutingError, match="list") as refused:
        read_candidates(path)
    assert said in str(refused.value)


def test_a_document_type_hidden_in_utf_16_is_refused(tmp_path):
    path = tmp_path / "list.gpx"
    path.write_bytes('<!DOCTYPE gpx [<!ENTITY a "b">]><gpx>&a;</gpx>'.encode("utf-16"))
    with pytest.raises(OutingError, match="document type"):
        read_candidates(path)
