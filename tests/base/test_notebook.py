"""Results shown in a notebook: right figures, and no text that becomes markup."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.base.notebook import cell_words, table_html
from backbearing.sky import dark_windows

if TYPE_CHECKING:
    from backbearing.alignment import Plan

HOSTILE = "<script>alert(1)</script> & \"x\" <img src=x onerror='y'>"


class Tags(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.words = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        assert not attrs
        self.tags.add(tag)

    def handle_data(self, data: str) -> None:
        self.words += data + " "


PLAIN = {"p", "table", "thead", "tbody", "tr", "th", "td", "ul", "li"}


def test_text_stays_text() -> None:
    seen = Tags(table_html(HOSTILE, [HOSTILE], [[HOSTILE]], [HOSTILE]))
    assert seen.tags <= PLAIN
    assert seen.words.count(HOSTILE) == 4


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (1.26, "1.3"),
        (float("nan"), ""),
        (None, ""),
        (7, "7"),
        (dt.datetime(2027, 6, 6, 0, 9, tzinfo=dt.UTC), "2027-06-06 00:09"),
    ],
)
def test_cells(value: Any, words: str) -> None:
    assert cell_words(value) == words


def test_a_plan_shows_its_stands(plan: Plan) -> None:
    seen = Tags(replace(plan, name=HOSTILE)._repr_html_())
    assert seen.tags <= PLAIN
    assert HOSTILE in seen.words
    for one in plan.lenses:
        assert one.lens.label in seen.words
        if one.stand is not None:
            assert f"{one.stand.distance_m:.1f}" in seen.words


def test_windows_show_themselves_and_the_nights_without() -> None:
    windows = dark_windows(
        lat=69.65, lon=18.96, height_m=0.0, first_night=dt.date(2027, 6, 5), nights=2
    )
    seen = Tags(windows._repr_html_())
    assert "0 dark windows; 2 nights without one." in seen.words
    assert "2027-06-06" in seen.words


def test_candidates_and_a_ranking_show_themselves() -> None:
    from pathlib import Path

    from backbearing.outing.load import load_outing
    from backbearing.scouting import read_candidates, scout

    sample = Path(__file__).resolve().parents[2] / "sample_terrain"
    found = read_candidates(sample / "lone_things.csv")
    assert "Row 39" in Tags(found._repr_html_()).words
    ranking = scout(load_outing(sample / "outing.toml"), found, nights=3, processes=1)
    words = Tags(ranking._repr_html_()).words
    assert str(ranking.frame["name"].iloc[0]) in words
