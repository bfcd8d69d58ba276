"""Ground brought at the desk from an invented server: told before, brought, stopped, used."""

from __future__ import annotations

import json
import time
from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

from backbearing.desk.application import Desk, application
from backbearing.desk.guard import Door, Guard
from backbearing.fetching.tile_scheme import Corner
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

OWN = {"origin": "http://127.0.0.1:8123"}
PLACE = {"place": "31 30 S 148 30 E", "within_km": "5"}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "outings"
    made.mkdir()
    return made


@pytest.fixture
def client(
    served: Any, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[TestClient]:
    """A desk whose first source of ground is the invented server."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    said = {
        "name": "ours", "template": served.template, "scheme": "copernicus 90",
        "product": "copernicus 90", "licence": "invented by us", "datum": "EGM2008",
    }  # fmt: skip
    lines = [f"{key} = {json.dumps(value)}" for key, value in said.items()]
    config = tmp_path / "config" / "backbearing" / "config.toml"
    config.parent.mkdir(parents=True)
    config.write_text("[[tile_source]]\n" + "\n".join(lines) + "\n")
    door = Door.at(8123)
    desk = Desk(None, lambda: None, folder)
    with TestClient(Guard(application(desk), door), base_url="http://127.0.0.1:8123") as made:
        made.get(f"/?key={door.key}")
        yield made
    desk.close()


def posted(client: TestClient, path: str, **body: Any) -> Any:
    given = client.post(path, json=body, headers=OWN)
    assert given.status_code == 200, given.text
    return given.json()


def at_the_end(client: TestClient) -> Any:
    end = time.monotonic() + 60.0
    while (now := client.get("/api/fetch").json())["state"] == "running":
        assert time.monotonic() < end
        time.sleep(0.05)
    return now


def test_it_is_told_before_and_brought_on_the_press(
    client: TestClient, served: Any, folder: Path
) -> None:
    served.tile(Corner(-32, 148), size=1200)
    before = posted(client, "/api/fetch/before", **PLACE)
    assert before["to_fetch"] == 1
    # 1200 x 1200 cells of 4 bytes with overviews, a third more: 7.7 MB at most.
    assert before["megabytes"] == pytest.approx(1200 * 1200 * 4 * 4 / 3 / 1e6, rel=0.01)
    assert "asks 127.0.0.1 for 1 tile" in before["says"]
    draft = {"place": PLACE["place"], "height": "6", "lenses": "24", "night": "2027-06-05"}
    assert not posted(client, "/api/first/look", draft=draft)["kept"]
    assert served.requests == []
    posted(client, "/api/fetch/start", **PLACE)
    assert at_the_end(client)["state"] == "done"
    assert len({one["path"] for one in served.requests}) == 1
    assert posted(client, "/api/fetch/before", **PLACE)["to_fetch"] == 0
    asked = len(served.requests)
    draft["ground"] = "kept"
    look = posted(client, "/api/first/look", draft=draft)
    assert look["kept"]
    assert look["said"]["ground"]["ok"]
    posted(client, "/api/first/make", draft=draft)
    ground = load_outing(folder / "outing.toml").ground
    assert (ground.product, ground.credit) == ("copernicus 90", "invented by us")
    assert len(served.requests) == asked


def test_what_comes_slowly_is_stopped_and_gone_on_with(client: TestClient, served: Any) -> None:
    served.tile(Corner(-32, 148), size=1200)
    served.faults(Invented="slow")
    posted(client, "/api/fetch/start", **PLACE)
    again = client.post("/api/fetch/start", json=PLACE, headers=OWN)
    assert again.status_code == 422
    assert "already" in again.json()["error"]
    posted(client, "/api/fetch/stop")
    now = at_the_end(client)
    assert now["state"] == "stopped"
    assert "press again" in now["says"]
    served.faults()
    posted(client, "/api/fetch/start", **PLACE)
    assert at_the_end(client)["state"] == "done"


def test_a_server_that_has_nothing_is_said_in_a_sentence(client: TestClient, served: Any) -> None:
    posted(client, "/api/fetch/start", **PLACE)
    now = at_the_end(client)
    assert now["state"] == "failed"
    assert now["says"].endswith(".")
