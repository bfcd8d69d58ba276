"""Many subjects and the land on the map, as somebody uses them in a real browser."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.desk.guard import Door
from invented_map import write_extract

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from running_desk import Running

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LAT, LON = -31.2, 148.6


def write_things(file: Path, count: int) -> None:
    rows = ["name,lat,lon,height_m,width_m,kind", f"Off the globe,-131.2,{LON},5,4,tree"]
    rows.append(f"<img src=x onerror=alert(1)>,{LAT + 0.004},{LON - 0.004},6,4,tree")
    for i in range(count):
        east, north = (i % 40 - 20) * 0.0008, (i // 40 - 15) * 0.0008
        rows.append(f"Thing {i},{LAT + north:.5f},{LON + east:.5f},{4 + i % 6},{3 + i % 4},tree")
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")


@pytest.fixture
def folder(outing_file: Path) -> Path:
    """The outing with candidates and an extract beside it."""
    pytest.importorskip("osmium")
    text = outing_file.read_text(encoding="utf-8")
    scouting = "\n[scouting]\nnights = 4\nfirst_night = 2027-06-05\n"
    outing_file.write_text(text + scouting, encoding="utf-8")
    write_extract(outing_file.parent / "land.osm.pbf", lat=LAT, lon=LON)
    write_things(outing_file.parent / "things.csv", 400)
    return outing_file.parent


@pytest.fixture
def sheet(chromium: Any, folder: Path, running: Running) -> Iterator[Any]:
    """The desk's page; what it asks of other hosts is cut off and noted."""
    context = chromium.new_context(viewport={"width": 1400, "height": 900}, reduced_motion="reduce")
    page = context.new_page()
    page.complaints = []
    own = (running.address.split("/?")[0], "data:", "blob:")

    def cut(route: Any) -> None:
        if route.request.url.startswith(own):
            route.continue_()
        else:
            page.complaints.append(f"request: {route.request.url}")
            route.abort()

    page.route("**/*", cut)
    page.on("console", lambda said: page.complaints.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda problem: page.complaints.append(f"error: {problem}"))
    opened(page, running.address)
    yield page
    context.close()


def until(page: Any, script: str, *, within_s: float = 90.0) -> None:
    """Ask again and again: the page's own policy forbids the driver's waiting scripts."""
    end = time.monotonic() + within_s
    while not page.evaluate(script):
        assert time.monotonic() < end, script
        page.wait_for_timeout(50)


def opened(page: Any, address: str) -> None:
    page.goto(address)
    for mark in ("data-ready=yes", "data-candidates=ready"):
        page.wait_for_selector(f"html[{mark}]", timeout=60_000, state="attached")


def test_ranked_stopped_gone_on_with_and_one_taken(sheet: Any, outing_file: Path) -> None:
    says = sheet.locator("#many-says")
    sheet.get_by_label("File of candidates").select_option("things.csv")
    sheet.get_by_role("button", name="Rank them").press("Enter")
    until(sheet, "document.getElementById('many-bar').value > 0")
    assert sheet.evaluate("document.activeElement.id") == "many-stop"
    sheet.get_by_role("button", name="Stop", exact=True).press("Enter")
    until(sheet, "!document.getElementById('many-resume').hidden")
    assert "stopped" in says.inner_text()
    assert list((outing_file.parent / "scouted").glob("*.npz"))

    # Loaded again, the page still knows what to go on with.
    opened(sheet, sheet.url)
    sheet.get_by_role("button", name="Go on with it").press("Enter")
    until(sheet, "document.querySelectorAll('#many-rows li').length === 50", within_s=180.0)
    assert "401 ranked over 4 nights" in says.inner_text()

    # Rows reached by the keyboard; the next page; the rows left out, by number.
    sheet.get_by_role("button", name="Later ranks").press("Enter")
    until(sheet, "document.querySelector('#many-rows .rank').textContent === '51'")
    sheet.get_by_role("button", name="Earlier ranks").press("Enter")
    until(sheet, "document.querySelector('#many-rows .rank').textContent === '1'")
    sheet.get_by_text("Rows of the file left out: 1").press("Enter")
    until(sheet, "document.querySelector('#many-left li') !== null")
    assert sheet.locator("#many-left li").inner_text().startswith("Row 2: ")

    # Marks on the map in rank order, quiet ones; names stay text.
    assert sheet.locator("path.candidate").count() == 200
    assert sheet.locator(".candidate-rank").count() == 9
    assert sheet.evaluate("document.querySelector('#many-rows img, .leaflet-tooltip img')") is None

    first = sheet.locator("#many-rows button").first
    name = first.inner_text()
    first.press("Enter")
    until(sheet, "document.getElementById('many-says').textContent.includes('is the subject now')")
    assert name in says.inner_text()
    assert sheet.get_by_title("The subject; drag it").inner_text() == name
    assert not sheet.get_by_role("button", name="Keep in the file").is_disabled()
    assert name not in outing_file.read_text(encoding="utf-8")
    assert sheet.complaints == []


def test_the_land_is_drawn_found_and_credited(sheet: Any) -> None:
    scale = "document.querySelector('.leaflet-control-scale-line').textContent"
    # A press while the map is still on its way counts nothing.
    for _ in range(20):
        if sheet.evaluate(scale) == "500 m":
            break
        sheet.locator(".leaflet-control-zoom-out").click()
        sheet.wait_for_timeout(400)
    # Each zoom on the way asks anew, the last one last.
    until(
        sheet,
        "document.querySelectorAll('path.land.road').length === 1"
        " && ['track', 'path', 'stream', 'wood', 'water']"
        ".every(kind => document.querySelector(`path.land.${kind}`))",
    )
    kinds = sheet.evaluate("[...document.querySelectorAll('path.land')].map(p => p.classList[1])")
    assert {"road", "track", "path", "stream", "wood", "water"} <= set(kinds)
    assert len(kinds) <= 10
    assert "OpenStreetMap contributors" in sheet.locator("#credit").inner_text()
    assert sheet.locator(".land-name").inner_text() == "Wether Bank (invented)"

    ways = sheet.get_by_role("button", name="Ways and names")
    ways.press("Enter")
    until(sheet, "document.querySelector('path.land') === null")
    assert "OpenStreetMap" not in sheet.locator("#credit").inner_text()
    ways.press("Enter")
    until(sheet, "document.querySelector('path.land.road') !== null")

    find = sheet.locator("#find")
    find.press_sequentially("wether tarn")
    until(sheet, "[...document.querySelectorAll('#found option')].some(o => /tarn/.test(o.value))")
    find.fill("Wether tarn (invented)")
    find.press("Enter")
    # Two hundred metres wide it is shown closer than before.
    until(sheet, f"{scale} === '300 m'", within_s=20.0)
    assert sheet.complaints == []


@pytest.mark.parametrize(("width", "height"), [(1400, 900), (390, 844)])
def test_ranked_it_is_whole_and_named_for_everybody(
    sheet: Any, folder: Path, width: int, height: int
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    write_things(folder / "things.csv", 80)
    sheet.set_viewport_size({"width": width, "height": height})
    sheet.get_by_label("File of candidates").select_option("things.csv")
    sheet.get_by_role("button", name="Rank them").click()
    until(sheet, "document.querySelectorAll('#many-rows li').length === 50")
    assert sheet.evaluate("document.documentElement.scrollWidth") <= width
    for theme in ("day", "red"):
        found = Axe().run(sheet).response["violations"]
        told = [(one["id"], [n["html"][:160] for n in one["nodes"]]) for one in found]
        assert told == [], theme
        sheet.get_by_role("button", name="Red light").click()
    seen = np.asarray(_picture(sheet.screenshot()), np.float64)
    assert seen[..., 1:].mean() > 1.0  # day again
    sheet.get_by_role("button", name="Red light").click()
    sheet.wait_for_timeout(300)
    seen = np.asarray(_picture(sheet.screenshot()), np.float64)
    assert seen[..., 1:].max() <= 2.0


def _picture(content: bytes) -> Any:
    import io

    from PIL import Image

    return Image.open(io.BytesIO(content)).convert("RGB")


def test_online_tiles_only_of_the_named_host_and_only_when_pressed(
    chromium: Any, outing_file: Path
) -> None:
    """The desk of this process, its policy opened for one host; a browser that reaches none."""
    import threading

    import uvicorn

    from backbearing.desk.application import Desk, application
    from backbearing.desk.guard import Guard
    from backbearing.desk.online_tiles import OnlineTiles
    from backbearing.desk.serve import _socket

    listening = _socket(0)
    door = Door.at(listening.getsockname()[1])
    desk = Desk(outing_file, lambda: None)
    desk.online = OnlineTiles("https://tiles.invalid/{z}/{x}/{y}.png", "Tiles by nobody")
    guard = Guard(application(desk), door, pictures_from=desk.online.host)
    server = uvicorn.Server(uvicorn.Config(guard, log_level="warning", lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]})
    thread.start()
    context = chromium.new_context(viewport={"width": 1000, "height": 800})
    try:
        page = context.new_page()
        asked: list[str] = []

        def cut(route: Any) -> None:
            if route.request.url.startswith(f"http://127.0.0.1:{door.port}/"):
                route.continue_()
            else:
                asked.append(route.request.url)
                route.abort()

        page.route("**/*", cut)
        opened(page, door.address)
        page.wait_for_timeout(500)
        assert [url for url in asked if not url.startswith(("data:", "blob:"))] == []
        page.get_by_role("button", name="Online map").click()
        end = time.monotonic() + 20.0
        while not asked:
            assert time.monotonic() < end
            page.wait_for_timeout(50)
        assert all(url.startswith("https://tiles.invalid/") for url in asked)
        assert "Tiles by nobody" in page.locator("#credit").inner_text()
        page.get_by_role("button", name="Online map").click()
        assert "Tiles by nobody" not in page.locator("#credit").inner_text()
    finally:
        context.close()
        server.should_exit = True
        thread.join()
        listening.close()
        desk.close()
