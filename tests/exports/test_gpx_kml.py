"""GPX and KML as XML: read by a hardened reader, ordered, complete, deaf to hostile names."""

from __future__ import annotations

import html
import itertools
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from defusedxml import ElementTree

from backbearing.base.grouped import changed
from backbearing.exports.file_text import NOT_XML, visible
from backbearing.exports.gpx import plan_gpx
from backbearing.exports.kml import plan_kml

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from backbearing.alignment import Plan

GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"
EGM = "EGM96 geoid"

# gpx.xsd 1.1 (topografix.com/GPX/1/1): sequences of gpxType, metadataType, wptType and rteType.
POINT = [
    *("ele", "time", "magvar", "geoidheight", "name", "cmt", "desc", "src", "link", "sym"),
    *("type", "fix", "sat", "hdop", "vdop", "pdop", "ageofdgpsdata", "dgpsid", "extensions"),
]
GPX_ORDER = {
    "gpx": ["metadata", "wpt", "rte", "trk", "extensions"],
    "metadata": [
        *("name", "desc", "author", "copyright", "link", "time", "keywords", "bounds"),
        "extensions",
    ],
    "wpt": POINT,
    "rtept": POINT,
    "rte": ["name", "cmt", "desc", "src", "link", "number", "type", "extensions", "rtept"],
}

# ogckml22.xsd as the package fastkml carries it: AbstractFeatureType, then the own parts.
FEATURE = [
    *("name", "visibility", "open", "author", "link", "address", "phoneNumber", "Snippet"),
    *("description", "LookAt", "TimeStamp", "TimeSpan", "styleUrl", "Style", "StyleMap"),
    *("Region", "ExtendedData"),
]
KML_ORDER = {
    "Document": [*FEATURE, "Schema", "Placemark", "Folder"],
    "Folder": [*FEATURE, "Placemark"],
    "Placemark": [*FEATURE, "Point", "LineString", "Polygon", "MultiGeometry"],
    "Style": ["IconStyle", "LabelStyle", "LineStyle", "PolyStyle", "BalloonStyle", "ListStyle"],
    "Point": ["extrude", "altitudeMode", "coordinates"],
    "LineString": ["extrude", "tessellate", "altitudeMode", "coordinates"],
    "Polygon": ["extrude", "tessellate", "altitudeMode", "outerBoundaryIs", "innerBoundaryIs"],
}


def in_order(root: Element, order: dict[str, list[str]], namespace: str) -> None:
    for element in root.iter():
        assert element.tag.startswith(namespace)
        wanted = order.get(element.tag.removeprefix(namespace))
        if wanted is not None:
            places = [wanted.index(child.tag.removeprefix(namespace)) for child in element]
            assert places == sorted(places)


def text_of(parent: Element, path: str) -> str:
    found = parent.find(path)
    assert found is not None, path
    return found.text or ""


def test_gpx_holds_subject_stands_parking_and_route(plan: Plan) -> None:
    root = ElementTree.fromstring(plan_gpx(plan, height_reference=EGM))
    in_order(root, GPX_ORDER, GPX)
    assert root.get("version") == "1.1"
    kinds = [text_of(point, f"{GPX}type") for point in root.findall(f"{GPX}wpt")]
    assert kinds == ["subject", *["stand"] * 4, "parking"]
    (route,) = root.findall(f"{GPX}rte")
    way = route.findall(f"{GPX}rtept")
    assert [text_of(p, f"{GPX}type") for p in way] == ["parking", *["stand"] * 4]
    times = [
        re.search(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", text_of(p, f"{GPX}desc")).group()
        for p in way[1:]
    ]
    assert times == sorted(times)
    assert re.fullmatch(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", text_of(root, f"{GPX}metadata/{GPX}time")
    )


def test_gpx_positions_and_heights(plan: Plan) -> None:
    root = ElementTree.fromstring(plan_gpx(plan, height_reference=EGM))
    points = root.findall(f"{GPX}wpt")
    for point, lens in zip(points[1:5], plan.lenses, strict=True):
        assert float(point.get("lat")) == pytest.approx(lens.stand.lat, abs=1e-7)
        assert float(point.get("lon")) == pytest.approx(lens.stand.lon, abs=1e-7)
        assert float(text_of(point, f"{GPX}ele")) == pytest.approx(lens.stand.ground_m, abs=0.05)
        assert f"m above {EGM}" in text_of(point, f"{GPX}desc")
    own = ElementTree.fromstring(plan_gpx(plan))
    assert f"m above {plan.ground.vertical_datum}" in text_of(
        own.findall(f"{GPX}wpt")[1], f"{GPX}desc"
    )
    silent = changed(plan, ground=replace(plan.ground, vertical_datum=""))
    unnamed = ElementTree.fromstring(plan_gpx(silent))
    told = text_of(unnamed.findall(f"{GPX}wpt")[1], f"{GPX}desc")
    assert "the elevation raster's own zero, which it does not name" in told


def test_unknown_heights_are_left_out(plan: Plan) -> None:
    blind = tuple(
        replace(lens, stand=changed(lens.stand, ground_m=float("nan"))) for lens in plan.lenses
    )
    text = plan_gpx(changed(plan, lenses=blind, subject_ground_m=float("nan")))
    assert "<ele>" not in text
    assert "nan" not in text.lower().replace("rena", "")
    assert "height unknown" in text


def test_cautions_travel_with_every_stand(plan: Plan) -> None:
    gpx = ElementTree.fromstring(plan_gpx(plan))
    kml = ElementTree.fromstring(plan_kml(plan))
    told = [text_of(p, f"{GPX}desc") for p in gpx.iter(f"{GPX}wpt")][:5]
    marks = list(kml.iter(f"{KML}Placemark"))[:5]
    told += [html.unescape(text_of(p, f"{KML}description")) for p in marks]
    for text in told:
        for caution in plan.cautions:
            assert caution in text
    for text, lens in zip([*told[1:5], *told[6:]], plan.lenses * 2, strict=True):
        for caution in lens.stand.cautions:
            assert caution in text


def test_gpx_says_what_it_leaves_out_and_avoids_closed_parking(plan: Plan) -> None:
    places = tuple(replace(p, access="closed") if p.kind == "parking" else p for p in plan.places)
    root = ElementTree.fromstring(plan_gpx(changed(plan, places=places)))
    said = text_of(root, f"{GPX}metadata/{GPX}desc")
    assert "land: Sallow delph, access closed" in said
    assert "hazard: Delph edge" in said
    types = [text_of(p, f"{GPX}type") for p in root.iter(f"{GPX}rtept")]
    assert types == ["stand"] * 4


def test_kml_is_ordered_and_complete(plan: Plan) -> None:
    root = ElementTree.fromstring(plan_kml(plan, height_reference=EGM))
    in_order(root, KML_ORDER, KML)
    ids = {style.get("id") for style in root.iter(f"{KML}Style")}
    urls = {url.text.removeprefix("#") for url in root.iter(f"{KML}styleUrl")}
    assert urls <= ids
    roles = [
        value.text
        for data in root.iter(f"{KML}Data")
        if data.get("name") == "role"
        for value in data
    ]
    assert roles.count("stand") == 4
    assert roles.count("parking") == 1
    folders = [text_of(folder, f"{KML}name") for folder in root.iter(f"{KML}Folder")]
    assert folders[:2] == ["Stands", "Sight lines"]
    assert "Arc 85 mm" in folders


def test_kml_asks_no_host_and_gives_no_height(plan: Plan) -> None:
    text = plan_kml(plan)
    assert re.findall(r"https?://[^\s\"<']+", text) == ["http://www.opengis.net/kml/2.2"]
    assert "href" not in text.lower()
    root = ElementTree.fromstring(text)
    assert {mode.text for mode in root.iter(f"{KML}altitudeMode")} == {"clampToGround"}
    for coordinates in root.iter(f"{KML}coordinates"):
        for pair in coordinates.text.split():
            lon, lat = map(float, pair.split(","))
            assert -84.42 < lon < -84.07
            assert 36.15 < lat < 36.45


def test_kml_arcs_join_and_keep_their_limits(plan: Plan) -> None:
    root = ElementTree.fromstring(plan_kml(plan))
    arc = next(f for f in root.iter(f"{KML}Folder") if text_of(f, f"{KML}name") == "Arc 85 mm")
    spans = []
    for mark in arc.findall(f"{KML}Placemark"):
        facts = {d.get("name"): text_of(d, f"{KML}value") for d in mark.iter(f"{KML}Data")}
        spans.append((facts["start_utc"], facts["end_utc"]))
        style = text_of(mark, f"{KML}styleUrl")
        assert (style == "#usable") == (facts["limits"] == "none")
    assert len(spans) >= 3
    assert all(a[1] == b[0] for a, b in itertools.pairwise(spans))


def test_hostile_names_survive_gpx(hostile: tuple[str, Plan]) -> None:
    name, plan = hostile
    root = ElementTree.fromstring(plan_gpx(plan, height_reference=name).encode("utf-8"))
    in_order(root, GPX_ORDER, GPX)
    shown = visible(name, NOT_XML)
    assert text_of(root, f"{GPX}metadata/{GPX}name") == shown
    assert text_of(root.find(f"{GPX}wpt"), f"{GPX}name") == shown
    assert len(root.findall(f"{GPX}wpt")) == 6


def test_hostile_names_survive_kml(hostile: tuple[str, Plan]) -> None:
    name, plan = hostile
    root = ElementTree.fromstring(plan_kml(plan, height_reference=name).encode("utf-8"))
    in_order(root, KML_ORDER, KML)
    shown = visible(name, NOT_XML)
    assert text_of(root, f"{KML}Document/{KML}name") == shown
    notes = [
        text_of(data, f"{KML}value")
        for data in root.iter(f"{KML}Data")
        if data.get("name") == "note"
    ]
    assert notes == [shown] * len(plan.places)
    for description in root.iter(f"{KML}description"):
        # A viewer takes this text for HTML: only line breaks may be left of it.
        assert set(re.findall(r"<[^>]*>?", description.text)) <= {"<br>"}
        assert "$" not in description.text


def test_without_stands_the_files_still_say_why(standless: Plan) -> None:
    gpx = ElementTree.fromstring(plan_gpx(standless))
    said = text_of(gpx, f"{GPX}metadata/{GPX}desc")
    assert said.count("Nothing clears the ridge.") == 4
    assert "No dark window: The Moon is up." in said
    assert gpx.find(f"{GPX}rte") is None
    kml = ElementTree.fromstring(plan_kml(standless))
    assert "Nothing clears the ridge." in text_of(kml, f"{KML}Document/{KML}description")


def test_gpx_longitude_never_reaches_180(far_east: Plan) -> None:
    """gpx.xsd longitudeType: -180 included, 180 not."""
    root = ElementTree.fromstring(plan_gpx(far_east))
    lons = [float(p.get("lon")) for p in root.iter(f"{GPX}wpt")]
    assert lons[0] == -180.0
    assert lons[4] == -180.0
    assert all(-180.0 <= lon < 180.0 for lon in lons)


def test_kml_draws_every_kind_of_shape(odd_shapes: Plan) -> None:
    root = ElementTree.fromstring(plan_kml(odd_shapes))
    in_order(root, KML_ORDER, KML)
    places = next(f for f in root.iter(f"{KML}Folder") if text_of(f, f"{KML}name") == "Places")
    drawn = [mark[-1].tag.removeprefix(KML) for mark in places.findall(f"{KML}Placemark")]
    assert drawn == ["Point", "LineString", "LineString", "Polygon", *["MultiGeometry"] * 2]
    assert len(list(places.iter(f"{KML}innerBoundaryIs"))) == 2
    for ring in places.iter(f"{KML}LinearRing"):
        pairs = text_of(ring, f"{KML}coordinates").split()
        assert pairs[0] == pairs[-1]
