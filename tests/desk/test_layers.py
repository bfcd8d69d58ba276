"""The land on the desk's map: what is read, what a view shows, what is found, what is let in."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import shapely

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.desk.guard import Door, Guard
from backbearing.desk.land_view import LandView, View
from backbearing.desk.map_features import NOT_SHOWN, MapFeatures, read_map_features
from backbearing.desk.online_tiles import OnlineTiles
from invented_map import write_extract

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

LAT, LON = -31.2, 148.6
BOX = (148.5, -31.3, 148.7, -31.1)


@pytest.fixture(scope="module")
def extract(tmp_path_factory: pytest.TempPathFactory) -> Path:
    pytest.importorskip("osmium")
    return write_extract(tmp_path_factory.mktemp("map") / "land.osm.pbf", lat=LAT, lon=LON)


@pytest.fixture(scope="module")
def land(extract: Path) -> LandView:
    return LandView(MapFeatures.unpacked(read_map_features(extract, BOX).packed()))


def view(zoom: int, half_deg: float = 0.03, *, lat: float = LAT, lon: float = LON) -> View:
    return View(zoom, lon - half_deg, lat - half_deg, lon + half_deg, lat + half_deg)


def test_every_kind_is_read_as_what_it_is(land: LandView) -> None:
    counted = dict(zip(*np.unique(land.features.kind, return_counts=True), strict=True))
    assert counted == {
        "road": 1, "track": 1, "path": 1, "stream": 1,
        "wood": 1, "water": 1, "building": 2, "named": 1,
    }  # fmt: skip
    assert "OpenStreetMap contributors" in land.features.credit
    assert "Open Database Licence" in land.features.credit


def test_what_lies_off_the_ground_is_not_read(extract: Path) -> None:
    assert len(read_map_features(extract, (10.0, 50.0, 11.0, 51.0)).kind) == 0


def test_far_out_the_roads_close_up_the_buildings(land: LandView) -> None:
    assert set(land.shown(view(9, 1.0))["kinds"]) == {"road"}
    assert set(land.shown(view(13))["kinds"]) == {
        "road", "track", "path", "stream", "wood", "water",
    }  # fmt: skip
    assert "building" in land.shown(view(18, 0.004))["kinds"]
    assert [one["name"] for one in land.shown(view(13))["names"]] == ["Wether Bank (invented)"]
    assert land.shown(view(12))["names"] == []


def test_a_view_is_clipped_and_thinned_to_its_pixels(land: LandView) -> None:
    """Nothing beyond its edges, and no line farther than a pixel from the one in the file."""
    seen = view(14, 0.008)
    (line,) = land.shown(seen)["kinds"]["road"]
    lat, lon = np.array(line).T
    assert lon.min() >= seen.west - 1e-9
    assert lon.max() <= seen.east + 1e-9
    whole = land.features.shape[land.features.kind == "road"][0]
    drawn = shapely.LineString(np.c_[lon, lat])
    assert (
        shapely.hausdorff_distance(
            drawn, shapely.clip_by_rect(whole, seen.west, seen.south, seen.east, seen.north)
        )
        < 360.0 / 256.0 / 2**14
    )
    fewer = land.shown(view(8, 1.0))["kinds"]["road"][0]
    assert len(fewer) < shapely.get_num_coordinates(whole)
    assert np.ptp(lat) > 0.0


def test_a_crowded_view_keeps_its_largest_and_says_so() -> None:
    rng = np.random.default_rng(7)
    at = rng.uniform(-0.02, 0.02, (9000, 2)) + np.array([LON, LAT])
    sheds = shapely.box(at[:, 0], at[:, 1], at[:, 0] + 1e-4, at[:, 1] + 1e-4)
    hall = shapely.box(LON, LAT, LON + 0.004, LAT + 0.004)
    shapes = np.array([*sheds, hall], dtype=object)
    n = len(shapes)
    features = MapFeatures(
        np.full(n, "building"), shapes, np.full(n, ""), np.full(n, NOT_SHOWN, np.int8), "", "x"
    )
    said = LandView(features).shown(view(18))
    assert said["left_out"] > 3000
    assert sum(map(len, said["kinds"]["building"])) <= 24_000
    widest = max(np.ptp(np.array(ring)[:, 1]) for ring in said["kinds"]["building"])
    assert widest == pytest.approx(0.004, rel=1e-3)


def test_shapes_that_cross_themselves_are_drawn_all_the_same() -> None:
    bow = shapely.Polygon([(148.59, -31.21), (148.61, -31.19), (148.61, -31.21), (148.59, -31.19)])
    features = MapFeatures(
        np.array(["wood"]), np.array([bow], dtype=object), np.array(["Bow"]),
        np.array([NOT_SHOWN], np.int8), "", "x",
    )  # fmt: skip
    said = LandView(features).shown(View(14, 148.595, -31.205, 148.605, -31.195))
    assert said["kinds"]["wood"]


def test_names_are_found_from_their_beginning_on_or_within(land: LandView) -> None:
    assert [one["name"] for one in land.found("wether")] == [
        "Wether Bank (invented)",
        "Wether road (invented)",
        "Wether tarn (invented)",
    ]
    (wood,) = land.found("FOLD")
    assert abs(wood["lat"] - LAT) < 0.01
    (south, west), (north, east) = wood["bounds"]
    across_m = (east - west) * 111_195.0 * math.cos(math.radians(LAT))
    assert across_m == pytest.approx(520.0, abs=3.0)
    assert (north - south) * 111_195.0 == pytest.approx(520.0, abs=3.0)
    assert land.found("no such thing") == land.found("  ") == []


def test_a_places_file_is_drawn_too_and_a_broken_extract_is_told(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": [[148.59, -31.2], [148.61, -31.2]]}
    places = [
        {"type": "Feature", "geometry": line, "properties": {"kind": "track", "name": "Drove"}}
    ]
    file = tmp_path / "places.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": places}))
    shown = LandView(read_map_features(file, BOX)).shown(view(14))
    assert set(shown["kinds"]) == {"track"}
    assert "places.geojson" in shown["credit"]
    broken = tmp_path / "broken.osm.pbf"
    broken.write_bytes(b"no extract" * 40)
    with pytest.raises(OutingError, match="cannot be read"):
        read_map_features(broken, BOX)


@pytest.mark.slow
def test_over_the_address(client: TestClient, outing_file: Path, extract: Path) -> None:
    where = {"zoom": 14, "west": 148.58, "south": -31.22, "east": 148.62, "north": -31.18}
    empty = client.get("/api/land", params=where).json()
    assert empty["kinds"] == {}
    (outing_file.parent / "land.osm.pbf").write_bytes(extract.read_bytes())
    said = client.get("/api/land", params=where).json()
    assert "road" in said["kinds"]
    found = client.get("/api/find", params={"text": "tarn"}).json()["found"]
    assert [one["name"] for one in found] == ["Wether tarn (invented)"]
    for bad in (
        {"zoom": 14},
        {**where, "west": 170.0},
        {**where, "zoom": 99},
        {**where, "south": "x"},
    ):
        refused = client.get("/api/land", params=bad)
        assert refused.status_code == 422, bad
        assert set(refused.json()) == {"error"}
    assert client.get("/api/find", params={"text": "x" * 81}).status_code == 422


@pytest.mark.parametrize(
    "address",
    [
        "http://tiles.invalid/{z}/{x}/{y}.png",
        "https://tiles.invalid/{z}/{x}.png",
        "https://{z}.invalid/{z}/{x}/{y}.png",
        "https://user@tiles.invalid/{z}/{x}/{y}.png",
        "https://tiles.invalid:8443/{z}/{x}/{y}.png",
        "https://tiles.invalid; script-src *; /{z}/{x}/{y}.png",
        "https://tiles.invalid;script-src/{z}/{x}/{y}.png",
        "https://*.invalid/{z}/{x}/{y}.png",
        "https://[bad/{z}/{x}/{y}.png",
        "javascript:alert(1)//{z}{x}{y}",
        "",
    ],
)
def test_no_other_address_of_tiles_is_taken(address: str) -> None:
    with pytest.raises(BackbearingError, match="https://HOST"):
        OnlineTiles(address)


def test_the_policy_opens_for_the_named_host_alone(desk: Any, door: Door) -> None:
    from starlette.testclient import TestClient

    from backbearing.desk.application import application

    def policy(guard: Guard) -> str:
        with TestClient(guard, base_url=f"http://127.0.0.1:{door.port}") as client:
            client.get(f"/?key={door.key}")
            said: str = client.get("/api/online").headers["content-security-policy"]
            return said

    closed = policy(Guard(application(desk), door))
    assert "https:" not in closed
    desk.online = OnlineTiles("https://tiles.invalid/{z}/{x}/{y}.png")
    opened = policy(Guard(application(desk), door, pictures_from=desk.online.host))
    assert opened == closed.replace("img-src 'self'", "img-src 'self' https://tiles.invalid")
