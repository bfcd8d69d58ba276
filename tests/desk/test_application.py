"""The desk says what the library says, and nothing else."""

from __future__ import annotations

import io
import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk

OWN = {"origin": "http://127.0.0.1:8123"}


def asked(client: TestClient, path: str, **what: Any) -> Any:
    facts = {k: json.dumps(v) if isinstance(v, dict) else v for k, v in what.items()}
    given = client.get(path, params=facts)
    assert given.status_code == 200, given.text
    return given.json()


def test_the_night_is_the_prepared_nights(client: TestClient, outing_file: Path) -> None:
    changes = {"subject": {"height_m": 7.0}, "framing": {"share": 0.25}}
    said = asked(client, "/api/night", changes=changes)
    night = prepare_night(load_outing(outing_file)).with_subject_height(7.0).with_share(0.25)
    arcs = night.arcs()
    assert [lens["label"] for lens in said["lenses"]] == [one.lens.label for one in arcs]
    assert len(said["times"]) == len(night.sky.times)
    for lens, one in zip(said["lenses"], arcs, strict=True):
        for row, point in zip(lens["points"], one.arc, strict=True):
            for shown, true, within in (
                (row[0], point.lat, 1e-7),
                (row[1], point.lon, 1e-7),
                (row[2], point.distance_m, 1e-3),
                (row[5], point.target_altitude_deg, 1e-4),
                (row[6], point.skyline_deg, 1e-4),
            ):
                assert (shown is None) == math.isnan(true)
                assert shown is None or abs(shown - true) <= within
            assert tuple(row[7]) == point.limits


def test_the_minute_is_the_prepared_nights(client: TestClient, outing_file: Path) -> None:
    night = prepare_night(load_outing(outing_file))
    moment = night.sky.times[len(night.sky.times) // 2]
    said = asked(client, "/api/minute", time=moment.timestamp())
    for row, stand in zip(said, night.stands_at(moment), strict=True):
        assert (row is None) == (stand is None)
        if stand is not None:
            assert row["distance_m"] == pytest.approx(stand.distance_m, abs=1e-9)
            assert row["cautions"] == list(stand.cautions)


def test_between_its_moments_the_night_is_straight_enough(
    client: TestClient, outing_file: Path
) -> None:
    """What the page interpolates stays within 2 cm and 0.01 degree of what is settled."""
    said = asked(client, "/api/night")
    night = prepare_night(load_outing(outing_file))
    compared = 0
    for i in range(10, len(said["times"]) - 1, 17):
        middle = (said["times"][i] + said["times"][i + 1]) / 2.0
        stands = asked(client, "/api/minute", time=middle)
        for lens, stand in zip(said["lenses"], stands, strict=True):
            a, b = lens["points"][i], lens["points"][i + 1]
            if stand is None or None in (a[2], b[2]) or max(a[5], b[5]) > 70.0:
                continue
            assert abs((a[2] + b[2]) / 2.0 - stand["distance_m"]) < 0.02
            assert abs((a[5] + b[5]) / 2.0 - stand["altitude_deg"]) < 0.01
            compared += 1
    assert compared > 10
    assert night.outing.path == outing_file.resolve()


def test_from_a_stand_of_the_arc_the_core_is_behind_at_that_minute(client: TestClient) -> None:
    said = asked(client, "/api/night")
    lens = said["lenses"][1]
    (start, end) = max(lens["usable"], key=lambda span: span[1] - span[0])
    i = int(np.searchsorted(said["times"], (start + end) / 2.0))
    lat, lon, distance_m = lens["points"][i][:3]
    found = asked(client, "/api/from-stand", lat=lat, lon=lon)
    assert found["distance_m"] == pytest.approx(distance_m, abs=0.02)
    nearest = min(abs(one["time"] - said["times"][i]) for one in found["crossings"])
    assert nearest < 5.0


def test_from_a_stand_the_moon_counts_as_the_outing_asks(
    client: TestClient, outing_file: Path
) -> None:
    """A night with the Moon up is spoilt by it, unless the outing takes any Moon."""
    text = outing_file.read_text(encoding="utf-8")
    said = asked(client, "/api/night", changes={"night": {"evening": "2027-06-18"}})
    lens = said["lenses"][0]
    i = next(k for k, row in enumerate(lens["points"]) if row[7] == ["moon"])
    place = {"lat": lens["points"][i][0], "lon": lens["points"][i][1]}
    outing_file.write_text(text.replace("2027-06-05", "2027-06-18"), encoding="utf-8")
    strict = asked(client, "/api/from-stand", **place)
    any_moon = text.replace("2027-06-05", '2027-06-18\nmoon = "any"')
    outing_file.write_text(any_moon, encoding="utf-8")
    lenient = asked(client, "/api/from-stand", **place)

    def spoilers(found: Any) -> list[list[str]]:
        return [
            one["spoilt_by"]
            for one in found["crossings"]
            if abs(one["time"] - said["times"][i]) < 30.0
        ]

    assert spoilers(strict) == [["moon"]]
    assert spoilers(lenient) == [[]]


def test_frames_are_pictures_and_an_hour_without_a_stand_has_none(client: TestClient) -> None:
    from PIL import Image

    said = asked(client, "/api/night")
    start, _ = said["lenses"][0]["usable"][0]
    given = client.get("/api/frame", params={"time": start, "lens": 0})
    picture = Image.open(io.BytesIO(given.content))
    assert picture.size == (480, 320)
    assert client.get("/api/frame", params={"time": start, "lens": 9}).status_code == 422
    red = client.get("/api/frame", params={"time": start, "lens": 0, "red": 1})
    channels = np.asarray(Image.open(io.BytesIO(red.content)).convert("RGB")).reshape(-1, 3)
    assert channels[:, 1:].mean() < 0.15 * channels[:, 0].mean() + 2.0


def test_the_season_is_the_planners(client: TestClient, outing_file: Path) -> None:
    from backbearing.alignment.night.plan_season import plan_season

    rows = asked(client, "/api/season")
    outing = load_outing(outing_file)
    (mine,) = [row for row in rows if row["evening"] == outing.night.evening.isoformat()]
    (night,) = plan_season(outing, nights=1).nights
    assert mine["minutes"] == pytest.approx(night.window_minutes, abs=0.1)
    assert all(row["minutes"] > 0 or row["why_not"] for row in rows)


def test_keep_and_undo_over_the_address(client: TestClient, desk: Desk, outing_file: Path) -> None:
    before = outing_file.read_bytes()
    first = desk.outing.revision
    body = {"changes": {"subject": {"height_m": 6.5}}, "revision": first}
    kept = client.post("/api/keep", json=body, headers=OWN).json()
    assert kept["can_undo"]
    assert load_outing(outing_file).subject.height_m == 6.5
    stale = client.post("/api/keep", json=body, headers=OWN)
    assert stale.status_code == 409
    assert "changed elsewhere" in stale.json()["error"]
    undone = client.post("/api/undo", json={"revision": kept["revision"]}, headers=OWN)
    assert undone.json() == {"revision": first, "can_undo": False}
    assert outing_file.read_bytes() == before


def test_tiles_cover_the_ground_and_nothing_else(client: TestClient) -> None:
    from PIL import Image

    ground = asked(client, "/api/ground")
    (south, west), (north, east) = ground["bounds"]
    lat, lon = (south + north) / 2.0, (west + east) / 2.0
    for zoom in (ground["least_zoom"], 13, 17):
        n = 1 << zoom
        column = int((lon + 180.0) / 360.0 * n)
        up = math.asinh(math.tan(math.radians(lat))) / math.pi
        row = int((1.0 - up) / 2.0 * n)
        given = client.get(f"/tiles/{zoom}/{column}/{row}.webp")
        assert given.status_code == 200
        assert Image.open(io.BytesIO(given.content)).size == (256, 256)
    assert client.get("/tiles/13/0/0.webp").status_code == 204
    for path in ("13/-1/0", "13/99999/0", "40/0/0"):
        assert client.get(f"/tiles/{path}.webp").status_code == 404


def test_under_the_pointer_and_beside_the_ground(client: TestClient) -> None:
    said = asked(client, "/api/night")
    subject = said["subject"]
    under = asked(client, "/api/under", lat=subject["lat"], lon=subject["lon"])
    assert under["height_m"] == pytest.approx(subject["ground_m"], abs=0.01)
    off = asked(client, "/api/under", lat=0.0, lon=0.0)
    assert off["height_m"] is None
    assert off["state"] == "outside"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "begins"),
    [
        ("page.html", b"<!DOCTYPE html>"),
        ("sheet.pdf", b"%PDF"),
        ("night.ics", b"BEGIN:VCALENDAR"),
        ("stands.gpx", b"<?xml"),
        ("stands.kml", b"<?xml"),
        ("stands.gpkg", b"SQLite format 3"),
        ("plan.json", b"{"),
    ],
)
def test_files_to_take_along(client: TestClient, name: str, begins: bytes) -> None:
    given = client.get(f"/take/{name}")
    assert given.status_code == 200
    assert given.content.startswith(begins)
    assert name in given.headers["content-disposition"]
    assert client.get("/take/../outing.toml").status_code == 404


@pytest.mark.slow
def test_everything_in_one_zip_opens_at_the_desk(
    client: TestClient, desk: Desk, outing_file: Path
) -> None:
    import zipfile

    given = client.get("/take/everything.zip")
    assert given.status_code == 200
    names = zipfile.ZipFile(io.BytesIO(given.content)).namelist()
    assert {"outing.toml", "ground.tif", "page.html", "sheet.pdf", "about.txt"} <= set(names)
    before = outing_file.read_bytes()
    desk.folder = outing_file.parent
    largest = {"content": given.content, "headers": OWN}
    opened = client.post("/upload/zip/from%20a%20friend.zip", **largest)
    assert opened.json() == {"opened": "from a friend/outing.toml"}
    assert desk.outing.file == outing_file.parent / "from a friend" / "outing.toml"
    assert outing_file.read_bytes() == before
    bad = client.post("/upload/zip/x.zip", content=b"no zip at all", headers=OWN)
    assert bad.status_code == 422
    assert str(outing_file.parent) not in bad.text
    assert sorted(one.name for one in outing_file.parent.iterdir() if one.is_dir()) == [
        "from a friend"
    ]
