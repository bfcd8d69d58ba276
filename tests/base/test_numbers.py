"""Every shown number: nothing that is none, and zero without a sign."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.numbers import num, per_cent, unsigned


@pytest.mark.parametrize(
    ("value", "places", "said"),
    [
        (8.25, 1, "8.2"),
        (-0.04, 1, "0.0"),
        (-0.4, 0, "0"),
        (-0.6, 0, "-1"),
        (-0.0, None, "0"),
        (12.5, None, "12.5"),
        (1e-9, 3, "0.000"),
        (math.nan, 1, "unknown"),
        (None, 1, "unknown"),
        (math.inf, 1, "no limit"),
        (-math.inf, None, "no limit"),
    ],
)
def test_numbers_as_they_are_shown(value: float | None, places: int | None, said: str) -> None:
    assert num(value, places) == said


def test_signs_and_shares() -> None:
    assert [num(v, 1, sign=True) for v in (2.0, -2.0, 0.0, -0.01)] == ["+2.0", "-2.0", "0.0", "0.0"]
    assert [per_cent(v) for v in (0.364, -0.001, math.nan, None)] == [
        "36%", "0%", "unknown", "unknown",
    ]  # fmt: skip
    assert math.copysign(1.0, unsigned(-0.0)) == 1.0
    assert unsigned(-2.5) == -2.5


@given(st.floats(), st.one_of(st.none(), st.integers(0, 6)), st.booleans())
def test_what_is_shown_is_a_number_or_a_word(value: float, places: int | None, sign: bool) -> None:
    said = num(value, places, sign=sign)
    assert "nan" not in said
    assert "inf" not in said
    if math.isfinite(value):
        assert float(said) == pytest.approx(
            value, rel=1e-5, abs=0.0 if places is None else 0.51 * 10.0**-places
        )
        assert not (float(said) == 0.0 and said.startswith(("-", "+")))
    else:
        assert said in ("unknown", "no limit")
