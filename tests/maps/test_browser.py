from __future__ import annotations

import io
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PIL import Image

from backbearing.base.text import night_label
from backbearing.maps import write_page
from backbearing.plan.turns import order_of, turn_of_each
from backbearing.terrain import Elevation

pytestmark = pytest.mark.browser


def _pixels(page):
    return np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)


def _shown(page):
    return page.eval_on_selector_all(".tag", "tags => tags.map(t => t.textContent)")


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_it_opens_from_disk_asks_no_host_and_says_nothing_on_the_console(
    open_page, written, width, height
):
    opened = open_page(written, width=width, height=height)
    page = opened.page
    for view in ("line", "stands"):
        page.click(f'[data-view="{view}"]')
    page.wait_for_timeout(200)
    assert opened.requests == []
    assert opened.complaints == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_relief_lies_where_the_contours_and_the_subject_are(open_page, written, elevation):
    page = open_page(written).page
    south, west, north, east = elevation.bounds
    for corner, name in (((north, west), "left top"), ((south, east), "right bottom")):
        off = page.evaluate(
            """([lat, lon, name]) => {
              map_ground.setView([lat, lon], 14, {animate: false});
              const p = map_ground.latLngToContainerPoint([lat, lon]);
              const box = image_overlay_far.getElement().getBoundingClientRect();
              const at = map_ground.getContainer().getBoundingClientRect();
              return name === "left top"
                ? [box.left - at.left - p.x, box.top - at.top - p.y]
                : [box.right - at.left - p.x, box.bottom - at.top - p.y];
            }""",
            [corner[0], corner[1], name],
        )
        # The picture ends within one of its own pixels of the raster's edge.
        assert max(map(abs, off)) < 6.0


@pytest.fixture(scope="session")
def single(plan, elevation, tmp_path_factory):
    """The page of the same outing without a session: each lens at its own minute."""
    alone = replace(plan, session=None)
    return write_page(alone, elevation, tmp_path_factory.mktemp("page") / "single.html")


def test_a_stand_opens_its_facts_by_mouse_and_by_keyboard(open_page, single, plan):
    page = open_page(single).page
    # The marks stand in the order of their minutes.
    order = order_of(replace(plan, session=None))
    stands = page.locator("button.mark")
    assert stands.count() == len(plan.lenses)
    assert page.locator("button.turn").count() == 0
    assert not page.locator("#lens-2").evaluate("card => card.open")
    stands.nth(order.index(2)).click()
    page.click("#lens-2 summary:has-text('Every figure')")
    assert page.locator("#lens-2").evaluate("card => card.open")
    assert page.locator("#lens-2").is_visible()
    assert f"{plan.lenses[2].stand.distance_m:.1f} m" in page.locator("#lens-2").inner_text()
    assert plan.lenses[2].sentence in page.locator("#lens-2").inner_text()
    stands.nth(order.index(3)).focus()
    page.keyboard.press("Enter")
    assert page.locator("#lens-3").evaluate("card => card.open")
    assert page.evaluate("document.activeElement.closest('details')?.id") == "lens-3"
    assert page.locator("tr.chosen").get_attribute("data-lens") == "3"


def test_a_turn_of_the_session_opens_its_facts_by_mouse_and_by_keyboard(open_page, written, plan):
    page = open_page(written).page
    shots = plan.session.shots
    turns = page.locator("button.turn")
    # One mark a lens: the turn is the plan.
    assert turns.count() == len(shots) == page.locator("button.mark").count()
    card = page.locator(f"#lens-{turn_of_each(plan).index(shots[1])}")
    assert not card.evaluate("card => card.open")
    turns.nth(1).click()
    assert card.evaluate("card => card.open")
    text = card.inner_text()
    assert f"{shots[1].stand.distance_m:.1f} m" in text
    for step in shots[1].placing.instructions:
        assert step in text
    other = turn_of_each(plan).index(shots[2])
    page.focus(f'[data-open="{other}"]')
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.closest('details')?.id") == f"lens-{other}"


def test_the_session_shows_its_order_late_table_light_walk_and_cautions(open_page, written, plan):
    page = open_page(written, width=390, height=844).page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    text = " ".join(page.locator("#facts").inner_text().split())
    session = plan.session
    order = [text.index(f"{shot.number}. {shot.lens.label}") for shot in session.shots]
    assert order == sorted(order)
    said = [session.sentence, *session.cautions, *session.notes]
    said += [late.sentence for shot in session.shots for late in shot.late if late.limits]
    rows = page.locator("table.late tbody tr")
    for i, shot in enumerate(session.shots):
        cells = rows.nth(i).locator("td").all_inner_texts()
        for cell, late in zip(cells, shot.late, strict=True):
            if not late.limits:
                side = "left" if late.left_m > 0.0 else "right"
                assert abs(late.left_m) < 0.05 or f"{abs(late.left_m):.1f} m {side}" in cell
    said += [caution for shot in session.shots for caution in shot.stand.cautions]
    said += [c for walk in (session.approach, session.home) for c in walk.cautions]
    said += [session.lighting.blind.sentence]
    said += [side.sentence for side in session.lighting.side_lights]
    for sentence in said:
        assert " ".join(sentence.split()) in text, sentence
    assert "Leave by" in text


def test_the_turns_lie_where_the_session_puts_them(open_page, written, plan):
    page = open_page(written).page
    for i, shot in enumerate(plan.session.shots):
        off = page.evaluate(
            """([lat, lon, i]) => {
              const p = map_ground.latLngToContainerPoint([lat, lon]);
              const box = document.querySelectorAll("button.turn")[i].getBoundingClientRect();
              const at = map_ground.getContainer().getBoundingClientRect();
              return Math.hypot(box.left + box.width / 2 - at.left - p.x,
                                box.top + box.height / 2 - at.top - p.y);
            }""",
            [shot.stand.lat, shot.stand.lon, i],
        )
        assert off < 1.5


def test_on_a_phone_the_facts_rise_over_the_map_and_go_back(open_page, written):
    page = open_page(written, width=390, height=844).page
    page.click('[data-open="1"]')
    assert page.locator("#sheet-button").get_attribute("aria-expanded") == "true"
    box = page.locator("#lens-1 > summary").bounding_box()
    assert box is not None
    assert 0 < box["y"] < 400
    page.click("#sheet-button")
    assert page.locator("#sheet-button").get_attribute("aria-expanded") == "false"
    assert page.locator(".views").is_visible()


@pytest.mark.parametrize(
    ("layer", "inside"),
    [
        ("contours", "path.contour"),
        ("rings", "path.ring"),
        ("stands", "button.mark"),
        ("sights", "path.sight"),
        ("fields", "path.field"),
        ("arcs", "path.arc"),
        ("dial", "path.dial-mark"),
        ("land", "path.land"),
        ("walks", "path.walk"),
        ("light", "path.light-mark"),
        ("relief", "img.leaflet-image-layer"),
    ],
)
def test_layers_are_switched_off_and_on_again(open_page, written, layer, inside):
    page = open_page(written).page
    parts = page.locator(f"#map_ground {inside}")
    before = parts.count()
    assert before > 0
    page.click("#key-button")
    box = page.locator(f'[data-layer="{layer}"]')
    box.focus()
    page.keyboard.press("Space")
    assert parts.count() == 0
    page.keyboard.press("Space")
    assert parts.count() == before
    page.keyboard.press("Escape")
    assert page.locator("#key").is_hidden()
    assert page.evaluate("document.activeElement.id") == "key-button"


def test_labels_go_with_their_layer(open_page, written):
    page = open_page(written).page
    assert any(text.endswith(" m") for text in _shown(page))
    page.click("#key-button")
    for layer in ("rings", "posts", "contours"):
        page.uncheck(f'[data-layer="{layer}"]')
    assert not any(text.endswith(" m") for text in _shown(page))
    page.check('[data-layer="rings"]')
    rings = page.evaluate("JSON.parse(document.getElementById('ground-data').textContent).rings")
    assert {ring["text"] for ring in rings} & set(_shown(page))


def test_labels_keep_out_of_one_anothers_way(open_page, written):
    page = open_page(written, width=390, height=844).page
    boxes = page.eval_on_selector_all(
        ".tag:not(.contour-height)",
        """tags => tags.map(t => { const r = t.getBoundingClientRect();
            return [r.left, r.top, r.right, r.bottom]; })""",
    )
    assert len(boxes) >= 6
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            across = min(a[2], b[2]) - max(a[0], b[0])
            down = min(a[3], b[3]) - max(a[1], b[1])
            assert across < 4 or down < 4


def test_words_leave_the_marks_of_turns_free_on_a_phone(open_page, written, plan):
    page = open_page(written, width=390, height=844).page
    boxes = """(one) => [...document.querySelectorAll(one)].map(t => {
        const r = t.getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom]; })"""
    marks, names = page.evaluate(boxes, "button.turn"), page.evaluate(boxes, ".tag")
    assert len(marks) == len(plan.session.shots)
    for a in marks:
        for b in names:
            across = min(a[2], b[2]) - max(a[0], b[0])
            down = min(a[3], b[3]) - max(a[1], b[1])
            assert across < 4 or down < 4
    # Each turn has its words, once, and no minute but the turn's is shown.
    shown = _shown(page)
    for shot in plan.session.shots:
        clock = shot.frames_start.astimezone(ZoneInfo(plan.zone))
        assert shown.count(f"{clock:%H:%M}") == 1
    assert not any(lens.lens.label in shown for lens in plan.lenses)


def test_the_night_version_gives_red_light_only(open_page, written):
    page = open_page(written).page
    day = _pixels(page)
    assert day[..., 2].mean() > 180
    page.focus("#theme-button")
    page.keyboard.press("Enter")
    assert page.locator("#theme-button").get_attribute("aria-pressed") == "true"
    for view in ("stands", "line"):
        page.click(f'[data-view="{view}"]')
        page.wait_for_timeout(100)
        night = _pixels(page)
        assert night[..., 1:].max() <= 3
        assert night[..., 0].mean() < 40
        assert night[..., 0].max() > 200
    page.click("#theme-button")
    assert page.evaluate("document.documentElement.dataset.theme") == "day"


def test_everything_is_reached_by_the_tab_key(open_page, written):
    page = open_page(written).page
    reached = set()
    for _ in range(45):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                """() => { const a = document.activeElement;
                return a.id || a.dataset.view || a.dataset.open || a.className }"""
            )
        )
    wanted = {"stands", "line", "zoom-in", "zoom-out", "key-button", "theme-button", "map_ground"}
    assert wanted <= reached
    assert {"0", "1", "2", "3"} <= reached
    assert "emergency" in reached


def test_the_map_moves_by_the_arrow_keys_and_zooms_by_its_buttons(open_page, written):
    page = open_page(written).page
    centre = "[map_ground.getCenter().lat, map_ground.getCenter().lng, map_ground.getZoom()]"
    before = page.evaluate(centre)
    page.focus("#map_ground")
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)
    moved = page.evaluate(centre)
    assert moved[1] > before[1]
    page.click("#zoom-in")
    page.wait_for_timeout(400)
    assert page.evaluate(centre)[2] == pytest.approx(before[2] + 0.5)
    assert page.locator('[data-view="stands"]').get_attribute("aria-pressed") == "false"


def test_controls_have_names_and_pictures_have_text(open_page, written):
    page = open_page(written).page
    nameless = page.evaluate(
        """() => [...document.querySelectorAll('button, a[href], input, summary, [role=img]')]
          .filter(e => !(e.textContent.trim() || e.getAttribute('aria-label') ||
            e.getAttribute('aria-labelledby') || e.labels?.length))
          .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert nameless == []
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(e => e.id)")
    assert len(ids) == len(set(ids))
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.locator("h1:visible").count() == page.locator(".page h1").count() == 1
    assert page.locator("main:visible").count() == 1


def test_body_text_is_legible_at_arms_length(open_page, written):
    page = open_page(written, width=390, height=844).page
    sizes = page.eval_on_selector_all(
        "#facts p:not(.small), #facts dd, #facts dt, #facts td, #facts li",
        "parts => parts.map(p => parseFloat(getComputedStyle(p).fontSize))",
    )
    assert len(sizes) > 50
    assert min(sizes) >= 15.0
    assert np.median(sizes) >= 16.0


@pytest.mark.parametrize("theme", ["day", "night"])
def test_text_stands_out_from_its_ground(open_page, written, theme):
    page = open_page(written).page
    if theme == "night":
        page.click("#theme-button")
    inks = page.evaluate(
        """() => Object.fromEntries(['ink', 'soft', 'panel', 'warn', 'warn-paper', 'go', 'band']
          .map(n => [n, getComputedStyle(document.documentElement).getPropertyValue('--' + n)]))"""
    )

    def light(colour):
        text = colour.strip().lstrip("#")
        text = "".join(c * 2 for c in text) if len(text) == 3 else text
        parts = [int(text[i : i + 2], 16) / 255 for i in (0, 2, 4)]
        linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    # WCAG 2.1, success criterion 1.4.3: at least 4.5 to 1 for text.
    for ink, paper in (("ink", "panel"), ("soft", "panel"), ("warn", "panel"), ("go", "panel")):
        high, low = sorted((light(inks[ink]), light(inks[paper])), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 4.5, (ink, paper)


def test_hostile_names_do_nothing_and_are_shown_letter_for_letter(
    open_page, tmp_path, hostile_plan, hostile_texts, elevation
):
    path = write_page(hostile_plan, elevation, tmp_path / "hostile.html")
    opened = open_page(path)
    page = opened.page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.click('[data-view="line"]')
    home = [hostile_plan.subject.lat, hostile_plan.subject.lon]
    page.evaluate("home => void map_ground.setView(home, 18, {animate: false})", home)
    page.wait_for_timeout(300)
    assert opened.complaints == []
    assert opened.requests == []
    foreign = "#facts img:not(.preview), #facts script, .tag img, .tag script"
    assert page.locator(foreign).count() == 0
    told = page.eval_on_selector_all("bdi", "parts => parts.map(p => p.textContent)")
    for text in hostile_texts:
        assert text in told
    assert set(hostile_texts) & set(_shown(page))
    assert hostile_texts[0] in page.title()
    assert page.locator(".page h1").inner_text() == night_label(hostile_plan.evening)
    # A name that turns its direction stays inside its own element.
    assert page.evaluate("getComputedStyle(document.querySelector('bdi')).unicodeBidi") == "isolate"


def test_cautions_and_the_emergency_line_are_one_step_away(open_page, written, plan):
    page = open_page(written, width=390, height=844).page
    page.click(".head-tools a")
    assert page.locator("#all-cautions h2").is_visible()
    text = page.locator("#all-cautions").inner_text()
    for caution in plan.cautions:
        assert caution in text
    page.fill("#emergency", "112")
    assert page.input_value("#emergency") == "112"


def test_unknown_ground_shows_the_hatching_and_no_height(open_page, tmp_path, plan, elevation):
    heights = np.array(elevation.heights_m)
    row, col = (round(float(v)) for v in elevation.grid.pixels(lat=36.366, lon=-84.352))
    heights[row - 4 : row + 5, col - 4 : col + 5] = np.nan
    holed = Elevation.from_array(heights, elevation.transform, elevation.crs)
    page = open_page(write_page(plan, holed, tmp_path / "holed.html")).page
    page.click("#key-button")
    for layer in ("contours", "fields", "sights", "land", "ways", "rings", "posts"):
        page.uncheck(f'[data-layer="{layer}"]')
    page.click("#key-button")
    page.evaluate("void map_ground.setView([36.366, -84.352], 16, {animate: false})")
    page.wait_for_timeout(200)
    box = page.locator("#map_ground").bounding_box()
    middle = (int(box["x"] + box["width"] / 2), int(box["y"] + box["height"] / 2))
    patch = _pixels(page)[middle[1] - 30 : middle[1] + 30, middle[0] - 30 : middle[0] + 30]
    # Stripes on bare paper: two tones, and steep changes between neighbouring pixels.
    assert np.abs(np.diff(patch.sum(axis=2), axis=1)).max() > 25
    assert patch[..., 0].min() > 200


def test_the_previews_are_in_the_page_and_shown(open_page, written, plan):
    opened = open_page(written, width=390, height=844)
    page = opened.page
    page.click("#sheet-button")
    pictures = page.locator("img.preview")
    shots = plan.session.shots
    assert pictures.count() == len(shots)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    for i, shot in enumerate(shots):
        pictures.nth(i).scroll_into_view_if_needed()
        assert pictures.nth(i).evaluate("p => p.complete && p.naturalWidth") == 840
        # In the order of the turns.
        assert pictures.nth(i).get_attribute("alt").startswith(shot.lens.label)
    # Decoded, not merely referred to: the sky's top is neither white nor one colour.
    shot = _pixels(page)
    assert shot[400:500, 30:360].std() > 1.0
    table = page.locator("[aria-label='Comparison of the lenses'] table")
    assert table.locator("thead th").count() == len(plan.lenses) + 1
    assert "core, frame heights" in table.inner_text()
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert opened.requests == []
    assert opened.complaints == []
