"""The scouting map: small, silent, harmless, and true to the ranking."""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import replace
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest

from backbearing.base.errors import WriteRefusedError
from backbearing.maps.scouting_page import MINUTES_A_STEP, ScoutingAbout
from backbearing.outing.scouting_request import PARTS, Weights
from backbearing.plan.ranking import Ranking, Rejected
from backbearing.workflows.scouting_map import scouting_html, write_scouting_page

NIGHTS, LENSES = 30, (14.0, 50.0)


def made_up(names: tuple[str, ...], elevation: Any) -> Ranking:
    """A ranking of that many candidates; the last one cannot work."""
    n = len(names)
    rng = np.random.default_rng(5)
    south, west, north, east = (float(v) for v in elevation.bounds)
    failed = np.arange(n) == n - 1
    minutes = rng.integers(0, 300, (n, NIGHTS, len(LENSES))).astype(np.uint16)
    minutes[failed] = 0
    columns: dict[str, Any] = {
        "id": [f"row {i + 2}" for i in range(n)],
        "name": names,
        "kind": ["single tree" if i % 2 else "ruin" for i in range(n)],
        "height_m": 5.0 + np.arange(n),
        "width_m": 3.0,
        "height_is_guess": np.arange(n) % 2 == 0,
        "width_is_guess": True,
        "access": [("open", "ask first", "closed", "unknown")[i % 4] for i in range(n)],
        "note": "",
        "rank": pd.array([pd.NA if f else i + 1 for i, f in enumerate(failed)], dtype="Int64"),
        "score": np.where(failed, np.nan, np.linspace(92.0, 40.0, n)),
        "failure": ["the core never clears the ridge" if f else "" for f in failed],
        "best_night": ["" if f else "2027-05-03" for f in failed],
        "night_label": "3–4 May 2027",
        "best_time": [None if f else "2027-05-04T01:10:00-04:00" for f in failed],
        "best_lens_mm": np.where(failed, np.nan, 50.0),
        "total_minutes": minutes.sum(axis=(1, 2)),
        "good_nights": 12,
        "clearance_deg": 3.25,
        "target_altitude_deg": 21.5,
        "back_bearing_deg": 12.25,
        "distance_m": np.where(failed, np.nan, 31.75),
        "walk_m": np.where(np.arange(n) == 1, np.nan, 640.0),
        "reasons": [f"core 3 degrees over the ridge; {name}" for name in names],
        "cautions": list(names),
        **{f"part_{key}": np.where(failed, np.nan, 0.5) for key in PARTS},
    }
    frame = gpd.GeoDataFrame(
        columns,
        geometry=gpd.points_from_xy(
            rng.uniform(west, east, n), rng.uniform(south, north, n), crs="EPSG:4326"
        ),
    )
    return Ranking(
        frame=frame,
        minutes=minutes,
        first_night=date(2027, 5, 1),
        nights=NIGHTS,
        lenses_mm=LENSES,
        lens_names=("lens_14", "lens_50"),
        zone="America/New_York",
        weights=Weights(),
        rejected=(Rejected(7, f"its latitude is {names[0]}"),),
        notes=(names[0],),
    )


@pytest.fixture(scope="module")
def ranking(elevation: Any, hostile_texts: tuple[str, ...]) -> Ranking:
    return made_up((*hostile_texts, "last"), elevation)


@pytest.fixture(scope="module")
def scouted(ranking: Ranking, elevation: Any, tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("scout") / "scouting.html"
    about = ScoutingAbout(plans={"row 2": "plans/01_x.html"}, command="scout --plan '{id}'")
    return write_scouting_page(ranking, elevation, path, about=about)


def unpacked(html: str) -> tuple[dict[str, Any], np.ndarray]:
    block = html.split('id="packed-data">', 1)[1].split("<", 1)[0]
    body = zlib.decompress(base64.b64decode(block))
    length = int.from_bytes(body[:4], "little")
    told = json.loads(body[4 : 4 + length])
    table = np.frombuffer(body[4 + length :], dtype=np.uint8)
    shape = (len(told["lenses"]), len(told["nights"]), len(told["lat"]))
    return told, table.reshape(shape).transpose(2, 1, 0)


def test_the_page_holds_every_candidate_and_its_minutes_rounded_down(ranking, elevation):
    told, table = unpacked(scouting_html(ranking, elevation))
    assert told["id"] == list(ranking.frame["id"])
    assert told["name"] == list(ranking.frame["name"])
    short = ranking.minutes - table.astype(int) * told["step"]
    assert short.min() >= 0
    assert short.max() < MINUTES_A_STEP
    assert told["rank"][-1] == 0
    assert told["walk_m"][1] is None
    assert told["best_time"][0] == "01:10"


def test_no_foreign_text_stands_in_the_markup(ranking, elevation, hostile_texts):
    html = scouting_html(ranking, elevation)
    for text in hostile_texts[:5]:
        assert text not in html


def test_the_same_ranking_gives_the_same_bytes(ranking, elevation):
    assert scouting_html(ranking, elevation) == scouting_html(ranking, elevation)


def test_an_empty_ranking_is_refused_with_a_sentence(ranking, elevation):
    empty = replace(ranking, frame=ranking.frame.iloc[:0], minutes=ranking.minutes[:0])
    with pytest.raises(WriteRefusedError, match="no candidate"):
        scouting_html(empty, elevation)


def test_a_file_in_the_way_stays(ranking, elevation, tmp_path):
    path = tmp_path / "mine.html"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(WriteRefusedError):
        write_scouting_page(ranking, elevation, path)
    assert path.read_text(encoding="utf-8") == "mine"


@pytest.mark.browser
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_it_asks_no_host_and_says_nothing_on_the_console(open_page, scouted, width, height):
    opened = open_page(scouted, width=width, height=height)
    opened.page.click("#ranked button >> nth=0")
    opened.page.click("#theme-button")
    opened.page.wait_for_timeout(100)
    assert opened.requests == []
    assert opened.complaints == []
    assert opened.page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.browser
def test_the_filters_keep_what_the_ranking_says(open_page, scouted, ranking):
    page = open_page(scouted).page
    steps = (ranking.minutes // MINUTES_A_STEP * MINUTES_A_STEP).astype(int)
    ok = ranking.frame["failure"].to_numpy() == ""

    def shown() -> list[int]:
        rows = "rows => rows.map(r => Number(r.dataset.row))"
        return page.eval_on_selector_all("#ranked button", rows)

    assert shown() == [i for i in range(len(ok)) if ok[i]]
    page.select_option("#night", "3")
    page.select_option("#lens", "1")
    page.fill("#least", "100")
    expected = [i for i in range(len(ok)) if ok[i] and steps[i, 3, 1] + MINUTES_A_STEP > 100]
    assert 0 < len(expected) < ok.sum()
    assert shown() == expected
    page.fill("#least", "1")
    page.select_option("#land", "open")
    land = ranking.frame["access"].to_numpy() == "open"
    assert set(shown()) <= set(np.flatnonzero(land & ok).tolist())
    page.select_option("#land", "any")
    page.fill("#name", "mill")
    assert [ranking.frame["name"].iloc[i] for i in shown()] == ["😀 mill 🏔️"]
    page.fill("#name", "no such name")
    assert shown() == []
    assert "None of" in page.inner_text("#count")


@pytest.mark.browser
def test_a_subject_opens_its_reasons_and_its_plan(open_page, scouted, ranking):
    page = open_page(scouted).page
    page.click("#ranked button >> nth=0")
    told = page.inner_text("#opened")
    assert "core 3 degrees over the ridge" in told
    assert "31.8\u00a0m" in told
    assert page.get_attribute("#opened a.button", "href") == "plans/01_x.html"
    page.click("#opened .close")
    page.click("#ranked button >> nth=1")
    assert page.inner_text("#opened code") == "scout --plan 'row 3'"
    assert page.locator("#opened a").count() == 0


@pytest.mark.browser
def test_a_mark_on_the_map_opens_its_subject(open_page, scouted, ranking):
    page = open_page(scouted).page
    last = len(ranking.frame) - 1
    point = ranking.frame.geometry.iloc[last]
    page.evaluate(
        "([lat, lon]) => map_ground.setView([lat, lon], 17, {animate: false})", [point.y, point.x]
    )
    box = page.locator("#mapbox").bounding_box()
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    assert "never clears the ridge" in page.inner_text("#opened")


@pytest.mark.browser
def test_the_accessibility_rules_hold(open_page, scouted):
    from axe_playwright_python.sync_playwright import Axe

    page = open_page(scouted).page
    page.click("#ranked button >> nth=0")
    found = Axe().run(page)
    assert found.violations_count == 0, found.generate_report()
