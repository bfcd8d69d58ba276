"""A user's way in a real browser: from an empty folder to a printed sheet, no file touched."""

from __future__ import annotations

import os
import signal
import time
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.load import load_outing
from running_desk import Running

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def no_network(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every way out of this computer leads nowhere, and no kit or tiles of the machine's owner."""
    for name in ("http_proxy", "https_proxy", "all_proxy"):
        monkeypatch.setenv(name, "http://127.0.0.1:9")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "outings"
    made.mkdir()
    return made


@pytest.fixture
def page(chromium: Any) -> Iterator[Any]:
    """A page that reaches this computer only; what it complains of is noted."""
    context = chromium.new_context(
        viewport={"width": 1400, "height": 900}, reduced_motion="reduce", accept_downloads=True
    )
    page = context.new_page()
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda problem: page.complaints.append(f"error: {problem}"))

    def cut(route: Any) -> None:
        if route.request.url.startswith(("http://127.0.0.1:", "data:", "blob:")):
            route.continue_()
        else:
            page.complaints.append(f"request: {route.request.url}")
            route.abort()

    context.route("**/*", cut)
    yield page
    context.close()


def ready(page: Any, address: str | None = None) -> None:
    if address is not None:
        page.goto(address)
    page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")


def says(page: Any, box: str, words: str, *, within_s: float = 30.0) -> None:
    end = time.monotonic() + within_s
    while words not in page.inner_text(box):
        assert time.monotonic() < end, (box, words, page.inner_text(box))
        page.wait_for_timeout(50)


def on_the_desk(page: Any) -> None:
    page.wait_for_selector("#profile", state="attached", timeout=60_000)
    ready(page)


def killed(running: Running, folder: Path) -> Running:
    """Kill the desk as a power cut would, and open it again."""
    running.process.send_signal(signal.SIGKILL)
    running.end()
    return Running(folder)


def answer_everything(page: Any, raster: Path) -> None:
    # The ground comes through the browser's own file choice.
    page.set_input_files("#raster-file", str(raster))
    says(page, "#upload-says", "ground.tif")
    page.wait_for_selector("#first-map .leaflet-tile-loaded")
    # The subject by a click on the map, then exactly by what a map sheet says.
    box = page.locator("#first-map").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0)
    says(page, "#place-says", "S 148.")
    says(page, "#ground-says", "holds the subject")
    page.fill("#place", "31° 12′ 00″ S, 148° 36′ 00″ E")
    says(page, "#place-says", "31.20000 S 148.60000 E")
    page.fill("input[name=name]", "Wether <b>hut</b>")
    page.fill("input[name=kind]", "hut")
    page.fill("input[name=height]", "5")
    page.fill("input[name=lenses]", "24, 40")
    page.fill("input[name=night]", "2027-06-05")
    says(page, "#lenses-says", "2 lenses")
    says(page, "#night-says", "05 June 2027")


def turn_the_height(page: Any, folder: Path, height: str) -> None:
    """Turn it as a draft, which the desk keeps beside the outing."""
    page.fill("input[name='subject.height_m']", height)
    page.keyboard.press("Tab")
    page.wait_for_selector("#keep:not([disabled])")
    end = time.monotonic() + 30.0
    while not (folder / ".outing.toml.desk-draft.json").exists():
        assert time.monotonic() < end
        page.wait_for_timeout(50)


@pytest.mark.usefixtures("no_network")
def test_from_an_empty_folder_to_a_printed_sheet(
    page: Any, folder: Path, desk_ground: Path, tmp_path: Path
) -> None:
    running = Running(folder)
    try:
        ready(page, running.address)
        assert page.inner_text("h1") == "An empty sheet"
        answer_everything(page, desk_ground)
        running = killed(running, folder)
        ready(page, running.address)
        assert page.input_value("input[name=name]") == "Wether <b>hut</b>"
        assert page.input_value("input[name=night]") == "2027-06-05"
        says(page, "#ground-says", "holds the subject")
        page.click("#make")
        on_the_desk(page)
        assert page.inner_text("#name") == "Wether <b>hut</b>"
        turn_the_height(page, folder, "6.5")
        running = killed(running, folder)
        ready(page, running.address)
        assert page.input_value("input[name='subject.height_m']") == "6.5"
        page.click("#keep")
        page.wait_for_selector("#keep[disabled]")
        with page.expect_download(timeout=90_000) as coming:
            page.click("a[href='/take/sheet.pdf']")
        coming.value.save_as(tmp_path / "sheet.pdf")
        assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
        outing = load_outing(folder / "outing.toml")
        assert (outing.subject.lat, outing.subject.lon) == (-31.2, 148.6)
        assert outing.subject.height_m == 6.5
        # Back to the list of what lies there.
        page.click("#another")
        page.wait_for_selector("#outing-list button")
        # What a killed desk did not answer any more is no fault of the page.
        assert [one for one in page.complaints if "net::ERR_" not in one] == []
        assert running.interrupt() == 0
        assert sorted(one.name for one in folder.iterdir()) == ["ground.tif", "outing.toml"]
    finally:
        running.end()


@pytest.mark.usefixtures("no_network")
def test_without_a_network_the_press_says_so_in_a_sentence(page: Any, folder: Path) -> None:
    running = Running(folder)
    try:
        ready(page, running.address)
        assert page.is_disabled("#fetch")
        page.fill("#place", "-31.2, 148.6")
        page.fill("input[name=within_km]", "5")
        says(page, "#fetch-says", "A press asks")
        assert "MB" in page.inner_text("#fetch-says")
        page.click("#fetch")
        says(page, "#fetch-says", "No ground came", within_s=60.0)
        assert page.complaints == []
    finally:
        running.end()


@pytest.mark.usefixtures("no_network")
@pytest.mark.parametrize("width", [1400, 390])
def test_the_sheet_is_for_everybody(page: Any, folder: Path, desk_ground: Path, width: int) -> None:
    from axe_playwright_python.sync_playwright import Axe

    os.link(desk_ground, folder / "ground.tif")
    page.set_viewport_size({"width": width, "height": 844})
    running = Running(folder)
    try:
        ready(page, running.address)
        page.fill("#place", "-31.2, 148.6")
        says(page, "#ground-says", "holds the subject")
        for _ in range(2):
            found = Axe().run(page).response["violations"]
            assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found] == []
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            page.click("#theme")
        assert page.complaints == []
    finally:
        running.end()


@pytest.mark.usefixtures("no_network")
def test_a_height_by_marks_in_a_photograph(
    page: Any, outing_file: Path, tmp_path: Path, photograph: Callable[..., bytes]
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    picture = tmp_path / "mill.jpg"
    picture.write_bytes(photograph())
    running = Running(outing_file)
    try:
        ready(page, running.address)
        page.click("#measure > summary")
        page.wait_for_selector("#measure-way option", state="attached")
        page.select_option("#measure-way", "picture")
        page.set_input_files("#photograph-file", str(picture))
        says(page, "#photograph-says", "50.0 mm")
        box = page.locator("#photograph").bounding_box()
        for number, row in enumerate((200, 500)):
            page.locator("#measure [data-key]").nth(number).click()
            page.locator("#photograph").click(
                position={"x": box["width"] / 2.0, "y": box["height"] * (row - 3.0) / 800.0}
            )
            for _ in range(8):
                page.keyboard.press("ArrowDown")
                if f"row {row}." in page.inner_text("#photograph-says"):
                    break
            says(page, "#photograph-says", f"row {row}.")
        page.fill("#measure-asked input[name=distance_m]", "30")
        page.click("#measure details summary")
        page.fill("#measure-more input[name=horizon_row_px]", "400")
        page.click("#measure-go")
        says(page, "#measure-says", "Height 5.4")
        page.click("#subject-more > summary")
        for width in (1400, 390):
            page.set_viewport_size({"width": width, "height": 844})
            found = Axe().run(page, {"include": [["#subject-panel"]]}).response["violations"]
            assert [(one["id"], one["nodes"][0]["html"][:120]) for one in found] == []
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.click("#measure-take")
        page.wait_for_selector("#keep:not([disabled])")
        # 36 mm on 1200 pixels: 300 rows at 50 mm and 30 m.
        height = float(page.input_value("input[name='subject.height_m']"))
        assert abs(height - 30.0 * 300.0 / (50.0 / 36.0 * 1200.0)) < 0.01
        page.fill("#place", "31 12 03 S 148 36 03 E")
        page.keyboard.press("Tab")
        end = time.monotonic() + 30.0
        while not page.input_value("input[name='subject.lat']").startswith("-31.200833"):
            assert time.monotonic() < end
            page.wait_for_timeout(50)
        assert page.complaints == []
    finally:
        running.end()
