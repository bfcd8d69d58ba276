"""The year's page: silent, harmless, legible on a phone, and true to the year."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from axe_look import look
from backbearing.alignment.year.plan_year import plan_year
from backbearing.maps.year_page import year_page
from backbearing.plan.year import YearRule
from backbearing.sky.targets import Target

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.plan.year import Year

HOSTILE = 'Oak <img src=x onerror=alert(1)> </script> "q"'


@pytest.fixture(scope="module")
def year(outing: Outing) -> Year:
    oak = replace(
        outing,
        subject=replace(outing.subject, name=HOSTILE),
        target=Target.star("Spica"),
        session=None,
    )
    one = YearRule(count=1)
    return plan_year([outing, oak], first_night=dt.date(2027, 4, 20), nights=60, rule=one)


@pytest.fixture(scope="module")
def written(year: Year, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("year") / "year.html"
    path.write_text(year_page(year), encoding="utf-8")
    return path


def test_the_same_year_gives_the_same_page_and_names_stay_text(year: Year, written: Path) -> None:
    html = written.read_text(encoding="utf-8")
    assert html == year_page(year)
    assert "<img" not in html
    assert html.count("</script>") == 2
    assert not re.search(r"https?://(?!www\.w3\.org)", html)


def test_the_script_reads_off_what_the_year_says(year: Year, written: Path) -> None:
    html = written.read_text(encoding="utf-8")
    block = re.search(r'id="year-data">(.*?)</script>', html, re.DOTALL)
    assert block
    data = json.loads(block[1])
    assert len(data["nights"]) == year.nights
    for ours, theirs in zip(data["subjects"], year.subjects, strict=True):
        assert ours["minutes"] == [[round(m) for m in lens.minutes] for lens in theirs.lenses]


def test_panels_draw_what_is_good(year: Year, written: Path) -> None:
    html = written.read_text(encoding="utf-8")
    paths = re.findall(r'<path class="good" d="([^"]*)"', html)
    assert len(paths) == 2
    unit = int(re.search(r'"unit":(\d+)', html)[1])  # type: ignore[index]
    for path, subject in zip(paths, year.subjects, strict=True):
        drawn = {int(x) // unit for x in re.findall(r"M(\d+) ", path)}
        assert drawn == {n for n, state in enumerate(subject.states) if state == "good"}


def test_a_year_without_a_night_has_a_page_too(outing: Outing) -> None:
    none = plan_year([outing], first_night=dt.date(2027, 6, 16), nights=3)
    html = year_page(none)
    assert "No night to take" in html
    assert "only while the Moon is up" in html


@pytest.mark.browser
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_nothing_is_cut_and_axe_finds_nothing_serious(
    open_page: Callable[..., Any], written: Path, width: int, height: int
) -> None:
    opened = open_page(written, width=width, height=height)
    page = opened.page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    if width < 400:
        for _ in ("day", "night"):
            bad, legible = look(page)
            assert bad == []
            assert legible > 30
            page.click("#theme-button")
    assert opened.requests == []
    assert opened.complaints == []


@pytest.mark.browser
def test_a_night_is_read_with_keys_and_with_a_finger(
    open_page: Callable[..., Any], written: Path, year: Year
) -> None:
    page = open_page(written, width=390, height=844).page
    page.focus("#night")
    before = page.inner_text("#which")
    assert before == year.best[0].label
    page.keyboard.press("ArrowRight")
    assert page.inner_text("#which") != before
    svg = page.locator(".panel-svg").first
    svg.scroll_into_view_if_needed()
    box = svg.bounding_box()
    page.mouse.click(box["x"] + box["width"] * 0.5 / year.nights, box["y"] + box["height"] / 2)
    assert page.inner_text("#which") == "20–21 April 2027"
    assert HOSTILE.split(" <", maxsplit=1)[0] in page.inner_text("#read")
