"""Foreign text in sentences: nothing lost unseen, directions kept apart."""

from __future__ import annotations

import datetime as dt
import unicodedata
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.exports.file_text import NOT_PLAIN, NOT_UTF8, NOT_XML, inline, utc, visible, wall


@pytest.mark.parametrize("refused", [NOT_PLAIN, NOT_UTF8, NOT_XML])
@given(text=st.text(st.characters(exclude_categories=())))
def test_what_cannot_be_held_is_shown(refused, text: str) -> None:
    shown = visible(text, refused)
    assert not refused.search(shown)
    assert "\r" not in shown
    shown.encode("utf-8")
    ends = text.replace("\r\n", "\n").replace("\r", "\n")
    assert shown.count("<U+") == ends.count("<U+") + len(refused.findall(ends))


def test_a_control_becomes_its_code_point() -> None:
    assert visible("a\x07b\ud800", NOT_XML) == "a<U+0007>b<U+D800>"
    assert visible("a\tb", NOT_XML) == "a\tb"
    assert visible("a\tb", NOT_PLAIN) == "a<U+0009>b"


def isolates_close(text: str) -> bool:
    depth = 0
    for character in text:
        kind = unicodedata.bidirectional(character)
        depth += kind in ("LRI", "RLI", "FSI")
        depth -= kind == "PDI"
        if depth < 0:
            return False
        outside = depth == 0 and kind not in ("PDI",)
        if outside and kind in ("R", "AL", "RLO", "RLE", "LRO", "LRE", "PDF"):
            return False
    return depth == 0


@given(st.text(st.sampled_from("ab \u202e\u202b\u202c\u2066\u2067\u2068\u2069שع1\n\u2029")))
def test_direction_stays_within_the_name(text: str) -> None:
    """UAX 9, rules X5a to X6a: an isolate ends at its own closer, whatever opened inside."""
    line = inline(text)
    assert isolates_close(line)
    assert not set(line) & {"\n", "\u2029", "\r"}


def test_plain_names_get_nothing_invisible() -> None:
    assert inline("Averil Chapel 🐄") == "Averil Chapel 🐄"


def test_times_are_utc_and_local_with_offset() -> None:
    moment = dt.datetime(2027, 6, 6, 2, 12, tzinfo=ZoneInfo("America/New_York"))
    assert utc(moment) == "2027-06-06T06:12:00Z"
    assert wall(moment, "America/New_York") == "2027-06-06T02:12:00-04:00"
    assert wall(moment, "Asia/Kathmandu") == "2027-06-06T11:57:00+05:45"
