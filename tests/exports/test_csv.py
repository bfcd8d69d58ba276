"""The table: RFC 4180 to the letter, formulas defused, numbers whole."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.grouped import changed
from backbearing.exports.csv import COLUMNS, defused, plan_csv
from backbearing.exports.file_text import NOT_PLAIN, visible
from backbearing.exports.rows import STAND_NUMBERS, written

if TYPE_CHECKING:
    from backbearing.alignment import Plan

SIGNS = "-=+@＝＋－＠"  # the hyphen first: it is no range in a character class

# RFC 4180 section 2: the grammar, with TEXTDATA widened from ASCII to UTF-8 as RFC 7111
# section 5.1 has it for text/csv.
TEXTDATA = r"[^\x00-\x1f\x7f,\"]"
FIELD = rf'(?:"(?:{TEXTDATA}|,|\r|\n|"")*"|{TEXTDATA}*)'
TABLE = re.compile(rf"(?:{FIELD}(?:,{FIELD})*\r\n)+")


def rows(text: str) -> list[dict[str, str]]:
    assert TABLE.fullmatch(text)
    table = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert tuple(table[0]) == COLUMNS
    assert {len(row) for row in table} == {len(COLUMNS)}
    return [dict(zip(COLUMNS, row, strict=True)) for row in table[1:]]


def undone(text: str) -> str:
    """Take one apostrophe off again, as the module's first lines say."""
    skipped = r"[\s\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff]*"
    return re.sub(rf"(^|[;\n])({skipped})'('*[{SIGNS}])", r"\1\2\3", text)


def runs(cell: str) -> bool:
    """Whether a spreadsheet that trims, or splits at semicolons and line ends, finds a formula."""
    parts = re.split(r"[;\n\t]", cell)
    return any(part.lstrip()[:1] in tuple(SIGNS) for part in parts)


def test_the_table_holds_everything_with_its_numbers(plan: Plan) -> None:
    found = rows(plan_csv(plan, height_reference="EGM96 geoid"))
    roles = [row["role"] for row in found]
    assert roles[:5] == ["subject", *["stand"] * 4]
    assert roles.count("caution") == len(plan.cautions)
    for row, lens in zip(found[1:5], plan.lenses, strict=True):
        assert float(row["lon"]) == pytest.approx(lens.stand.lon, abs=1e-7)
        for name in STAND_NUMBERS:
            assert float(row[name]) == pytest.approx(getattr(lens.stand, name), abs=0.006)
        assert row["time_utc"].endswith("Z")
        assert row["height_reference"] == "EGM96 geoid"
        assert row["cautions"] == "\n".join(lens.stand.cautions)


def test_negative_numbers_stay_numbers(plan: Plan) -> None:
    """A sign in front of a number that this package wrote is no formula and gets nothing."""
    drowned = changed(plan.lenses[3].stand, skyline_break_deg=-2.5)
    lenses = (*plan.lenses[:3], replace(plan.lenses[3], stand=drowned))
    row = rows(plan_csv(replace(plan, lenses=lenses)))[4]
    assert row["lon"].startswith("-84.")
    assert row["skyline_break_deg"] == "-2.5000"


def test_hostile_names_stay_in_their_cells_and_do_nothing(hostile: tuple[str, Plan]) -> None:
    name, plan = hostile
    found = rows(plan_csv(plan, height_reference=name))
    assert found[0]["name"] == defused(name)
    assert undone(found[0]["name"]) == visible(name, NOT_PLAIN)
    for row in found:
        for column, cell in row.items():
            if column in STAND_NUMBERS or column == "shutter_s":
                assert re.fullmatch(r"(-?\d+\.\d+)?", cell), (column, cell)
            else:
                assert not runs(cell), (column, cell)


@pytest.mark.parametrize(
    ("name", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("  @x", "  '@x"),
        ("-5", "'-5"),
        ("x;=1", "x;'=1"),
        ("a\r\n+b", "a\n'+b"),
        ("\t=1", "<U+0009>=1"),
        ("\u200b=1", "\u200b'=1"),
        ("Oak - the old one", "Oak - the old one"),
        ("'quoted'", "'quoted'"),
    ],
)
def test_formulas_get_an_apostrophe(name: str, cell: str) -> None:
    assert defused(name) == cell


@given(st.text(st.sampled_from("a=+-@＝'; \n\"\u200b,")))
def test_defusing_is_complete_and_can_be_undone(text: str) -> None:
    assert not runs(defused(text))
    assert undone(defused(text)) == visible(text, NOT_PLAIN)


def test_nothing_known_is_an_empty_cell_and_nought_has_no_sign(standless: Plan) -> None:
    found = rows(plan_csv(standless))
    assert [row["role"] for row in found[1:5]] == ["no stand"] * 4
    assert {row["lat"] for row in found[1:5]} == {""}
    assert found[1]["sentence"] == "Nothing clears the ridge."
    assert written("share", -0.00001) == "0.0000"
    assert written("share", None) == ""
    assert written("play_m", -0.2) == "-0.20"
