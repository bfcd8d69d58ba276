"""Place, outline, lenses, body and target turned as a draft, and kept without touching the rest."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

OWN = {"origin": "http://127.0.0.1:8123"}
SQUARE = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M0 0L10 0L10 20L0 20Z"/></svg>'


def subject(client: TestClient, changes: Any, status: int = 200) -> Any:
    given = client.get("/api/subject", params={"changes": json.dumps(changes)})
    assert given.status_code == status, given.text
    return given.json()


def kept(client: TestClient, changes: Any) -> Any:
    revision = client.get("/api/night").json()["revision"]
    body = {"changes": changes, "revision": revision}
    return client.post("/api/keep", json=body, headers=OWN)


@pytest.mark.parametrize(
    ("typed", "lat", "lon"),
    [
        ("31 30 00 S 148 12 00 E", -31.5, 148.2),
        ("31°30.0′S 148°12.0′E", -31.5, 148.2),
        ("geo:-31.5,148.2", -31.5, 148.2),
        # The false origin of zone 31 on the equator: 500 km east is its middle, 3 E.
        ("31N 500000 0", 0.0, 3.0),
    ],
)
def test_a_typed_place_is_read(client: TestClient, typed: str, lat: float, lon: float) -> None:
    found = client.get("/api/place", params={"text": typed}).json()
    assert found["lat"] == pytest.approx(lat, abs=1e-6)
    assert found["lon"] == pytest.approx(lon, abs=1e-6)


@pytest.mark.parametrize("typed", ["", "at the old mill", "1, 2, 3", "x" * 4000, "\x00"])
def test_a_place_that_is_none_is_said_in_a_sentence(client: TestClient, typed: str) -> None:
    given = client.get("/api/place", params={"text": typed})
    assert given.status_code == 422
    assert given.json()["error"].endswith(".")


def test_lenses_are_changed_added_and_taken_out(client: TestClient, outing_file: Path) -> None:
    text = outing_file.read_text()
    assert subject(client, {})["focal_lengths_mm"] == [24.0, 40.0]
    entries = [{"was": 2, "focal_length_mm": 50.0}, {"typed": "85 f/1.8"}]
    changes = {"lens": {"list": entries}}
    assert subject(client, changes)["focal_lengths_mm"] == [50.0, 85.0]
    assert outing_file.read_text() == text
    assert kept(client, changes).status_code == 200
    outing = load_outing(outing_file)
    assert [one.lens.focal_length_mm for one in outing.lenses] == [50.0, 85.0]
    assert [one.lens.f_number for one in outing.lenses] == [2.8, 1.8]
    after = outing_file.read_text()
    assert after.split("[[lens]]")[0] == text.split("[[lens]]")[0]


@pytest.mark.parametrize(
    "entries",
    [[], [{}], [{"was": 9}], [{"was": True}], [{"typed": "soft"}], [{"typed": 3}], "24", [[1]],
     [{"was": 1, "focal_length_mm": -3}], [{"was": 1, "focal_length_mm": "x"}],
     [{"typed": "24"}] * 70],
)  # fmt: skip
def test_lenses_that_are_none_are_refused(client: TestClient, entries: Any) -> None:
    assert "error" in subject(client, {"lens": {"list": entries}}, 422)


def test_the_body_is_changed_and_its_old_keys_go(client: TestClient, outing_file: Path) -> None:
    assert kept(client, {"camera": {"typed": "APS-C"}}).status_code == 200
    camera = load_outing(outing_file).camera
    # A trade name's common size: 23.6 x 15.7 mm.
    assert camera.sensor_width_mm == pytest.approx(23.6, abs=0.5)
    assert "sensor_width_mm" not in outing_file.read_text()
    assert kept(client, {"camera": {"typed": "36 x 24 mm, 8000 x 5000"}}).status_code == 422
    assert kept(client, {"camera": {"typed": "36 x 24 mm, 9000 x 6000"}}).status_code == 200
    assert load_outing(outing_file).camera.width_px == 9000


def test_the_body_of_the_kit(
    client: TestClient, outing_file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(
        'format = 1\n[body."hill body"]\nsensor_format = "135"\nwidth_px = 7000\n'
        '[lens."the wide"]\nfocal_length_mm = 18.0\nf_number = 1.8\n'
    )
    monkeypatch.setenv("BACKBEARING_KIT", str(kit))
    facts = subject(client, {})
    assert (facts["bodies"], facts["kit_lenses"]) == (["hill body"], ["the wide"])
    entries = [{"was": 1}, {"typed": "the wide"}]
    changes = {"camera": {"typed": "hill body"}, "lens": {"list": entries}}
    assert kept(client, changes).status_code == 200
    outing = load_outing(outing_file)
    assert outing.camera.width_px == 7000
    assert [one.lens.focal_length_mm for one in outing.lenses] == [24.0, 18.0]
    assert 'use = "the wide"' in outing_file.read_text()


@pytest.mark.parametrize("typed", ["dark lane", "Saturn", "Antares"])
def test_what_stands_behind_is_changed(client: TestClient, outing_file: Path, typed: str) -> None:
    assert kept(client, {"target": {"typed": typed}}).status_code == 200
    said = client.get("/api/night").json()["target"]
    assert typed.split(maxsplit=1)[0].lower() in said.lower()
    assert kept(client, {"target": {"typed": "core"}}).status_code == 200
    assert "core" in client.get("/api/night").json()["target"]
    assert "error" in subject(client, {"target": {"typed": "the pancake star"}}, 422)


def test_an_outline_comes_in_and_goes(client: TestClient, outing_file: Path) -> None:
    taken = client.post("/upload/outline/My%20hut.svg", content=SQUARE, headers=OWN)
    assert taken.json() == {"name": "My hut.svg"}
    assert subject(client, {})["outlines"] == ["My hut.svg"]
    assert kept(client, {"subject": {"outline": "My hut.svg"}}).status_code == 200
    assert load_outing(outing_file).subject.outline is not None
    assert subject(client, {})["outline"] == "My hut.svg"
    assert kept(client, {"subject": {"outline": ""}}).status_code == 200
    assert load_outing(outing_file).subject.outline is None


@pytest.mark.parametrize(
    "content",
    [
        "", "<svg></svg>", "not at all", SQUARE.replace("<path", '<path transform="scale(2)"'),
        '<!DOCTYPE svg [<!ENTITY a "b">]>' + SQUARE,
        '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]><svg>&x;</svg>',
        "<svg>" + "<g>" * 50_000,
        '<svg><path d="' + "M0 0L" * 60_000 + '"/></svg>',
    ],
)  # fmt: skip
def test_a_hostile_outline_is_refused_and_leaves_nothing(
    client: TestClient, outing_file: Path, content: str
) -> None:
    before = sorted(outing_file.parent.iterdir())
    answer = client.post("/upload/outline/x.svg", content=content, headers=OWN)
    assert answer.status_code == 422, answer.text
    assert str(outing_file.parent) not in answer.text
    assert sorted(outing_file.parent.iterdir()) == before


@pytest.mark.parametrize("named", ["../x.svg", "/etc/passwd", "none.svg", 3, ["a"], {"b": 1}])
def test_an_outline_of_elsewhere_is_refused(client: TestClient, named: Any) -> None:
    assert "error" in subject(client, {"subject": {"outline": named}}, 422)


def test_a_name_stays_text(client: TestClient, outing_file: Path) -> None:
    named = '<img src=x onerror="alert(1)">\u202e\n[night]'
    assert kept(client, {"subject": {"name": named}}).status_code == 200
    assert "\n" not in load_outing(outing_file).subject.name
