"""The night page in Firefox, opened from disk: it solves, corrects, ticks and keeps."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.prepared_night import prepare_night
from backbearing.maps import write_page
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_the_page_works_in_firefox(firefox: Any, tmp_path: Path) -> None:
    asked = write_outing(
        tmp_path, lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 10), ground=hill(60.0, 700.0),
        lenses=(24.0, 85.0), subject={"name": "Cairn", "height_m": 7.0, "width_m": 3.0},
        night={"time_zone": "Australia/Sydney", "moon": "any"},
    )  # fmt: skip
    ground = open_elevation(asked)
    night = prepare_night(asked, ground)
    plan = night.plan()
    page = write_page(plan, ground, tmp_path / "night.html", outing=asked)
    firefox.forget()
    firefox.resize(390, 844)
    firefox.open(page.as_uri())
    firefox.until("document.documentElement.dataset.ready === 'yes'", within_s=60.0)
    i = min(
        (k for k, lens in enumerate(plan.lenses) if lens.stand is not None),
        key=lambda k: plan.lenses[k].stand.time,  # type: ignore[union-attr]
    )
    distance = f"document.querySelector('.page tr[data-lens=\"{i}\"] [data-out=distance]')"
    stand = plan.lenses[i].stand
    assert stand is not None
    assert firefox.value(f"{distance}.textContent") == f"{stand.distance_m:.1f} m"
    firefox.click('.bar [data-fold="correct"]')
    firefox.value("document.getElementById('c-height-value').focus()")
    firefox.type("9,5")
    firefox.click("#correct .strong")
    far = night.with_subject_height(9.5).points_at(stand.time)[i].distance_m
    firefox.until(f"{distance}.textContent === '{far:.1f} m'")
    firefox.click('.bar [data-fold="ticks"]')
    press = f'[data-tick="peg set"][data-lens="{i}"]'
    firefox.click(press)
    firefox.until(f"document.querySelector('{press}').ariaPressed === 'true'")
    firefox.open(page.as_uri() + "?again")
    firefox.until("document.documentElement.dataset.ready === 'yes'", within_s=60.0)
    kept = firefox.value("Object.keys(localStorage).some(key => key.startsWith('backbearing.'))")
    if kept:
        firefox.until(f"{distance}.textContent === '{far:.1f} m'")
    firefox.until("document.documentElement.scrollWidth <= innerWidth")
    assert firefox.errors() == []
    assert [one for one in firefox.asked() if not one.startswith(("file:", "data:"))] == []
