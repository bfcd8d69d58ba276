"""Entries taken out of a TOML text and put into it: the parser's own reading is the judge."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.errors import OutingError
from backbearing.outing.toml_blocks import with_entries, without_keys

TEXT = """\
# my lenses
[camera]
use = "mine"  # the new one
width_px = 6000

[[lens]]  # borrowed
focal = 16.0
# at f/2.8 it is soft
stop = 2.8

# the good one
[[lens]]
focal = 24.0

[[lens]]
focal = 85.0

[night]
evening = 2027-06-05
"""


def lenses(text: str) -> list[float]:
    return [one["focal"] for one in tomllib.loads(text).get("lens", [])]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_entries_go_and_the_rest_stays(end: str) -> None:
    text = TEXT.replace("\n", end)
    made = with_entries(text, "lens", [2, 3], [])
    assert lenses(made) == [24.0, 85.0]
    assert "the good one" in made
    assert "soft" not in made
    assert tomllib.loads(made)["night"] == tomllib.loads(text)["night"]
    assert made.count("\r") == (made.count("\n") if end == "\r\n" else 0)


def test_new_entries_follow_the_last_one() -> None:
    made = with_entries(TEXT, "lens", [1, 2, 3], [{"focal": 35.0, "stop": 1.4}])
    assert lenses(made) == [16.0, 24.0, 85.0, 35.0]
    assert made.index("35.0") < made.index("[night]")
    assert with_entries(TEXT, "lens", [1, 2, 3], []) == TEXT


@given(
    kept=st.sets(st.integers(1, 3)),
    added=st.lists(st.fixed_dictionaries({"focal": st.floats(1, 900)}), max_size=3),
    newline=st.booleans(),
)
def test_any_choice_of_entries_is_what_the_parser_reads(
    kept: set[int], added: list[dict[str, Any]], newline: bool
) -> None:
    text = TEXT if newline else TEXT.rstrip("\n")
    made = with_entries(text, "lens", sorted(kept), added)
    own = [16.0, 24.0, 85.0]
    assert lenses(made) == [own[i - 1] for i in sorted(kept)] + [one["focal"] for one in added]
    assert "# my lenses" in made


@pytest.mark.parametrize("kept", [[4], [0], [2, 1], [1, 1]])
def test_entries_that_are_not_there_are_refused(kept: list[int]) -> None:
    with pytest.raises(OutingError):
        with_entries(TEXT, "lens", kept, [])


@pytest.mark.parametrize("text", ["lens = [{focal = 16.0}]\n", "lens = 3\n"])
def test_another_layout_is_refused(text: str) -> None:
    with pytest.raises(OutingError, match="by hand"):
        with_entries(text, "lens", [], [{"focal": 24.0}])


def test_keys_go_with_their_lines() -> None:
    made = without_keys(TEXT, "camera", ["use", "other"])
    assert tomllib.loads(made)["camera"] == {"width_px": 6000}
    assert "the new one" not in made
    assert without_keys(TEXT, "elsewhere", ["use"]) == TEXT
    with pytest.raises(OutingError, match="by hand"):
        without_keys('camera = {use = "mine", width_px = 1}\n', "camera", ["use"])
