"""The map's layer of ground from which the ridge is clear."""

from __future__ import annotations

import base64
import io
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.drawing.palette import CLEARANCE as TONES
from backbearing.drawing.texts import Texts
from backbearing.maps import page_html, write_page
from backbearing.maps.area import MARGIN_SCALE, area_choices, area_layer
from backbearing.workflows.map_ground import cells_on_map

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import ClearGround, RidgeArea
    from backbearing.terrain import Elevation


@pytest.fixture(scope="module")
def clear(plan: Plan, elevation: Elevation) -> tuple[ClearGround, ...]:
    return clear_ground(plan, elevation)


@pytest.fixture(scope="module")
def night(outing: Outing, elevation: Elevation) -> RidgeArea:
    return ridge_area(outing, elevation, within_m=3000.0)


def _luminance(tone: tuple[int, int, int]) -> float:
    # WCAG 2.2, w3c.github.io/wcag/guidelines/relative-luminance.html.
    linear = [
        v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
        for v in (channel / 255.0 for channel in tone)
    ]
    return float(np.dot((0.2126, 0.7152, 0.0722), linear))


def test_tones_rise_in_lightness_so_that_hue_is_never_needed() -> None:
    light = [_luminance(tone) for tone in TONES]
    contrast = [(b + 0.05) / (a + 0.05) for a, b in pairwise(light)]
    assert min(contrast) > 1.4


def test_classes_at_and_beside_their_bounds() -> None:
    values = np.array([-0.1, 0.0, 0.99, 1.0, 5.0, 15.0, np.nan], dtype=np.float32)
    assert MARGIN_SCALE.classes(values).tolist() == [0, 1, 1, 2, 3, 4, -1]
    assert len(MARGIN_SCALE.words) == len(MARGIN_SCALE.bounds) + 1 == len(TONES)


def test_pixels_show_the_cell_under_them(
    plan: Plan, elevation: Elevation, clear: tuple[ClearGround, ...]
) -> None:
    ground = clear[0]
    classes = MARGIN_SCALE.classes(ground.margin_deg)
    for frame in cells_on_map(plan, elevation, ground.cells):
        shown = np.asarray(Image.open(io.BytesIO(frame.picture(classes))).convert("RGBA"))
        rows, columns = shown.shape[:2]
        row, col = rows // 3, columns // 2
        # The pixel's place, by its share of the box: a few metres off Mercator at this size.
        lat = frame.box.north - (row + 0.5) / rows * (frame.box.north - frame.box.south)
        lon = frame.box.west + (col + 0.5) / columns * (frame.box.east - frame.box.west)
        under = elevation.grid.pixels(lat=lat, lon=lon)
        near = {
            (
                round(float(under.row) + d) - ground.cells.row0,
                round(float(under.col) + a) - ground.cells.col0,
            )
            for d in (-0.1, 0.1)
            for a in (-0.1, 0.1)
        }
        assert tuple(shown[row, col, :3]) in {TONES[classes[cell]] for cell in near}
        assert shown[row, col, 3] == 255


def test_unknown_ground_has_no_tone(
    plan: Plan, elevation: Elevation, clear: tuple[ClearGround, ...]
) -> None:
    ground = clear[0]
    classes = np.full(ground.margin_deg.shape, -1, dtype=np.int8)
    frame = cells_on_map(plan, elevation, ground.cells)[0]
    assert not np.asarray(Image.open(io.BytesIO(frame.picture(classes))).convert("RGBA"))[
        ..., 3
    ].any()


def test_a_night_has_margin_first_and_last(night: RidgeArea) -> None:
    margin, first, last = area_choices(night)
    assert margin.scale is MARGIN_SCALE
    assert "never" in first.scale.words[0]
    early, late = first.scale.classes(first.values), last.scale.classes(last.values)
    never = np.isfinite(night.margin_deg) & np.isnan(night.first_clear_h)
    assert np.array_equal(early == 0, never)
    assert np.array_equal(late == 0, never)
    # Whoever is clear from the first minute on is in the lightest class.
    begins = night.first_clear_h <= np.nanmin(night.first_clear_h) + 0.1
    assert (early[begins] == 4).all()


@pytest.mark.slow
def test_nothing_computed_is_nothing_drawn(plan: Plan, elevation: Elevation) -> None:
    assert area_layer(plan, Texts(), (), None, {}) is None
    assert 'id="clear-choice"' not in page_html(plan, elevation)


@pytest.mark.slow
def test_the_page_stays_small_with_all_of_it(
    plan: Plan, elevation: Elevation, clear: tuple[ClearGround, ...], night: RidgeArea
) -> None:
    bare = len(page_html(plan, elevation))
    full = page_html(plan, elevation, clear=clear, area=night)
    assert len(full) - bare < 100_000
    assert "nothing of access" in full


def test_names_of_lenses_stay_text(hostile_plan: Plan, elevation: Elevation) -> None:
    clear = clear_ground(hostile_plan, elevation)
    texts = Texts()
    cells = {one.cells: cells_on_map(hostile_plan, elevation, one.cells) for one in clear}
    layer = area_layer(hostile_plan, texts, clear, None, cells)
    assert layer is not None
    for sheet in layer["sheets"]:
        assert isinstance(sheet["name"], int)
        assert all(hostile.lens.name not in sheet["said"] for hostile in hostile_plan.lenses)


def _drawn(page: Any) -> list[str]:
    found: list[str] = page.evaluate(
        "[...document.querySelectorAll('.leaflet-clear-pane img')].map((i) => i.src)"
    )
    return found


@pytest.mark.slow
def test_the_layer_is_off_until_asked_and_follows_the_lens(
    open_page: Any, deep_valley_plan: Plan, deep_valley: Outing, elevation: Elevation,
    tmp_path: Path,
) -> None:  # fmt: skip
    # The sample's skyline begins at the subject's foot, so that its whole line is no longer one.
    plan = deep_valley_plan
    clear = clear_ground(plan, elevation)
    night = ridge_area(deep_valley, elevation, within_m=3000.0)
    path = write_page(plan, elevation, tmp_path / "stands.html", clear=clear)
    recorded = open_page(path)
    assert _drawn(recorded.page) == []
    path = write_page(plan, elevation, tmp_path / "area.html", clear=clear, area=night)
    recorded = open_page(path)
    page = recorded.page
    # An area that was asked for is what its page opens with.
    assert page.is_checked("[data-layer=clear]")
    assert page.input_value("#clear-choice") == str(len(clear))
    page.click("#key-button")
    page.uncheck("[data-layer=clear]")
    assert _drawn(page) == []
    page.check("[data-layer=clear]")
    page.select_option("#clear-choice", index=0)
    # Close by, where the whole area's picture would be stretched too far.
    home = [plan.subject.lat, plan.subject.lon]
    page.evaluate("home => void map_ground.setView(home, 21, {animate: false})", home)
    (close,) = _drawn(page)
    page.click("[data-view=line]")
    (whole,) = _drawn(page)
    assert close != whole
    assert Image.open(io.BytesIO(base64.b64decode(whole.split(",", 1)[1]))).format == "WEBP"
    page.select_option("#clear-choice", index=len(clear))
    assert _drawn(page) != [whole]
    page.select_option("#clear-choice", index=len(clear) + 1)
    assert page.locator("#clear-words li").first.inner_text().strip() == "never clear"
    page.select_option("#clear-choice", index=0)
    page.click("#key-button")
    for i, ground in enumerate(clear):
        page.click(f"[data-open='{ground.lenses[0]}']")
        assert page.input_value("#clear-choice") == str(i)
    assert recorded.complaints == []
    assert recorded.requests == []
