"""Text for people: harmless on a terminal, right by the compass."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.text import compass_point, degrees, length, terminal_safe


@pytest.mark.slow
@given(st.text())
def test_no_control_character_reaches_the_terminal(text: str) -> None:
    shown = terminal_safe(text)
    assert not any(
        ord(c) < 0x20 or 0x7F <= ord(c) < 0xA0 or c in "\u202e\u2066\u2028" for c in shown
    )


def test_escape_sequences_are_spelt_out() -> None:
    assert terminal_safe("\x1b[31mred") == "<U+001B>[31mred"
    assert terminal_safe("a\u202eb") == "a<U+202E>b"
    assert terminal_safe("שלום 🐄 café") == "שלום 🐄 café"


@pytest.mark.parametrize(
    ("azimuth", "point"),
    [
        (0, "N"),
        (11.2, "N"),
        (11.3, "NNE"),
        (90, "E"),
        (225, "SW"),
        (348.8, "N"),
        (-90, "W"),
        (720, "N"),
    ],
)
def test_compass_points(azimuth: float, point: str) -> None:
    assert compass_point(azimuth) == point


def test_lengths_and_angles() -> None:
    assert [length(v) for v in (8.34, 420.4, 5230.0, float("nan"))] == [
        "8.3 m", "420 m", "5.2 km", "unknown",
    ]  # fmt: skip
    assert degrees(-3.14) == "-3.1°"
    assert degrees(float("nan")) == "unknown"
