from __future__ import annotations

import base64
import hashlib
import html as html_module
import json
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import WriteRefusedError
from backbearing.base.grouped import changed
from backbearing.drawing.base_map import base_map
from backbearing.drawing.leaflet import leaflet_script, leaflet_style
from backbearing.drawing.texts import Texts, json_block
from backbearing.maps import page_html, write_page
from backbearing.terrain import Elevation
from backbearing.workflows import plan_page
from backbearing.workflows.map_ground import map_ground


@pytest.fixture(scope="module")
def html(plan, elevation):
    return page_html(plan, elevation)


def _blocks(html, name):
    """Every block but those of data, whatever medium it is for."""
    found = re.findall(rf"<{name}([^>]*)>(.*?)</{name}>", html, flags=re.DOTALL)
    return [text for said, text in found if "json" not in said]


def test_nothing_in_the_page_points_outside_it(html):
    body = re.sub(r"<script.*?</script>", "", html, flags=re.DOTALL)
    targets = re.findall(r"""(?:src|href|action|data|poster|srcset)\s*=\s*["']([^"']*)""", body)
    assert targets
    assert all(t.startswith(("#", "data:image/webp;base64,")) for t in targets)
    fetched = re.findall(r"url\(\s*['\"]?([^)'\"]{1,40})", html)
    assert all(t.startswith(("data:", "#")) for t in fetched), set(fetched)
    assert "@import" not in html
    assert "sourceMappingURL" not in html
    for word in ("jquery", "bootstrap", "fontawesome", "cdn.", "openstreetmap", "//unpkg"):
        assert word not in html.lower()


def test_the_policy_allows_exactly_the_scripts_and_styles_written(html):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    rules = dict(
        rule.strip().split(" ", 1) for rule in html_module.unescape(policy.group(1)).split(";")
    )
    assert rules["default-src"] == "'none'"
    assert rules["connect-src"] == "'none'"
    assert rules["img-src"] == "data:"
    assert "unsafe" not in policy.group(1)
    for name, rule in (("script", "script-src"), ("style", "style-src")):
        digests = [hashlib.sha256(b.encode()).digest() for b in _blocks(html, name)]
        hashes = {f"'sha256-{base64.b64encode(d).decode()}'" for d in digests}
        assert hashes == set(rules[rule].split())
    assert html.index("Content-Security-Policy") < html.index("<style")


def test_no_inline_style_or_handler_that_the_policy_would_refuse(html):
    body = re.sub(r"<(script|style).*?</\1>", "", html, flags=re.DOTALL)
    assert not re.search(r"\sstyle\s*=", body)
    assert not re.search(r"\son[a-z]+\s*=", body)


@pytest.mark.slow
def test_the_same_plan_gives_the_same_bytes(plan, elevation, html):
    assert page_html(plan, elevation) == html


def test_the_page_is_small(html):
    assert len(html.encode()) < 1_000_000


def test_every_number_of_the_timetable_is_text(plan, html):
    for lens in plan.lenses:
        assert f"{lens.stand.distance_m:.1f} m" in html
        assert f"{lens.stand.bearing_deg:.1f}°" in html
        assert lens.lens.label in html


@pytest.mark.slow
def test_foreign_text_never_becomes_html(hostile_plan, hostile_texts, elevation):
    html = page_html(hostile_plan, elevation)
    outside = re.sub(r'<script type="application/json".*?</script>', "", html, flags=re.DOTALL)
    still = re.search(r'<div class="still".*?</main>', outside, flags=re.DOTALL)
    assert still is not None
    live = outside.replace(still.group(0), "")
    for text in hostile_texts:
        assert text not in live
        assert html_module.escape(text) not in live
        # Where no script fills names in they are words, escaped.
        assert text not in still.group(0) or html_module.escape(text) == text
    block = re.search(r'id="text-data">(.*?)</script>', html, flags=re.DOTALL)
    assert block is not None
    assert not re.search(r"[<>&\u2028\u2029]", block.group(1))
    assert set(hostile_texts) <= set(json.loads(block.group(1)))


@pytest.mark.slow
@given(st.recursive(st.text() | st.integers(-9, 9) | st.none(), st.lists))
def test_json_blocks_say_the_same_and_cannot_end_their_element(data):
    text = str(json_block(data))
    assert json.loads(text) == data
    assert not re.search(r"[<>&\u2028\u2029]", text)


def test_a_lone_surrogate_does_not_stop_the_page():
    text = str(json_block(["\ud83d"]))
    text.encode("utf-8")
    assert json.loads(text) == ["\ud83d"]


def test_json_blocks_refuse_what_json_cannot_hold():
    with pytest.raises(ValueError, match="Out of range"):
        json_block({"height": math.nan})


def test_texts_are_numbered_once():
    texts = Texts()
    assert [texts.add("a"), texts.add("b"), texts.add("a")] == [0, 1, 0]
    assert texts.element("<b>") == '<bdi data-text="2"></bdi>'


def test_leaflet_comes_inlined_and_whole():
    assert 'version="1.9.3"' in leaflet_script()
    assert "</script" not in leaflet_script().lower()
    assert "url(images" not in leaflet_style()
    assert "url(#default" not in leaflet_style()
    assert leaflet_style().count("data:image/png;base64,") == 3


@pytest.mark.slow
def test_unknown_numbers_are_said_to_be_unknown(plan, elevation):
    lens = plan.lenses[0]
    dim = changed(
        lens,
        shutter_s=math.nan,
        hyperfocal_m=math.nan,
        stand=changed(
            lens.stand,
            ground_m=math.nan,
            skyline_deg=math.nan,
            skyline_lat=math.nan,
            skyline_lon=math.nan,
            skyline_distance_m=math.nan,
            clearance_deg=math.nan,
            clearance_sigma_deg=math.nan,
            skyline_break_deg=math.nan,
            bearing_magnetic_deg=math.nan,
            swing_m_per_minute=math.nan,
            play_m=math.nan,
            play_minutes=math.nan,
            canopy_clearance_deg=math.nan,
            target_x=math.nan,
            target_y=math.nan,
            verdict="unknown",
        ),
    )
    alone = replace(plan, lenses=(dim, *plan.lenses[1:]), session=None)
    html = page_html(alone, elevation)
    body = re.sub(r"<(script|style).*?</\1>", "", html, flags=re.DOTALL)
    assert "nan" not in re.sub(r"<[^>]*>", " ", body).lower().split()
    assert "magnetic unknown" in body
    assert "behind the camera" in body


@pytest.mark.slow
def test_a_night_without_dark_or_stands_is_said_and_drawn(plan, elevation):
    lenses = tuple(replace(lens, stand=None, usable=(), framed=()) for lens in plan.lenses)
    reason = "The Sun stays above -18 degrees all night."
    none = changed(plan, lenses=lenses, dark=(), dark_reason=reason, session=None)
    html = page_html(none, elevation)
    assert html.count("no stand this night") == len(lenses)
    assert reason in html


@pytest.mark.slow
def test_a_night_with_nothing_at_all_still_makes_a_page(plan, elevation):
    lenses = tuple(replace(lens, stand=None, usable=(), framed=(), arc=()) for lens in plan.lenses)
    empty = changed(
        plan, lenses=lenses, dark=(), sky_path=(), skyline=(), events=(), places=(), notes=()
    )
    assert "<svg" in page_html(empty, elevation)


def test_a_projected_raster_with_a_hole_at_the_subject(plan):
    row, col = np.mgrid[0:160, 0:160]
    heights = 300.0 + 50.0 * np.sin(row / 9.0) * np.cos(col / 11.0)
    heights[70:90, 70:90] = np.nan
    from pyproj import Transformer

    to_utm = Transformer.from_crs("EPSG:4326", "EPSG:32616", always_xy=True)
    x, y = to_utm.transform(plan.subject.lon, plan.subject.lat)
    corner = Affine(30.0, 0.0, x - 2400.0, 0.0, -30.0, y + 2400.0)
    html = page_html(plan, Elevation.from_array(heights, corner, "EPSG:32616"))
    block = re.search(r'id="ground-data">(.*?)</script>', html, flags=re.DOTALL)
    assert block is not None
    ground = json.loads(block.group(1))
    # The hole is 600 m wide: the posts that remain lie on its rim, and none is zero.
    assert all(height > 200.0 for *_, height in ground["posts"])
    assert ground["contours"]["close"]["index"] == ground["contours"]["close"]["plain"] == ""


@pytest.mark.parametrize("lon", [179.9995, -179.9995])
def test_a_subject_on_the_antimeridian_has_its_ground_about_it(plan, lon):
    row, col = np.mgrid[0:60, 0:60]
    corner = Affine(1 / 1200, 0.0, 179.975, 0.0, -1 / 1200, -16.775)
    ground = Elevation.from_array(100.0 + row + col, corner, "EPSG:4326")
    there = changed(plan, subject=replace(plan.subject, lat=-16.8, lon=lon), lenses=(), places=())
    base = base_map(map_ground(there, ground))
    for picture in base.pictures.values():
        assert picture.box.west < lon < picture.box.east
        assert picture.box.east - picture.box.west < 0.06
    assert base.contours["contours"]["close"]["index"]


@pytest.mark.slow
def test_the_page_does_not_replace_a_file_unasked(tmp_path, plan, elevation):
    there = tmp_path / "plan.html"
    there.write_text("mine")
    with pytest.raises(WriteRefusedError, match="already there"):
        write_page(plan, elevation, there)
    assert there.read_text() == "mine"
    assert write_page(plan, elevation, there, overwrite=True) == there
    assert there.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert [f.name for f in tmp_path.iterdir()] == ["plan.html"]


def test_a_failure_half_way_leaves_nothing(tmp_path, monkeypatch, plan, elevation):
    def fails(*_, **__):
        raise RuntimeError("half-way")

    monkeypatch.setattr(plan_page, "page_html", fails)
    with pytest.raises(RuntimeError, match="half-way"):
        write_page(plan, elevation, tmp_path / "plan.html")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_folder_is_refused_before_any_work(tmp_path, plan, elevation):
    with pytest.raises(WriteRefusedError, match="no folder"):
        write_page(plan, elevation, tmp_path / "nowhere" / "plan.html")
