"""The session's walks in every format, and the route that follows them."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import geopandas
import pytest
from shapely.geometry import LineString

from backbearing.base.grouped import changed
from backbearing.exports.formats import export_content
from backbearing.exports.session_walks import steps_of, walks_of
from backbearing.plan.turns import as_walked

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan

GPX = "{http://www.topografix.com/GPX/1/1}"
KML = "{http://www.opengis.net/kml/2.2}"


def route(plan: Plan) -> list[tuple[str | None, float, float]]:
    """Type, latitude and longitude of the points of the only route."""
    root = ET.fromstring(export_content(plan, ".gpx"))  # noqa: S314  # our own text
    (found,) = root.iter(f"{GPX}rte")
    return [
        (point.findtext(f"{GPX}type"), float(point.get("lat", "")), float(point.get("lon", "")))
        for point in found.iter(f"{GPX}rtept")
    ]


def test_the_route_follows_the_walks_and_passes_the_stands_in_turn(plan: Plan) -> None:
    session = plan.session
    assert session is not None
    assert session.approach is not None
    assert session.home is not None
    points = route(plan)
    assert [kind for kind, *_ in points if kind != "way"] == [
        "parking", *["stand"] * len(session.shots), "parking",
    ]  # fmt: skip
    stands = [(lat, lon) for kind, lat, lon in points if kind == "stand"]
    for (lat, lon), shot in zip(stands, session.shots, strict=True):
        assert (lat, lon) == pytest.approx((shot.stand.lat, shot.stand.lon), abs=1e-7)
    whole = [xy for walk in walks_of(plan) for xy in walk.line.coords]
    gone = LineString([(lon, lat) for _, lat, lon in points])
    assert LineString(whole).hausdorff_distance(gone) < 1e-6


def test_a_way_round_is_in_the_route(plan: Plan) -> None:
    session = plan.session
    assert session is not None
    shot = session.shots[1]
    assert shot.walk is not None
    start, end = shot.walk.line.coords[0], shot.walk.line.coords[-1]
    bend = (start[0] + 1e-4, start[1] + 1e-4)
    walk = replace(
        shot.walk, line=LineString([start, bend, end]), cautions=("It goes round a pond.",)
    )
    shots = (session.shots[0], changed(shot, walk=walk), *session.shots[2:])
    bent = replace(plan, session=replace(session, shots=shots))
    assert ("way", pytest.approx(bend[1]), pytest.approx(bend[0])) in route(bent)
    assert "It goes round a pond." in export_content(bent, ".gpx")


def test_every_format_with_lines_holds_every_walk(plan: Plan, tmp_path: Path) -> None:
    walks = walks_of(plan)
    assert len(walks) == 5
    document = json.loads(export_content(plan, ".geojson"))
    found = [f for f in document["features"] if f["properties"]["role"] == "walk"]
    for feature, walk in zip(found, walks, strict=True):
        assert feature["properties"]["distance_m"] == pytest.approx(walk.distance_m)
        assert len(feature["geometry"]["coordinates"]) == len(walk.line.coords)
    root = ET.fromstring(export_content(plan, ".kml"))  # noqa: S314  # our own text
    (folder,) = [f for f in root.iter(f"{KML}Folder") if f.findtext(f"{KML}name") == "Walks"]
    assert len(folder.findall(f"{KML}Placemark")) == len(walks)
    path = tmp_path / "plan.gpkg"
    path.write_bytes(export_content(plan, ".gpkg"))
    table = geopandas.read_file(path, layer="walks")
    assert table["night_minutes"].tolist() == pytest.approx([w.night_minutes for w in walks])


def test_without_a_session_there_is_no_walk(plan: Plan) -> None:
    alone = replace(plan, session=None)
    assert walks_of(alone) == ()
    assert steps_of(alone) == []
    assert '"walk"' not in export_content(alone, ".geojson")
    assert [kind for kind, *_ in route(alone)] == ["parking", *["stand"] * 4]


def test_a_plan_not_laid_out_as_walked_has_no_walked_route(plan: Plan) -> None:
    assert steps_of(plan) == []
    assert steps_of(as_walked(plan)) != []


@pytest.mark.slow
def test_hostile_names_of_walks_survive(plan: Plan, hostile_names: tuple[str, ...]) -> None:
    session = plan.session
    assert session is not None
    assert session.approach is not None
    for name in hostile_names:
        walk = replace(session.approach, start=name, end=name, cautions=(name,))
        other = replace(plan, session=replace(session, approach=walk))
        for suffix in (".gpx", ".kml"):
            ET.fromstring(export_content(other, suffix))  # noqa: S314  # our own text
        document = json.loads(export_content(other, ".geojson"))
        (start,) = [
            f["properties"]["start"]
            for f in document["features"]
            if f["properties"]["role"] == "walk" and f["properties"]["end"] != "85 mm stand"
        ][:1]
        assert start.replace("<U+D800>", "\ud800") == name
