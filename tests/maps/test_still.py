"""The page where no script runs, on paper, and what it answers first."""

from __future__ import annotations

import io
import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PIL import Image

from backbearing.maps import page_html, write_page

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.terrain import Elevation

PHONE = {"width": 390, "height": 844}


def _outward(plan: Plan, shot: Shot) -> tuple[float, float]:
    """Bearing from subject to stand, true and magnetic, by pyproj's geodesic.

    The declination is read off the stand's own pair of bearings.
    """
    from pyproj import Geod

    true, _, _ = Geod(ellps="WGS84").inv(
        plan.subject.lon, plan.subject.lat, shot.stand.lon, shot.stand.lat
    )
    east = shot.stand.bearing_deg - shot.stand.bearing_magnetic_deg
    return true % 360.0, (true - east) % 360.0


@pytest.fixture
def still(chromium: Any, written: Path) -> Iterator[Any]:
    """The page on a phone that runs no scripts."""
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False, offline=True)
    page = context.new_page()
    page.goto(written.as_uri())
    yield page
    context.close()


def _text(page: Any) -> str:
    return " ".join(page.locator("#still").inner_text().split())


@pytest.mark.browser
def test_without_scripts_the_plan_stands_there_whole(still: Any, plan: Plan) -> None:
    text, zone = _text(still), ZoneInfo(plan.zone)
    assert plan.session is not None
    assert plan.session.shots
    for shot in plan.session.shots:
        _, needle = _outward(plan, shot)
        assert f"{shot.stand.distance_m:.1f} m" in text
        assert f"{round(needle) % 360}°" in text
        assert f"{shot.setup_start.astimezone(zone):%H:%M}" in text
        assert f"{shot.stand.bearing_magnetic_deg:.1f}° magnetic" in text
    for caution in plan.cautions:
        assert caution in text
    late = still.locator("#still table.late tbody tr")
    assert late.count() == len(plan.session.shots)
    assert all(late.nth(i).is_visible() for i in range(late.count()))
    assert still.locator(".page").is_hidden()


@pytest.mark.browser
def test_without_scripts_the_map_is_a_picture_that_is_drawn(still: Any, plan: Plan) -> None:
    assert plan.session is not None
    first = still.locator("#still .maps svg").first
    assert "subject" in first.locator("desc").text_content()
    for shot in plan.session.shots:
        assert shot.lens.label in first.locator("desc").text_content()
    ink = np.asarray(Image.open(io.BytesIO(first.screenshot())).convert("L"))
    assert ink.shape[1] > 300
    assert (ink < 60).mean() > 0.005
    assert (ink > 200).mean() > 0.5


@pytest.mark.browser
@pytest.mark.parametrize("width", [360, 390, 1280])
def test_without_scripts_nothing_overflows_sideways(
    chromium: Any, written: Path, width: int
) -> None:
    with chromium.new_context(
        viewport={"width": width, "height": 800}, java_script_enabled=False
    ) as context:
        page = context.new_page()
        page.goto(written.as_uri())
        boxes = [
            (part.get_attribute("class"), part.bounding_box())
            for part in page.locator("#still main > *, #still .next > *, #still .late").all()
        ]
        assert len(boxes) > 8
        for name, box in boxes:
            if box is not None:
                assert box["x"] >= 0.0, name
                assert box["x"] + box["width"] <= width + 0.5, name
        # The page cannot be pushed aside by what lies beyond its edge.
        page.mouse.wheel(300, 0)
        assert page.locator("#still").bounding_box()["x"] >= 0.0


@pytest.mark.browser
def test_scripts_put_the_map_in_its_place(open_page: Any, written: Path) -> None:
    page = open_page(written, **PHONE).page
    assert page.locator("#still").is_hidden()
    assert page.locator("#map_ground").is_visible()


@pytest.mark.browser
def test_a_script_that_fails_leaves_the_still_page(
    chromium: Any, written: Path, tmp_path: Path, plan: Plan
) -> None:
    html = written.read_text(encoding="utf-8")
    broken = html.replace('"lenses":[', '"lenses":7,"x":[', 1)
    assert broken != html
    path = tmp_path / "broken.html"
    path.write_text(broken, encoding="utf-8")
    with chromium.new_context(viewport=PHONE) as context:
        page = context.new_page()
        page.goto(path.as_uri())
        page.wait_for_selector("#still", state="visible", timeout=5000)
        assert page.locator(".page").is_hidden()
        assert plan.session is not None
        assert plan.session.shots[0].lens.label in _text(page)


def _pages(pdf: bytes) -> list[str]:
    from pypdf import PdfReader

    return [page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages]


@pytest.mark.browser
@pytest.mark.parametrize("scripts", [True, False])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_on_paper_it_is_the_sheet_on_at_most_three_pages(
    chromium: Any, written: Path, plan: Plan, scripts: bool, paper: str
) -> None:
    with chromium.new_context(viewport=PHONE, java_script_enabled=scripts) as context:
        page = context.new_page()
        page.goto(written.as_uri())
        if scripts:
            page.wait_for_selector("html[data-ready=yes]", state="attached")
            if page.evaluate("document.documentElement.dataset.theme") == "day":
                page.click("#theme-button")
        printed = _pages(page.pdf(format=paper, print_background=True))
        if scripts:
            assert page.evaluate("document.documentElement.dataset.theme") == "night"
            assert page.locator("#map_ground").is_visible()
    assert 1 <= len(printed) <= 3
    text = " ".join(" ".join(printed).split())
    assert plan.session is not None
    for shot in plan.session.shots:
        assert f"{shot.stand.distance_m:.1f} m" in text
    assert "Cautions" in text
    # The licence is for the script that the page carries; nothing of it is on paper.
    for word in ("Redistribution and use", "WARRANTIES", "All facts", "Night colours"):
        assert word not in text


@pytest.mark.browser
def test_the_licence_can_be_read_on_the_screen(open_page: Any, written: Path) -> None:
    page = open_page(written, **PHONE).page
    assert page.locator("pre.licence").is_hidden()
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.click("#sheet-button")
    assert "WARRANTIES" in page.locator("pre.licence").inner_text()


@pytest.mark.browser
@pytest.mark.parametrize("size", [(390, 844), (360, 640), (1280, 800)])
def test_the_answer_comes_first_and_the_disclaimer_opens(
    open_page: Any, written: Path, plan: Plan, size: tuple[int, int]
) -> None:
    page = open_page(written, width=size[0], height=size[1]).page
    assert plan.session is not None
    shot = plan.session.shots[0]
    true, needle = _outward(plan, shot)
    said = " ".join(page.locator("#next").inner_text().split())
    clock = f"{shot.setup_start.astimezone(ZoneInfo(plan.zone)):%H:%M}"
    wanted = (
        f"next: {shot.lens.label}, set up {clock} walk out {round(needle) % 360}° by compass, "
        f"{shot.stand.distance_m:.1f} m {true:.1f}° true"
    )
    assert said.startswith(wanted)
    top = page.locator("#next").bounding_box()
    assert top["y"] == 0.0
    assert top["height"] < 0.3 * size[1]
    care = page.locator("#next details")
    assert care.locator("summary").bounding_box()["height"] < 44.0
    assert not care.evaluate("d => d.open")
    care.locator("summary").click()
    assert plan.cautions[0] in care.inner_text()
    care.locator("a").click()
    assert page.locator("#cautions-title").is_visible()


@pytest.mark.browser
def test_the_answer_goes_on_with_the_clock_in_the_plans_night_only(
    chromium: Any, written: Path, plan: Plan
) -> None:
    assert plan.session is not None
    shots = plan.session.shots
    context = chromium.new_context(viewport=PHONE)
    page = context.new_page()
    page.clock.install()
    for seconds, wanted in [
        (shots[0].frames_start.timestamp(), shots[0]),
        (shots[0].frames_end.timestamp() + 1.0, shots[1]),
        (shots[-1].frames_start.timestamp(), shots[-1]),
        # After the night, and on another day, the page says the first again.
        (shots[-1].frames_end.timestamp() + 60.0, shots[0]),
        (shots[0].frames_end.timestamp() + 5 * 86400.0, shots[0]),
    ]:
        page.clock.set_fixed_time(seconds)
        page.goto(written.as_uri())
        page.wait_for_selector("html[data-ready=yes]", state="attached")
        shown = page.locator("#next .next-turn:visible")
        assert shown.count() == 1
        assert shown.inner_text().startswith(f"next: {wanted.lens.label},")
    context.close()


@pytest.mark.browser
def test_what_is_used_on_the_hill_is_not_far_down(open_page: Any, written: Path) -> None:
    page = open_page(written, **PHONE).page
    page.click("#sheet-button")
    # With everything folded the facts are four screens of a phone, where they were eleven.
    assert page.evaluate("document.querySelector('#facts').scrollHeight") < 4 * PHONE["height"]
    for part in (".order", "#session .late", "#cautions-title"):
        assert page.locator(part).last.is_visible()


class _Elements(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.names: set[str] = set()
        self.keys: set[str] = set()
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        self.keys.update(key for key, _ in attrs)

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.mark.slow
def test_hostile_names_stay_text_in_the_still_page(
    hostile_plan: Plan, plan: Plan, elevation: Elevation
) -> None:
    def still_of(one: Plan) -> _Elements:
        html = page_html(one, elevation)
        found = re.search(r'<div class="still".*?</main>', html, flags=re.DOTALL)
        assert found is not None
        parsed = _Elements()
        parsed.feed(found.group(0))
        return parsed

    hostile, tame = still_of(hostile_plan), still_of(plan)
    # The same elements and attributes as of a friendly plan, the names as words among them.
    assert hostile.names <= tame.names | {"text", "tspan"}
    assert hostile.keys <= tame.keys
    assert not any(key.startswith("on") or key == "style" for key in hostile.keys)
    assert "alert(2)" in hostile.text
    # What turns the writing direction is shown, not obeyed.
    assert not re.search("[\u202a-\u202e\u2066-\u2069]", hostile.text)


@pytest.mark.browser
def test_hostile_names_do_nothing_without_scripts(
    chromium: Any, tmp_path: Path, hostile_plan: Plan, elevation: Elevation
) -> None:
    path = write_page(hostile_plan, elevation, tmp_path / "hostile.html")
    with chromium.new_context(viewport=PHONE, java_script_enabled=False) as context:
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(path.as_uri())
        assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
        assert page.locator("#still script, #still img:not([src^='data:image/'])").count() == 0
        assert "alert(2)" in page.locator("#still h1").inner_text()
        assert page.locator("#still").bounding_box()["width"] <= PHONE["width"]


@pytest.mark.browser
def test_the_turns_are_seen_on_a_phone_where_a_lens_has_none(
    open_page: Any, tmp_path: Path, south: tuple[Plan, Elevation]
) -> None:
    plan, ground = south
    opened = open_page(write_page(plan, ground, tmp_path / "south.html"), **PHONE)
    page = opened.page
    assert plan.session is not None
    assert page.locator("button.turn:visible").count() == len(plan.session.shots)
    for left in plan.session.left_out:
        row = page.locator("#facts .order tr", has_text=left.lens.label)
        assert "no turn" in row.inner_text()
    # No raster of this ground names whose it is: no empty credit.
    assert "Ground: <" not in page.content()
    assert opened.complaints == []


@pytest.mark.browser
def test_the_still_page_has_a_red_version_without_scripts(still: Any) -> None:
    def pixels() -> Any:
        return np.asarray(Image.open(io.BytesIO(still.screenshot())).convert("RGB")).astype(int)

    assert pixels()[..., 2].mean() > 180
    still.check("#still-red")
    for part in ("#still-red", "#still .maps svg", "#still .late", "#still .cautions"):
        still.locator(part).first.scroll_into_view_if_needed()
        seen = pixels()
        assert seen[..., 1:].max() <= 3
        assert seen[..., 0].mean() < 60
        assert seen[..., 0].max() > 200


@pytest.mark.browser
def test_no_number_on_the_page_is_negative_where_a_word_says_the_side(
    open_page: Any, written: Path
) -> None:
    page = open_page(written, **PHONE).page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    for part in (".facts", "#still"):
        text = page.locator(part).text_content()
        # "step back -8.5 m", "-0 m down", a bearing from a full turn on, two words for UTC.
        assert not re.search(r"-\d[\d.]*[ \u00a0](?:m|km|ft|yd|min)\b", text)
        assert not re.search(r"Z UTC|\b360\.0° (?:true|N)", text)
