"""Stretches, pieces, and ends closed in on: by hand and against scipy's roots."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from backbearing.base.intervals import closest_that_holds, pieces, stretches, zeros


@given(st.lists(st.booleans()))
def test_stretches_hold_all_that_is_true_and_nothing_else(flags: list[bool]) -> None:
    first, last = stretches(np.array(flags, dtype=np.bool_))
    again = [False] * len(flags)
    for a, b in zip(first.tolist(), last.tolist(), strict=True):
        again[a : b + 1] = [True] * (b + 1 - a)
    assert again == flags
    assert (first[1:] > last[:-1] + 1).all()


def test_no_stretch_leads_over_what_is_not_joined() -> None:
    holds = np.array([True, True, True, False, True, True])
    joined = np.array([True, False, True, True, False])
    first, last = stretches(holds, joined)
    assert first.tolist() == [0, 2, 4, 5]
    assert last.tolist() == [1, 2, 4, 5]


def test_pieces_are_cut_at_each_change_once() -> None:
    ends = np.array([0.0, 10.0, 20.0])
    start, end, middle = pieces(ends, np.array([-1.0, 0.0, 3.0, 25.0]), np.array([12.0, 3.0]))
    assert start.tolist() == [0.0, 3.0, 10.0, 12.0]
    assert end.tolist() == [3.0, 10.0, 12.0, 20.0]
    assert middle.tolist() == [1.5, 6.5, 11.0, 16.0]


def test_pieces_of_time_have_their_middle_between() -> None:
    noons = np.array(["2027-06-05T12:00", "2027-06-06T12:00"], dtype="datetime64[us]")
    start, end, middle = pieces(noons, noons[:1] + np.timedelta64(1, "us"))
    assert (start <= middle).all()
    assert (middle < end).all()
    assert middle[1].astype("datetime64[m]") == np.datetime64("2027-06-06T00:00")


@given(st.lists(st.tuples(st.floats(0.001, 0.999), st.booleans()), min_size=1, max_size=20))
def test_ends_close_in_from_either_side_and_stay_where_it_holds(
    brackets: list[tuple[float, bool]],
) -> None:
    edge = np.array([place for place, _ in brackets])
    below = np.array([side for _, side in brackets])
    found = closest_that_holds(
        lambda x: np.where(below, x <= edge, x >= edge),
        np.where(below, 0.0, 1.0),
        np.where(below, 1.0, 0.0),
        halvings=20,
    )
    assert (np.where(below, found <= edge, found >= edge)).all()
    assert np.abs(found - edge) == pytest.approx(0.0, abs=2.0**-20)


def test_a_bracket_without_width_stays_and_nothing_is_asked_of_nothing() -> None:
    same = np.array([3.0])
    assert closest_that_holds(lambda x: x < 0.0, same, same, halvings=5).tolist() == [3.0]
    none = np.empty(0, dtype="datetime64[us]")
    assert closest_that_holds(lambda _: 1 / 0, none, none, halvings=5).size == 0


def test_times_are_halved_to_the_microsecond() -> None:
    start = np.array(["2027-06-05T22:00"], dtype="datetime64[us]")
    edge = start + np.timedelta64(37_123_457, "us")
    found = closest_that_holds(
        lambda t: t <= edge, start, start + np.timedelta64(120, "s"), halvings=40
    )
    assert found.dtype == start.dtype
    assert abs((found - edge).astype(np.int64)[0]) <= 1


# scipy 1.12 optimize.brentq, another rule by other hands.
def test_zeros_are_those_of_brent() -> None:
    shift = np.linspace(-0.5, 0.5, 41)

    def f(x: np.ndarray) -> np.ndarray:
        return np.cos(x) - np.exp(-x) - shift * x**2 / 4.0

    low, high = np.full(41, 0.4), np.full(41, 2.6)
    found = zeros(f, low, high, f(low), f(high), near=np.full(41, 1e-12))
    expected = [
        brentq(lambda x, s=s: math.cos(x) - math.exp(-x) - s * x**2 / 4.0, 0.4, 2.6)
        for s in shift.tolist()
    ]
    assert found == pytest.approx(expected, abs=1e-9)


def test_a_zero_at_the_end_of_its_bracket_is_kept_within_it() -> None:
    one = np.array([0.0])
    found = zeros(lambda x: x - 1.0, one, one + 1.0, one - 1.0, one, near=one + 1e-9)
    assert found == pytest.approx(1.0, abs=1e-9)
    assert found <= 1.0
