"""A small share of `make soak`, the same outings every time."""

from __future__ import annotations

import math

import pytest

from soak.outputs import DOUBLED, bad_words
from soak.run import soak

CHOSEN = (1, 5)
"""Seeds with stands and turns, on two grids, of which every page and file is read."""

QUICK = (6, 7, 11, 15)
"""Seeds of which all is tried but pages and the second time."""


@pytest.mark.slow
@pytest.mark.parametrize("seed", CHOSEN)
def test_every_word_of_an_outing_and_all_it_claims(seed: int) -> None:
    found = soak(seed, pages=True)
    assert not found.wrong
    assert found.stands
    assert not found.refused


@pytest.mark.slow
@pytest.mark.parametrize("seed", QUICK)
def test_what_a_plan_claims_holds_in_raw_geometry(seed: int) -> None:
    found = soak(seed, pages=False, twice=False)
    assert not found.wrong


@pytest.mark.parametrize(
    "text",
    [
        "within nan m along",
        "nan x 0.4 m",
        "tilt -0°",
        "-0 % of the frame",
        "-0.0 m down",
        "\u22120 m",
        '{"turn_deg": -0.0}',
        "[-0.0,600]",
        "None of",
        "inf m",
        f"{math.inf} m",
        "1 minutes",
        "1 of 1 lenses have a turn",
        "takes 1 frames",
    ],
)
def test_words_that_must_not_appear_are_seen(text: str) -> None:
    assert bad_words(text)


@pytest.mark.parametrize(
    "text",
    [
        "-0.1 m",
        "-0.05°",
        "21 minutes",
        "0.1 minutes",
        "1 minute",
        "2-0",
        "rise-0",
        "finance, Nancy, information",
        "2027-06-05",
        "half -0:30",
    ],
)
def test_and_other_words_are_let_pass(text: str) -> None:
    assert not bad_words(text)


def test_doubled_spaces_are_seen_between_words_alone() -> None:
    assert DOUBLED.search("one  two")
    assert not DOUBLED.search("  indented, then one. Two")
