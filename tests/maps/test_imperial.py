"""The page for a reader of feet, yards and miles; its scripts go on in metres."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.base.units import Units
from backbearing.maps import page_html, write_page

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.plan import Plan
    from backbearing.terrain import Elevation

FOOT_M = 0.3048
"""International foot, exact: NIST Special Publication 811 (2008), appendix B.6."""

METRIC_LENGTH = re.compile(r"\d[ \u00a0](?:m|km|cm|metres?)\b")


@pytest.fixture(scope="module")
def imperial(tmp_path_factory: pytest.TempPathFactory, south: tuple[Plan, Elevation]) -> Path:
    plan, ground = south
    folder = tmp_path_factory.mktemp("imperial")
    return write_page(plan, ground, folder / "imperial.html", units=Units("imperial"))


def _data(html: str) -> dict[str, Any]:
    block = re.search(r'id="ground-data">(.*?)</script>', html, flags=re.DOTALL)
    assert block is not None
    found: dict[str, Any] = json.loads(block.group(1))
    return found


@pytest.mark.browser
def test_no_metre_is_left_for_a_person_to_read(open_page: Any, imperial: Path) -> None:
    opened = open_page(imperial, width=390, height=844)
    page = opened.page
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    words = [page.evaluate("document.querySelector('.page').textContent")]
    for view in ("line", "stands"):
        page.click(f'[data-view="{view}"]')
        page.wait_for_timeout(150)
        words.append(page.eval_on_selector(".leaflet-labels-pane", "p => p.textContent"))
        words.append(page.inner_text(".leaflet-control-scale"))
        assert page.inner_text(".leaflet-control-scale").endswith(("ft", "mi"))
    told = "all => all.map(one => `${one.ariaLabel ?? ''} ${one.alt ?? ''}`)"
    words += page.eval_on_selector_all("[aria-label], img[alt]", told)
    left = [found.group(0) for text in words for found in METRIC_LENGTH.finditer(text)]
    assert left == []
    assert "heights in feet" in page.inner_text(".caption")
    assert opened.complaints == []


@pytest.mark.browser
def test_the_answer_is_the_same_distance_in_feet(
    open_page: Any, imperial: Path, south: tuple[Plan, Elevation]
) -> None:
    plan, _ = south
    assert plan.session is not None
    page = open_page(imperial).page
    far = plan.session.shots[0].stand.distance_m
    assert f"{far / FOOT_M:.1f} ft" in page.inner_text("#next")
    rows = page.locator("#facts .order tbody tr").all_inner_texts()
    for shot, row in zip(plan.session.shots, rows, strict=False):
        assert f"{shot.stand.distance_m / FOOT_M:.1f} ft" in row


@pytest.mark.slow
def test_what_the_scripts_compute_with_stays_metric(
    imperial: Path, south: tuple[Plan, Elevation]
) -> None:
    plan, ground = south
    metric, other = (
        _data(html) for html in (page_html(plan, ground), imperial.read_text(encoding="utf-8"))
    )
    assert other["units"] == "imperial"
    assert other["posts"] == metric["posts"]
    assert other["dial"] == metric["dial"]
    for one, two in zip(metric["lenses"], other["lenses"], strict=True):
        assert one["arc"] == two["arc"]
        if one["stand"]:
            assert {**one["stand"], "distance": ""} == {**two["stand"], "distance": ""}
    # Rings stand at round feet, or yards, and say so.
    for ring in other["rings"]:
        number, unit = ring["text"].split(" ")
        assert float(number) * {"ft": 1.0, "yd": 3.0}[unit] * FOOT_M == pytest.approx(
            ring["m"], abs=1e-3
        )
        assert float(number) % 1.0 == 0.0
    # Contours are labelled with round feet: their heights are whole multiples of a step.
    heights = {height for spots in other["heights"].values() for *_, height in spots}
    known = ground.heights_m[np.isfinite(ground.heights_m)] / FOOT_M
    assert heights
    assert all(float(height).is_integer() for height in heights)
    assert known.min() - 5.0 <= min(heights)
    assert max(heights) <= known.max() + 5.0
