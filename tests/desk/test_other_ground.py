"""Another ground under the open outing: offered, refused, written, and stepped back from."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.load import load_outing
from invented import write_ground

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.testclient import TestClient

    from backbearing.desk.application import Desk

LAT, LON = -31.2, 148.6
OWN = {"origin": "http://127.0.0.1:8123"}


@pytest.fixture(scope="module")
def plateau(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Level ground at 512 m."""
    file = tmp_path_factory.mktemp("plateau") / "plateau.tif"
    return write_ground(file, lambda east, north: 512.0 + 0.0 * (east + north), lat=LAT, lon=LON)


@pytest.fixture
def folder(outing_file: Path, plateau: Path, desk_ground: Path) -> Path:
    folder = outing_file.parent
    os.link(plateau, folder / "plateau.tif")
    write_ground(
        folder / "elsewhere.tif", lambda east, north: 9.0 + 0.0 * (east + north), lat=LAT + 3.0,
        lon=LON,
    )  # fmt: skip
    return folder


def grounds(client: TestClient) -> Any:
    given = client.get("/api/grounds")
    assert given.status_code == 200, given.text
    return given.json()


def take(client: TestClient, ground: str, **more: Any) -> Any:
    revision = client.get("/api/night").json()["revision"]
    return client.post(
        "/api/grounds", json={"ground": ground, "revision": revision, **more}, headers=OWN
    )


def test_each_raster_says_whether_it_holds_the_subject(client: TestClient, folder: Path) -> None:
    found = grounds(client)
    assert {one["name"]: one["holds"] for one in found["rasters"]} == {
        "plateau.tif": True, "elsewhere.tif": False,
    }  # fmt: skip
    assert found["now"] == "ground.tif"  # it lies in another folder, and is not in the list
    assert not any(one["under"] for one in found["rasters"])
    assert not found["kept"]


def test_another_ground_is_written_and_stepped_back_from(
    client: TestClient, desk: Desk, folder: Path, outing_file: Path
) -> None:
    before = outing_file.read_text(encoding="utf-8")
    high = client.get("/api/under", params={"lat": LAT, "lon": LON}).json()["height_m"]
    key = client.get("/api/ground").json()["key"]
    draft = {"subject": {"height_m": 6.0}}
    given = take(client, "plateau.tif", changes=draft)
    assert given.status_code == 200, given.text
    text = outing_file.read_text(encoding="utf-8")
    assert 'elevation = "plateau.tif"' in text
    assert "# Written by hand; comments stay." in text
    # What was said of the old raster is not said of the new one; the draft stays a draft.
    assert load_outing(outing_file).ground.product == ""
    assert "vertical_sigma_m" not in text
    assert load_outing(outing_file).subject.height_m == 5.0
    level = client.get("/api/under", params={"lat": LAT, "lon": LON}).json()
    assert level["height_m"] == pytest.approx(512.0, abs=1e-3)
    assert level["slope_deg"] == pytest.approx(0.0, abs=1e-3)
    assert abs(high - 512.0) > 50.0
    assert client.get("/api/ground").json()["key"] != key
    assert client.get("/api/ridge").status_code == 200
    (under,) = [one for one in grounds(client)["rasters"] if one["under"]]
    assert under["name"] == "plateau.tif"

    revision = given.json()["revision"]
    assert given.json()["can_undo"]
    assert client.post("/api/undo", json={"revision": revision}, headers=OWN).status_code == 200
    assert outing_file.read_text(encoding="utf-8") == before
    back = client.get("/api/under", params={"lat": LAT, "lon": LON}).json()["height_m"]
    assert back == pytest.approx(high, abs=1e-9)
    assert client.get("/api/ground").json()["key"] == key


@pytest.mark.parametrize(
    ("ground", "said"),
    [
        ("elsewhere.tif", "no ground at the place"),
        ("../outing.toml", "no file"),
        ("/etc/passwd", "no file"),
        ("nowhere.tif", "no file"),
        ("kept", "is kept on this computer"),
        ("", "No ground is chosen"),
    ],
)
def test_what_is_no_ground_for_it_is_refused(
    client: TestClient, folder: Path, outing_file: Path, monkeypatch: pytest.MonkeyPatch,
    ground: str, said: str,
) -> None:  # fmt: skip
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    before = outing_file.read_bytes()
    given = take(client, ground)
    assert given.status_code == 422
    assert said in given.json()["error"]
    assert str(folder) not in given.text
    assert outing_file.read_bytes() == before


def test_a_file_changed_elsewhere_is_not_written_over(
    client: TestClient, folder: Path, outing_file: Path
) -> None:
    revision = client.get("/api/night").json()["revision"]
    outing_file.write_text(outing_file.read_text(encoding="utf-8") + "# another hand\n")
    body = {"ground": "plateau.tif", "revision": revision}
    given = client.post("/api/grounds", json=body, headers=OWN)
    assert given.status_code == 409
    assert "# another hand" in outing_file.read_text(encoding="utf-8")


@pytest.mark.browser
@pytest.mark.slow
def test_the_page_lays_it_under_the_outing(
    chromium: Any, folder: Path, outing_file: Path, running: Any
) -> None:
    page = chromium.new_page(viewport={"width": 390, "height": 844}, reduced_motion="reduce")
    complaints: list[str] = []
    page.on("pageerror", lambda problem: complaints.append(str(problem)))
    page.goto(running.address)
    page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")
    page.click("#other-ground summary")
    page.wait_for_selector("#grounds input[value='plateau.tif']")
    assert page.locator("#grounds input[value='elsewhere.tif']").is_disabled()
    assert page.locator("#take-ground").is_disabled()
    page.check("#grounds input[value='plateau.tif']")
    page.click("#take-ground")
    page.wait_for_selector("#ground-now:text('plateau.tif')")
    page.wait_for_selector("#undo:enabled")
    assert 'elevation = "plateau.tif"' in outing_file.read_text(encoding="utf-8")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.click("#undo")
    page.wait_for_selector("#undo:disabled", state="attached")
    assert "plateau" not in outing_file.read_text(encoding="utf-8")
    assert complaints == []
    page.close()
