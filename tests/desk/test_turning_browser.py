"""Turning by hand: frames held by their lines, turns dragged, nights by keyboard, a stand tried."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from running_desk import Running

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def sheet(chromium: Any, running: Running) -> Iterator[Any]:
    """The desk's page, opened; what it complains of is noted."""
    context = chromium.new_context(viewport={"width": 1400, "height": 900}, reduced_motion="reduce")
    page = context.new_page()
    page.complaints = []
    page.on("console", lambda said: page.complaints.append(f"{said.type}: {said.text}"))
    page.on("pageerror", lambda problem: page.complaints.append(f"error: {problem}"))
    page.goto(running.address)
    page.wait_for_selector("html[data-ready=yes]", timeout=90_000, state="attached")
    yield page
    context.close()


def until(page: Any, script: str, arg: Any = None, *, within_s: float = 120.0) -> None:
    """Ask again and again: the page's own policy forbids the driver's waiting scripts."""
    end = time.monotonic() + within_s
    while not page.evaluate(script, arg):
        assert time.monotonic() < end, script
        page.wait_for_timeout(50)


def drag(page: Any, box: dict[str, float], *, right: float = 0.0, up: float = 0.0) -> None:
    x, y = box["x"] + box["width"] / 2.0, box["y"] + box["height"] / 2.0
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + right, y - up, steps=5)
    page.mouse.up()


VALUE = "name => parseFloat(document.querySelector(`[name='${name}']`).value)"
SHOWN = """([name, wanted]) =>
  Math.abs(parseFloat(document.querySelector(`[name='${name}']`).value) - wanted) < 0.011"""
FAR = "() => parseFloat(document.querySelector('#frames figure.inhand b').textContent)"


def test_a_frame_is_held_by_its_lines(sheet: Any) -> None:
    glass = sheet.locator("#frames figure.inhand .glass").bounding_box()
    share, below = (
        sheet.evaluate(VALUE, name) for name in ("framing.share", "framing.base_margin")
    )
    far = sheet.evaluate(FAR)

    # The upper line up by a tenth of the frame: the share grows by as much, the stand comes nearer.
    line = sheet.locator(".inhand .hold.share")
    drag(sheet, line.bounding_box(), up=0.1 * glass["height"])
    until(sheet, SHOWN, ["framing.share", share + 0.1])
    until(sheet, f"far => ({FAR})() < 0.85 * far", far)

    # The lower line by keyboard, a hundredth at a time, and five with shift.
    sheet.locator(".inhand .hold.base_margin").focus()
    sheet.keyboard.press("ArrowUp")
    sheet.keyboard.press("Shift+ArrowUp")
    until(sheet, SHOWN, ["framing.base_margin", below + 0.06])
    assert line.get_attribute("role") == "slider"

    # The line at the side: how far the target keeps from the edges, pulled inwards.
    edge = sheet.evaluate(VALUE, "framing.edge_margin")
    drag(
        sheet, sheet.locator(".inhand .hold.edge_margin").bounding_box(),
        right=-0.1 * glass["width"],
    )  # fmt: skip
    until(sheet, SHOWN, ["framing.edge_margin", edge + 0.1])

    # Three numbers under each frame: distance, bearing, longest shutter.
    for caption in sheet.locator("#frames figcaption").all():
        numbers = [caption.locator(kind).all_inner_texts() for kind in ("b", "span")]
        (far_said,), (aim, shutter) = numbers
        assert re.fullmatch(r"\d+\.\d m", far_said)
        assert re.fullmatch(r"\d{3}", aim)
        assert re.fullmatch(r"[\d.]+ s|1/\d+ s", shutter)
    assert sheet.complaints == []


def test_turns_are_marks_to_press_and_drag(sheet: Any) -> None:
    sheet.get_by_role("button", name="All lenses in one evening").click()
    until(sheet, "() => document.querySelectorAll('.turn').length === 2")
    turn = sheet.locator(".turn").last
    before = float(turn.get_attribute("aria-valuenow"))
    label = turn.get_attribute("aria-label")
    drag(sheet, turn.locator(".reach").bounding_box(), right=60.0)
    price = sheet.locator("#price")
    price.wait_for(state="visible")
    until(sheet, "() => document.getElementById('turns').textContent.includes('held turns')")
    held = sheet.locator(f".turn[aria-label='{label}']")
    moved = float(held.get_attribute("aria-valuenow")) - before
    night = float(held.get_attribute("aria-valuemax")) - float(held.get_attribute("aria-valuemin"))
    wide = sheet.locator("#profile svg").bounding_box()["width"]
    assert moved == pytest.approx(60.0 / wide * night, abs=90.0)
    sheet.get_by_role("button", name="Let the held turns go").click()
    until(sheet, "() => !document.getElementById('turns').textContent.includes('held turns')")
    until(
        sheet,
        "([label, at]) => +document.querySelector(`.turn[aria-label='${label}']`)"
        "?.getAttribute('aria-valuenow') === at",
        [label, before],
    )
    assert sheet.complaints == []


def test_a_night_by_keyboard_and_a_stand_tried(sheet: Any) -> None:
    until(sheet, "() => document.querySelector('#season svg') !== null")
    sheet.locator("#season").focus()
    sheet.keyboard.press("ArrowRight")
    until(sheet, "() => document.getElementById('evening').value === '2027-06-06'")
    assert sheet.locator("#season").get_attribute("aria-valuetext").startswith("6–7 June 2027: ")

    # A stand dragged elsewhere: the answer the other way round stays until it is forgotten.
    foot = sheet.get_by_title("24 mm; drag it to where you can stand")
    drag(sheet, {**foot.bounding_box(), "width": 2.0, "height": 2.0}, right=25.0)
    until(sheet, "() => document.getElementById('from-there').textContent.includes('From there')")
    said = sheet.locator("#from-there").inner_text()
    assert re.search(r"From there, \d+\.\d m away, aim \d{3} by compass: ", said)
    sheet.locator("#minute").focus()
    sheet.keyboard.press("ArrowRight")
    assert sheet.locator("#from-there").inner_text() == said
    sheet.get_by_role("button", name="Forget that place").click()
    assert sheet.locator("#from-there").inner_text() == ""
    assert sheet.complaints == []


def test_a_press_on_the_land_turns_the_minute(sheet: Any) -> None:
    sheet.wait_for_selector("#ridge svg circle", state="attached", timeout=60_000)
    before = sheet.input_value("#minute")
    sheet.locator("#ridge").scroll_into_view_if_needed()
    box = sheet.locator("#ridge").bounding_box()
    sheet.mouse.click(box["x"] + box["width"] * 0.25, box["y"] + 40)
    for _ in range(100):
        if sheet.input_value("#minute") != before:
            break
        sheet.wait_for_timeout(50)
    assert sheet.input_value("#minute") != before
    label = sheet.get_attribute("#ridge svg", "aria-label")
    assert label.startswith("The land from the subject")
