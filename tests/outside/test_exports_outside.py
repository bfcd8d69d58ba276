"""Exports read by programs that are not ours, and held to the published schemas.

- KML 2.2: the OGC's own schema (ogckml22.xsd, OGC 07-147r2) as the library fastkml (PyPI,
  LGPL) carries it, applied by libxml2 through lxml; then fastkml's reader.
- GPX 1.1: no package with gpx.xsd itself was found. The rules of that schema are applied
  twice: by the validator of the library gpx (PyPI, GPL-3.0; run as a program of its own),
  which writes the schema down as a table, and by a table of our own after the schema's
  published documentation (topografix.com/GPX/1/1). Then the reader gpxpy
  (PyPI, Apache 2.0).
- GeoPackage: GDAL's reader (pyogrio), and the requirements of OGC 12-128r18 that are
  named at each line, checked in SQLite.
- GeoJSON: RFC 7946, its sections named at each line; then GDAL's reader.
- iCalendar: the library icalendar (PyPI, BSD).
"""

from __future__ import annotations

import csv
import io
import json
import re
import sqlite3
import subprocess
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import geopandas
import gpxpy
import icalendar
import pytest
from shapely.geometry import (
    GeometryCollection,
    LinearRing,
    LineString,
    MultiLineString,
    MultiPoint,
    MultiPolygon,
    Point,
    Polygon,
    shape,
)

from backbearing.base.grouped import changed
from backbearing.exports.csv import plan_csv
from backbearing.exports.formats import export_content
from backbearing.exports.geojson import plan_geojson
from backbearing.exports.geopackage import plan_geopackage
from backbearing.exports.gpx import plan_gpx
from backbearing.exports.kml import plan_kml
from backbearing.exports.stands_ics import plan_calendar
from backbearing.plan.place import Place

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.alignment import Plan

HOSTILE = (
    '=HYPERLINK("x") "q" \'s\' & <b onload=alert(1)> ]]> $[name] ${x} \\\n'
    "second line\ttab 🐄 שלום \u202egnp \ufffd end"
)
UNHOLDABLE = "bell \x07 nought \x00 half \ud800 none \ufffe end"

SQUARE = [(0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0)]
HOLE = [(0.2, 0.2), (0.8, 0.2), (0.8, 0.8), (0.2, 0.8)]
SHAPES = (
    Point(1.0, 2.0, 300.0),
    MultiPoint([(0, 0), (1, 1)]),
    LineString([(0, 0, 5), (1, 1, 6)]),
    LinearRing(SQUARE),
    MultiLineString([[(0, 0), (1, 1)], [(2, 2), (3, 3)]]),
    Polygon(SQUARE, [HOLE]),
    MultiPolygon([Polygon(SQUARE, [HOLE]), Polygon([(2, 2), (2, 3), (3, 3)])]),
    GeometryCollection([Point(0.5, 0.5), Polygon(SQUARE)]),
)


@pytest.fixture(scope="module", params=["sample", "hostile", "unholdable", "no stands", "shapes"])
def any_plan(request: pytest.FixtureRequest, plan: Plan) -> Plan:
    if request.param == "sample":
        return plan
    if request.param == "no stands":
        lenses = tuple(replace(lens, stand=None, arc=()) for lens in plan.lenses)
        return changed(plan, lenses=lenses, places=(), dark_reason="The Moon is up.")
    if request.param == "shapes":
        places = tuple(Place("land", s.geom_type, "", "unknown", s) for s in SHAPES)
        return changed(plan, places=places)
    name = HOSTILE if request.param == "hostile" else UNHOLDABLE
    return changed(
        plan,
        name=name,
        subject=replace(plan.subject, name=name, kind=name),
        target=replace(plan.target, name=name),
        lenses=tuple(replace(lens, sentence=name) for lens in plan.lenses),
        places=tuple(replace(place, name=name, note=name) for place in plan.places),
        cautions=(name,),
        emergency_number=name,
        version=name,
    )


# --- GPX 1.1 ---------------------------------------------------------------------------


def refused(path: Path, text: str) -> str:
    """Return what the strict validator finds wrong: nothing, when all is well."""
    path.write_text(text, encoding="utf-8")
    answer = subprocess.run(
        [sys.executable, "-m", "gpx", "validate", "--strict", str(path)],
        capture_output=True,
        check=False,
    )
    return (answer.stdout + answer.stderr).decode("utf-8") if answer.returncode else ""


def test_gpx_keeps_the_schemas_rules(any_plan: Plan, tmp_path: Path) -> None:
    assert refused(tmp_path / "plan.gpx", plan_gpx(any_plan)) == ""


def test_the_gpx_check_can_refuse(plan: Plan, tmp_path: Path) -> None:
    text = plan_gpx(plan)
    kind, early = "<type>subject</type>", "<type>subject</type><ele>"
    swapped = text.replace(kind, "").replace("<ele>", early, 1)
    assert "out of order" in refused(tmp_path / "order.gpx", swapped)
    assert refused(tmp_path / "far.gpx", text.replace('lon="-84', 'lon="-184', 1))
    assert refused(tmp_path / "alien.gpx", text.replace("<ele>", "<height/><ele>", 1))


GPX_NAMESPACE = "http://www.topografix.com/GPX/1/1"
POINT = (
    *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym", "type"),
    *("fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
)
CHILDREN = {
    "gpx": ("metadata", "wpt", "rte", "trk", "extensions"),
    "metadata": (
        *("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
        "extensions",
    ),
    "wpt": POINT,
    "rtept": POINT,
    "rte": ("name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"),
}
"""Each element's children in the order of the schema's sequences (GPX 1.1)."""
REPEATED = {"wpt", "rte", "trk", "rtept", "link"}
ATTRIBUTES = {"gpx": {"version", "creator"}, "wpt": {"lat", "lon"}, "rtept": {"lat", "lon"}}


def gpx_faults(text: str) -> list[str]:
    """Say what breaks the schema's sequences, occurrences, attributes and simple types."""
    from lxml import etree

    found: list[str] = []
    root = etree.fromstring(text.encode("utf-8"))
    if root.tag != f"{{{GPX_NAMESPACE}}}gpx" or root.get("version") != "1.1":
        found.append("root")
    for element in root.iter():
        name = etree.QName(element).localname
        kinds = [etree.QName(child).localname for child in element]
        order = CHILDREN.get(name, ())
        if not set(kinds) <= set(order) or kinds != sorted(kinds, key=order.index):
            found.append(f"children of {name}: {kinds}")
            continue
        found += [f"{k} twice in {name}" for k in set(kinds) - REPEATED if kinds.count(k) > 1]
        if set(element.attrib) != ATTRIBUTES.get(name, set()):
            found.append(f"attributes of {name}: {sorted(element.attrib)}")
        found += wrong_values(element, name)
    return found


def wrong_values(element: Any, name: str) -> list[str]:
    """latitudeType, longitudeType, xsd:decimal and xsd:dateTime, by their patterns and bounds."""
    decimal = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)")
    found = []
    if "lat" in element.attrib and decimal.fullmatch(element.get("lat")):
        if not -90.0 <= float(element.get("lat")) <= 90.0:
            found.append("latitude")
        if not decimal.fullmatch(element.get("lon")) or not (
            -180.0 <= float(element.get("lon")) < 180.0
        ):
            found.append("longitude")
    elif "lat" in element.attrib:
        found.append("latitude")
    if name == "ele" and not decimal.fullmatch(element.text or ""):
        found.append("ele")
    stamp = r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?"
    if name == "time" and not re.fullmatch(stamp, element.text or ""):
        found.append("time")
    return found


def test_gpx_keeps_the_published_order_and_types(any_plan: Plan) -> None:
    assert gpx_faults(plan_gpx(any_plan)) == []
    walked = export_content(any_plan, ".gpx")
    assert isinstance(walked, str)
    assert gpx_faults(walked) == []


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("<type>subject</type>", "<type>subject</type><name>again</name>", "children of wpt"),
        ("<desc>", "<note/><desc>", "children of metadata"),
        ('lon="-84', 'lon="180', "longitude"),
        ('lat="36', 'lat="1e1', "latitude"),
        ('version="1.1"', 'version="1.0"', "root"),
        ("<ele>", "<ele>about ", "ele"),
        ("</time>", " UTC</time>", "time"),
    ],
)
def test_the_check_of_gpx_order_and_types_can_refuse(
    plan: Plan, right: str, wrong: str, said: str
) -> None:
    text = plan_gpx(plan)
    assert right in text
    assert any(fault.startswith(said) for fault in gpx_faults(text.replace(right, wrong, 1)))


def test_gpx_as_walked_keeps_the_schemas_rules(any_plan: Plan, tmp_path: Path) -> None:
    assert refused(tmp_path / "walked.gpx", str(export_content(any_plan, ".gpx"))) == ""


def test_gpxpy_reads_the_same_points(plan: Plan) -> None:
    found = gpxpy.parse(plan_gpx(plan), version="1.1")
    stands = [point for point in found.waypoints if point.type == "stand"]
    for point, lens in zip(stands, plan.lenses, strict=True):
        assert point.latitude == pytest.approx(lens.stand.lat, abs=1e-7)
        assert point.longitude == pytest.approx(lens.stand.lon, abs=1e-7)
        assert point.elevation == pytest.approx(lens.stand.ground_m, abs=0.05)
    assert [point.type for point in found.routes[0].points] == ["parking", *["stand"] * 4]
    assert found.time == plan.made.replace(microsecond=0)


def test_gpxpy_reads_a_hostile_name_letter_for_letter(plan: Plan) -> None:
    named = replace(plan, subject=replace(plan.subject, name=HOSTILE))
    read = gpxpy.parse(plan_gpx(named)).waypoints[0].name
    # The override in its second line ends where that line ends; no letter is lost.
    assert re.sub("[\u2068\u2069]", "", read) == HOSTILE
    first, second = read.split("\n")
    assert (second[0], second[-1]) == ("\u2068", "\u2069")
    assert "\u2068" not in first


# --- KML 2.2 ---------------------------------------------------------------------------


def test_kml_is_valid_against_the_ogcs_schema(any_plan: Plan) -> None:
    from fastkml.validator import get_schema_parser
    from lxml import etree

    schema = get_schema_parser()
    document = etree.fromstring(plan_kml(any_plan).encode("utf-8"))
    assert schema.validate(document), schema.error_log
    # The check can fail: a placemark's name after its geometry is refused.
    mark = document.find(".//{*}Placemark")
    mark.append(mark[0])
    assert not schema.validate(document)


def test_fastkml_reads_the_same_stands(plan: Plan) -> None:
    import fastkml

    found = fastkml.KML.from_string(plan_kml(plan).partition("?>")[2].strip(), strict=True)
    (document,) = found.features
    stands = next(f for f in document.features if f.name == "Stands").features
    for mark, lens in zip(stands, plan.lenses, strict=True):
        assert mark.geometry.x == pytest.approx(lens.stand.lon, abs=1e-7)
        assert mark.geometry.y == pytest.approx(lens.stand.lat, abs=1e-7)
        facts = {data.name: data.value for data in mark.extended_data.elements}
        assert float(facts["distance_m"]) == pytest.approx(lens.stand.distance_m, abs=0.006)


# --- GeoPackage ------------------------------------------------------------------------


def test_geopackage_meets_named_requirements(any_plan: Plan, tmp_path: Path) -> None:
    path = tmp_path / "plan.gpkg"
    path.write_bytes(plan_geopackage(any_plan))
    with sqlite3.connect(path) as file:
        ask = lambda sql: file.execute(sql).fetchall()  # noqa: E731
        # Requirement 2: "GPKG" as application_id, user_version 10200 for version 1.2 and later.
        assert ask("PRAGMA application_id") == [(0x47504B47,)]
        assert ask("PRAGMA user_version")[0][0] >= 10200
        # Requirements 6 and 7: SQLite finds nothing wrong.
        assert ask("PRAGMA integrity_check") == [("ok",)]
        assert ask("PRAGMA foreign_key_check") == []
        # Requirement 11: the three reference systems that must be listed.
        systems = {row[0] for row in ask("SELECT srs_id FROM gpkg_spatial_ref_sys")}
        assert {-1, 0, 4326} <= systems
        # Requirement 18: every feature table is listed, in one of them.
        kinds = ask("SELECT DISTINCT data_type, srs_id FROM gpkg_contents")
        assert kinds == [("features", 4326)]
        tables = [row[0] for row in ask("SELECT table_name FROM gpkg_contents")]
    expected = ["subject", "stands", "sight_lines", "arcs", "arc_minutes", "walks", "places"]
    assert sorted(tables) == sorted(expected)
    for layer in expected:
        geopandas.read_file(path, layer=layer)


# --- GeoJSON ---------------------------------------------------------------------------

TYPES = {
    *("Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon"),
    "GeometryCollection",
}


def bare(geometry: dict[str, Any]) -> Iterator[dict[str, Any]]:
    if geometry["type"] == "GeometryCollection":
        for part in geometry["geometries"]:
            yield from bare(part)
    else:
        yield geometry


def positions(part: Any) -> Iterator[list[float]]:
    if isinstance(part[0], float | int):
        yield part
    else:
        for inner in part:
            yield from positions(inner)


def test_geojson_follows_rfc_7946(any_plan: Plan, tmp_path: Path) -> None:
    def refuse(name: str) -> None:
        raise AssertionError(name)

    text = plan_geojson(any_plan)
    document = json.loads(text.encode("utf-8"), parse_constant=refuse)
    assert set(document) == {"type", "features"}  # section 4: no crs member
    for feature in document["features"]:
        assert feature["type"] == "Feature"
        assert isinstance(feature["properties"], dict)  # section 3.2
        for geometry in bare(feature["geometry"]):
            assert geometry["type"] in TYPES  # section 1.4
            for position in positions(geometry["coordinates"]):
                assert len(position) == 2  # section 3.1.1; no height, see section 4
                assert -180.0 <= position[0] <= 180.0
                assert -90.0 <= position[1] <= 90.0
            found = shape(geometry)
            for polygon in getattr(found, "geoms", [found]):
                if isinstance(polygon, Polygon):  # section 3.1.6
                    assert polygon.exterior.is_ccw
                    assert not any(ring.is_ccw for ring in polygon.interiors)
    path = tmp_path / "plan.geojson"
    path.write_text(text, encoding="utf-8")
    assert len(geopandas.read_file(path)) == len(document["features"])


def test_geojson_cuts_lines_at_the_180th_meridian(plan: Plan) -> None:
    """RFC 7946 section 3.1.9: no part of a geometry crosses it."""
    lens = plan.lenses[0]
    far = replace(lens, stand=changed(lens.stand, lon=-179.9998, skyline_lon=179.99))
    moved = changed(plan, subject=replace(plan.subject, lon=179.9999), lenses=(far,), places=())
    document = json.loads(plan_geojson(moved))
    (line,) = [f for f in document["features"] if f["properties"]["role"] == "sight line"]
    assert line["geometry"]["type"] == "MultiLineString"
    west, east = line["geometry"]["coordinates"]
    assert [p[0] for p in west] == [-179.9998, -180.0]
    assert [p[0] for p in east] == [180.0, 179.9999, 179.99]
    assert west[-1][1] == east[0][1]


# --- CSV and iCalendar -----------------------------------------------------------------


def test_csv_is_read_strictly(any_plan: Plan) -> None:
    """Python's own reader in strict mode; RFC 4180 section 2: equal lengths, CRLF."""
    text = plan_csv(any_plan)
    table = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert len({len(row) for row in table}) == 1
    assert text.endswith("\r\n")
    text.encode("utf-8")


def test_pandas_reads_negative_numbers_as_numbers(plan: Plan) -> None:
    import pandas as pd

    table = pd.read_csv(io.StringIO(plan_csv(plan)))
    stands = table[table["role"] == "stand"]
    assert stands["lon"].dtype == "float64"
    for lon, lens in zip(stands["lon"], plan.lenses, strict=True):
        assert lon == pytest.approx(lens.stand.lon, abs=1e-7)


def test_icalendar_reads_the_stands(any_plan: Plan) -> None:
    text = plan_calendar(any_plan)
    found = icalendar.Calendar.from_ical(text.encode("utf-8"))
    assert found.errors == []
    stands = [lens for lens in any_plan.lenses if lens.stand is not None]
    assert len(found.walk("VEVENT")) == len(stands)
    for event in found.walk("VEVENT"):
        assert event.errors == []
