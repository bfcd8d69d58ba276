"""What took the window from a night: the first cause first."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from backbearing.sky.window_reasons import State, outcome

NEVER_CLEAR = State(dark=True, dark_and_moon_out=True, dark_and_clear=False, dark_and_unknown=False)


@pytest.mark.parametrize(
    ("highest_deg", "found"), [(-2.9, "below the skyline"), (-3.1, "never so high")]
)
def test_over_a_raster_no_skyline_lies_three_degrees_down(highest_deg: float, found: str) -> None:
    # From 8 km above a plain the dip is acos(6371 / 6379), 2.87 degrees, without the air's help.
    asked: Any = SimpleNamespace(min_altitude_deg=5.0, horizon=object())
    assert outcome(NEVER_CLEAR, asked, highest_deg) == found


@pytest.mark.parametrize(
    ("highest_deg", "found"), [(5.1, "below the skyline"), (4.9, "never so high")]
)
def test_without_one_the_asked_altitude_counts(highest_deg: float, found: str) -> None:
    asked: Any = SimpleNamespace(min_altitude_deg=5.0, horizon=None)
    assert outcome(NEVER_CLEAR, asked, highest_deg) == found


@pytest.mark.parametrize(
    ("state", "found"),
    [
        (State(False, False, False, False), "no darkness"),
        (State(True, True, False, True), "skyline unknown"),
        (State(True, True, True, False), "moon while clear"),
        (State(True, False, True, False), "moon"),
    ],
)
def test_the_first_cause_is_named(state: State, found: str) -> None:
    asked: Any = SimpleNamespace(min_altitude_deg=5.0, horizon=None)
    assert outcome(state, asked, 40.0) == found
