"""The desk as somebody uses it: in a real browser, to a kept file and a printed sheet."""

from __future__ import annotations

import os
import re
import signal
import time
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.outing.load import load_outing
from running_desk import Running

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def sheet(chromium: Any, running: Running) -> Iterator[Any]:
    """The desk's page, opened; what it asks of other hosts and complains of is noted."""
    context = chromium.new_context(
        viewport={"width": 1400, "height": 900}, reduced_motion="reduce", accept_downloads=True
    )
    page = context.new_page()
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda problem: page.complaints.append(f"error: {problem}"))
    page.on(
        "request",
        lambda request: (
            None
            if request.url.startswith((running.address.split("/?")[0], "data:", "blob:"))
            else page.complaints.append(f"request: {request.url}")
        ),
    )
    opened(page, running.address)
    yield page
    context.close()


def until(page: Any, script: str, arg: Any = None, *, within_s: float = 60.0) -> None:
    """Ask again and again: the page's own policy forbids the driver's waiting scripts."""
    end = time.monotonic() + within_s
    while not page.evaluate(script, arg):
        assert time.monotonic() < end, script
        page.wait_for_timeout(50)


def opened(page: Any, address: str) -> None:
    page.goto(address)
    page.wait_for_selector("html[data-ready=yes]", timeout=60_000, state="attached")


def test_a_users_way_from_the_map_to_the_sheet(
    sheet: Any, running: Running, outing_file: Path
) -> None:
    answer = sheet.locator("#answer")
    first = answer.inner_text()
    assert re.match(r"\d\d:\d\d, 24 mm, \d+\.\d m, aim \d{3} by compass; ", first)
    assert "key=" not in sheet.url

    # The minute, by keyboard: a minute, then a quarter of an hour.
    sheet.locator("#minute").focus()
    before = int(sheet.locator("#minute").input_value())
    sheet.keyboard.press("ArrowRight")
    assert int(sheet.locator("#minute").input_value()) == before + 60
    sheet.keyboard.press("Shift+ArrowLeft")
    assert int(sheet.locator("#minute").input_value()) == before - 840
    assert answer.inner_text()[:5] != first[:5]

    # Another lens, held by its button.
    sheet.get_by_role("button", name="40 mm", exact=True).click()
    assert ", 40 mm, " in answer.inner_text()

    # A taller subject stands farther off; kept only when asked.
    far = float(re.search(r"([\d.]+) m, aim", answer.inner_text()).group(1))  # type: ignore[union-attr]
    sheet.locator("input[name='subject.height_m']").fill("10")
    sheet.keyboard.press("Enter")
    until(
        sheet,
        "far => parseFloat(document.getElementById('answer').textContent"
        ".match(/([\\d.]+) m, aim/)[1]) > 1.8 * far",
        far,
    )
    assert load_outing(outing_file).subject.height_m == 5.0
    sheet.get_by_role("button", name="Keep in the file").click()
    until(sheet, "!document.getElementById('undo').disabled")
    assert load_outing(outing_file).subject.height_m == 10.0
    assert "# by the map" in outing_file.read_text(encoding="utf-8")

    # The subject dragged on the map moves in the draft.
    post = sheet.get_by_title("The subject; drag it")
    box = post.bounding_box()
    lat = float(sheet.locator("input[name='subject.lat']").input_value())
    sheet.mouse.move(box["x"] + 1, box["y"] + 1)
    sheet.mouse.down()
    sheet.mouse.move(box["x"] + 1, box["y"] - 60, steps=4)
    sheet.mouse.up()
    until(
        sheet,
        "lat => parseFloat(document.querySelector('[name=\"subject.lat\"]').value) > lat",
        lat,
    )

    with sheet.expect_download(timeout=90_000) as coming:
        sheet.get_by_role("link", name="Printed sheet").click()
    assert coming.value.path().read_bytes().startswith(b"%PDF")

    sheet.get_by_role("button", name="Step back").wait_for()
    assert sheet.complaints == []
    sheet.get_by_role("button", name="Close the desk").click()
    assert running.process.wait(timeout=30) == 0


def test_killed_midway_nothing_kept_is_lost(
    sheet: Any, running: Running, outing_file: Path
) -> None:
    sheet.locator("input[name='subject.height_m']").fill("8")
    sheet.keyboard.press("Enter")
    until(sheet, "!document.getElementById('keep').disabled")
    sheet.get_by_role("button", name="Keep in the file").click()
    until(sheet, "!document.getElementById('undo').disabled")
    os.kill(running.process.pid, signal.SIGKILL)
    running.process.wait()
    sheet.locator("input[name='subject.height_m']").fill("9")
    sheet.keyboard.press("Enter")
    sheet.wait_for_selector("#trouble:not([hidden])", timeout=30_000)
    assert "closed in the terminal" in sheet.locator("#trouble").inner_text()
    assert load_outing(outing_file).subject.height_m == 8.0
    assert not list(outing_file.parent.glob("*.part*"))
    again = Running(outing_file)
    try:
        opened(sheet, again.address)
        assert sheet.locator("input[name='subject.height_m']").input_value() == "8"
        assert again.interrupt() == 0
    finally:
        again.end()


def test_two_windows_one_is_told(sheet: Any, chromium: Any, running: Running) -> None:
    other = sheet.context.new_page()
    opened(other, running.address)
    for page, height in ((sheet, "6"), (other, "7")):
        page.locator("input[name='subject.height_m']").fill(height)
        page.keyboard.press("Enter")
        until(page, "!document.getElementById('keep').disabled")
    sheet.get_by_role("button", name="Keep in the file").click()
    until(sheet, "!document.getElementById('undo').disabled")
    other.get_by_role("button", name="Keep in the file").click()
    other.wait_for_selector("#trouble:not([hidden])", timeout=30_000)
    assert "changed elsewhere" in other.locator("#trouble").inner_text()


@pytest.mark.parametrize(("width", "height"), [(390, 844), (360, 640), (1400, 900), (700, 450)])
def test_it_is_whole_and_named_for_everybody(
    sheet: Any, running: Running, width: int, height: int
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    sheet.set_viewport_size({"width": width, "height": height})
    wide = sheet.evaluate("document.documentElement.scrollWidth")
    assert wide <= width
    for theme in ("day", "red"):
        found = Axe().run(sheet).response["violations"]
        told = [(one["id"], [n["html"][:120] for n in one["nodes"]]) for one in found]
        assert told == [], theme
        sheet.get_by_role("button", name="Red light").click()
