"""From an empty folder to an outing: what is understood, what is refused, what is written."""

from __future__ import annotations

import json
import math
import os
from typing import TYPE_CHECKING, Any

import pytest
from starlette.testclient import TestClient

from backbearing.desk.application import Desk, application
from backbearing.desk.guard import Door, Guard
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LAT, LON = -31.2, 148.6
OWN = {"origin": "http://127.0.0.1:8123"}
DRAFT = {
    "ground": "ground.tif", "place": "31 12 00 S 148 36 00 E", "name": "Wether hut",
    "kind": "hut", "height": "5 m", "night": "2027-06-05", "lenses": "24, 40 f/2",
}  # fmt: skip


@pytest.fixture
def folder(desk_ground: Path, tmp_path: Path) -> Path:
    """A folder with nothing but a raster in it."""
    os.link(desk_ground, tmp_path / "ground.tif")
    return tmp_path


@pytest.fixture
def empty(folder: Path) -> Iterator[TestClient]:
    door = Door.at(8123)
    desk = Desk(None, lambda: None, folder)
    with TestClient(Guard(application(desk), door), base_url="http://127.0.0.1:8123") as client:
        client.get(f"/?key={door.key}")
        yield client


def posted(client: TestClient, path: str, **body: Any) -> Any:
    return client.post(path, json=body, headers=OWN)


def test_an_empty_folder_shows_the_sheet_and_says_that_nothing_is_open(empty: TestClient) -> None:
    assert "An empty sheet" in empty.get("/").text
    said = empty.get("/api/night")
    assert said.status_code == 422
    assert "No outing is open" in said.json()["error"]
    first = empty.get("/api/first").json()
    assert first["outings"] == []
    (raster,) = first["rasters"]
    assert raster["name"] == "ground.tif"
    assert raster["cell_m"] == pytest.approx(30.0, rel=0.03)


@pytest.mark.parametrize(
    "typed",
    ["31 12 00 S 148 36 00 E", "-31.2, 148.6", "geo:-31.2,148.6", "55J FF 52475 47147"],
)
def test_a_place_in_any_notation_is_the_same_place(empty: TestClient, typed: str) -> None:
    said = posted(empty, "/api/first/look", draft={"place": typed, "ground": "ground.tif"}).json()
    assert said["said"]["ground"]["ok"] == said["said"]["place"]["ok"]
    if typed[0] == "5":
        # By hand: zone 55 has its middle at 147 E; 148.6 E lies 1.6 degrees east of it there.
        wide_m = math.radians(1.6) * 6_378_137.0 * math.cos(math.radians(31.2)) * 0.9996
        assert said["said"]["place"]["ok"]
        assert abs(wide_m - 152_475.0) < 400.0
    lat, lon = said["at"]
    assert lat == pytest.approx(LAT, abs=2e-3)
    assert lon == pytest.approx(LON, abs=2e-3)


def test_each_answer_that_is_none_says_what_to_write(empty: TestClient) -> None:
    draft = {
        "place": "over there", "height": "tall", "lenses": "pancake", "camera": "mine",
        "night": "soon", "ground": "elsewhere.tif",
    }  # fmt: skip
    said = posted(empty, "/api/first/look", draft=draft).json()["said"]
    assert [name for name, one in said.items() if one["ok"]] == ["ground"]
    draft["place"] = "-31.2, 148.6"
    said = posted(empty, "/api/first/look", draft=draft).json()["said"]
    assert not said["ground"]["ok"]
    assert all(one["says"].endswith(".") for one in said.values())


def test_the_outing_made_is_the_one_that_was_answered(empty: TestClient, folder: Path) -> None:
    made = posted(empty, "/api/first/make", draft=DRAFT)
    assert made.json() == {"opened": "outing.toml"}
    outing = load_outing(folder / "outing.toml")
    assert (outing.subject.lat, outing.subject.lon) == (LAT, LON)
    assert outing.subject.height_m == 5.0
    assert [one.lens.focal_length_mm for one in outing.lenses] == [24.0, 40.0]
    assert outing.night.evening.isoformat() == "2027-06-05"
    assert empty.get("/api/night").json()["name"] == "Wether hut"
    assert "An empty sheet" not in empty.get("/").text
    assert not (folder / ".desk-first.json").exists()


def test_it_is_the_file_that_the_command_writes(
    empty: TestClient, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from click.testing import CliRunner

    from backbearing.cli import group

    posted(empty, "/api/first/make", draft=DRAFT)
    other = folder / "other.toml"
    words = [
        "new", str(other), "--at", DRAFT["place"], "--name", DRAFT["name"], "--kind", "hut",
        "--height", "5 m", "--night", "2027-06-05", "--lenses", DRAFT["lenses"], "--ground",
        str(folder / "ground.tif"), "--json",
    ]  # fmt: skip
    done = CliRunner().invoke(group, words)
    assert done.exit_code == 0, done.output
    assert (folder / "outing.toml").read_text() == other.read_text()


def test_no_file_is_ever_written_over(empty: TestClient, folder: Path) -> None:
    before = "# somebody's own notes\n"
    (folder / "outing.toml").write_text(before)
    made = posted(empty, "/api/first/make", draft=DRAFT)
    assert made.json() == {"opened": "outing-2.toml"}
    assert (folder / "outing.toml").read_text() == before


def test_what_was_answered_outlives_the_desk(empty: TestClient, folder: Path) -> None:
    posted(empty, "/api/first/look", draft={"place": "31 12 S", "name": "Wether"})
    door = Door.at(8123)
    again = Guard(application(Desk(None, lambda: None, folder)), door)
    with TestClient(again, base_url="http://127.0.0.1:8123") as client:
        client.get(f"/?key={door.key}")
        assert client.get("/api/first").json()["draft"]["name"] == "Wether"


@pytest.mark.parametrize("kept", ["[1", "{}" * 20_000, '{"place": 3}', "[" * 9_000])
def test_a_broken_draft_is_no_draft(empty: TestClient, folder: Path, kept: str) -> None:
    (folder / ".desk-first.json").write_text(kept)
    assert empty.get("/api/first").json()["draft"]["place"] == ""


def test_the_choice_is_limited_to_the_folder(
    empty: TestClient, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    far = tmp_path_factory.mktemp("far")
    (far / "secret.toml").write_text("[ground]\n[subject]\n[night]\n[[lens]]\n")
    (folder / "linked.toml").symlink_to(far / "secret.toml")
    os.link(folder / "ground.tif", far / "far.tif")
    (folder / "far.tif").symlink_to(far / "far.tif")
    first = empty.get("/api/first").json()
    assert [one["name"] for one in first["rasters"]] == ["ground.tif"]
    assert first["outings"] == []
    for name in ("../secret.toml", str(far / "secret.toml"), "linked.toml", "", "a" * 400):
        answer = posted(empty, "/api/open", name=name)
        assert answer.status_code == 422
        assert str(far) not in answer.text
    for name in ("../far.tif", str(far / "far.tif"), "far.tif", "/etc/passwd"):
        draft = {**DRAFT, "ground": name}
        assert posted(empty, "/api/first/make", draft=draft).status_code == 422


def test_several_outings_are_a_choice_and_can_be_changed(empty: TestClient, folder: Path) -> None:
    for name in ("Wether hut", "Ewe hut"):
        assert posted(empty, "/api/first/make", draft={**DRAFT, "name": name}).status_code == 200
        assert posted(empty, "/api/leave").status_code == 200
    (folder / "broken.toml").write_text("[ground]\nx = 1,5\n[subject]\n[night]\n[[lens]]\n")
    (folder / "kit.toml").write_text("format = 1\n[body.mine]\n")
    found = {one["name"]: one for one in empty.get("/api/first").json()["outings"]}
    assert sorted(found) == ["broken.toml", "outing-2.toml", "outing.toml"]
    assert "line 2" in found["broken.toml"]["problem"]
    for name, title in (("outing.toml", "Wether hut"), ("outing-2.toml", "Ewe hut")):
        assert posted(empty, "/api/open", name=name).status_code == 200
        assert empty.get("/api/night").json()["name"] == title


def test_a_raster_is_taken_whole_or_not_at_all(
    empty: TestClient, folder: Path, desk_ground: Path
) -> None:
    data = desk_ground.read_bytes()
    taken = empty.post("/upload/ground/My%20hills.TIF", content=data, headers=OWN)
    assert taken.json()["name"] == "My hills.tif"
    assert (folder / "My hills.tif").read_bytes() == data
    again = empty.post("/upload/ground/My%20hills.TIF", content=data, headers=OWN)
    assert again.json()["name"] == "My hills-2.tif"
    before = sorted(folder.iterdir())
    for name, content in (
        ("x.tif", data[: len(data) // 2]), ("x.tif", b"II*\0" + b"\0" * 400), ("x.tif", b""),
        ("x.exe", data), ("..%2F..%2Fx.tif.sh", data), (".tif.", data),
    ):  # fmt: skip
        answer = empty.post(f"/upload/ground/{name}", content=content, headers=OWN)
        assert answer.status_code in (404, 422), (name, answer.text)
        assert str(folder) not in answer.text
        assert sorted(folder.iterdir()) == before
    assert empty.post("/upload/ground/x.tif", content=data).status_code == 403


def test_a_name_from_outside_becomes_a_plain_one(empty: TestClient, folder: Path) -> None:
    from backbearing.desk.folder import plain_name

    for named in ("../../up.tif", "C:\\x\\up.tif", "/etc/up.tif", "...up.tif", "up.TIF"):
        assert plain_name(named, (".tif",)) == "up.tif"
    assert plain_name("<b>\x07.tif", (".tif",)) == "b.tif"
    assert plain_name("\u202e.tif", (".tif",)) == "file.tif"


def test_an_upload_above_the_limit_leaves_nothing(
    empty: TestClient, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backbearing.desk import first_steps

    monkeypatch.setattr(first_steps, "LARGEST_RASTER_BYTES", 1000)
    answer = empty.post("/upload/ground/x.tif", content=b"a" * 5000, headers=OWN)
    assert answer.status_code == 422
    assert "larger" in answer.json()["error"]
    assert sorted(one.name for one in folder.iterdir()) == ["ground.tif"]


def test_ground_that_changes_on_disk_is_opened_anew(
    empty: TestClient, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    from invented import write_ground

    posted(empty, "/api/first/make", draft=DRAFT)
    low = empty.get("/api/under", params={"lat": LAT, "lon": LON}).json()["height_m"]
    far = tmp_path_factory.mktemp("other") / "ground.tif"
    write_ground(far, lambda east, north: 1234.0, lat=LAT, lon=LON)
    far.replace(folder / "ground.tif")
    high = empty.get("/api/under", params={"lat": LAT, "lon": LON}).json()["height_m"]
    assert abs(low - 300.0) < 20.0
    assert high == pytest.approx(1234.0, abs=1e-3)


def test_nothing_is_asked_of_a_network_before_the_press(
    empty: TestClient, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    import socket

    asked: list[Any] = []

    def connect(self: Any, address: Any) -> None:
        asked.append(address)
        raise OSError(101, "Network is unreachable")

    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setattr(socket.socket, "connect", connect)
    place = {"place": "-31.2, 148.6", "within_km": "5"}
    said = posted(empty, "/api/fetch/before", **place).json()
    assert said["to_fetch"] == 1
    assert "MB" in said["says"]
    posted(empty, "/api/first/look", draft={"place": place["place"]})
    assert asked == []


def test_the_draft_of_an_outing_is_kept_until_it_does_not_fit(
    empty: TestClient, folder: Path
) -> None:
    posted(empty, "/api/first/make", draft=DRAFT)
    revision = empty.get("/api/night").json()["revision"]
    changes = {"subject": {"height_m": 7.5}}
    posted(empty, "/api/draft", changes=changes, revision=revision)
    assert empty.get("/api/draft").json() == {"changes": changes}
    wrong = posted(empty, "/api/draft", changes={"subject": {"height_m": -1}}, revision=revision)
    assert wrong.status_code == 422
    assert empty.get("/api/draft").json() == {"changes": changes}
    with (folder / "outing.toml").open("a") as file:
        file.write("# changed elsewhere\n")
    assert empty.get("/api/draft").json() == {"changes": {}}
    (folder / ".outing.toml.desk-draft.json").write_text(json.dumps([1]))
    assert empty.get("/api/draft").json() == {"changes": {}}


def test_the_command_opens_what_it_is_given(
    folder: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The only outing of a folder, the folder where none or several lie, and a friend's zip."""
    import zipfile

    from click.testing import CliRunner

    from backbearing.cli import group
    from backbearing.desk import serve

    served: list[tuple[Path | None, Path]] = []
    monkeypatch.setattr(
        serve, "serve", lambda file, **how: served.append((file, how["folder"].resolve()))
    )

    def opened(what: Path) -> Any:
        done = CliRunner().invoke(group, ["desk", str(what), "--no-browser"])
        return served.pop() if not done.exception else done.exception

    assert opened(folder) == (None, folder.resolve())
    outing = (
        f'format = 1\n[ground]\nelevation = "ground.tif"\n[subject]\nlat = {LAT}\nlon = {LON}\n'
        'height_m = 5.0\n[night]\nevening = 2027-06-05\n[camera]\nsensor_format = "135"\n'
        "width_px = 6000\n[[lens]]\nfocal_length_mm = 24.0\n"
    )
    (folder / "hut.toml").write_text(outing)
    assert opened(folder) == (folder / "hut.toml", folder.resolve())
    assert opened(folder / "hut.toml") == (folder / "hut.toml", folder.resolve())
    (folder / "barn.toml").write_text(outing)
    assert opened(folder) == (None, folder.resolve())
    assert "no outing file" in str(opened(folder / "none.toml"))
    home = tmp_path_factory.mktemp("friend")
    with zipfile.ZipFile(home / "hut.zip", "w") as archive:
        archive.writestr("outing.toml", outing)
        archive.write(folder / "ground.tif", "ground.tif")
    assert opened(home / "hut.zip") == (home / "hut" / "outing.toml", home.resolve())
    (home / "bad.zip").write_bytes(b"PK no zip")
    assert "zip" in str(opened(home / "bad.zip"))
