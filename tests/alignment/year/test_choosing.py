"""The rule for choosing nights, on tables small enough to work out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.alignment.year.choosing import Choice, MinuteTable, choose_nights


def chosen(minutes, owner, *, count=3, enough=60.0, one_subject=False) -> Choice:
    table = MinuteTable(np.array(minutes, dtype=float), np.array(owner, dtype=np.intp))
    return choose_nights(table, count=count, enough_minutes=enough, one_subject=one_subject)


def nights(choice: Choice) -> list[int]:
    return [one.night for one in choice.best]


def spares(choice: Choice) -> list[tuple[int, int | None]]:
    return [(one.night, one.instead_of) for one in choice.spare]


def test_one_lens_takes_its_longest_nights_until_it_has_enough() -> None:
    # 50 of 60 first, then the 10 that lack: nights 0, 2 and 3 give them all, night 2 the longest.
    found = chosen([[30], [50], [40], [20]], [0], count=2)
    assert nights(found) == [1, 2]
    assert [one.counted.sum() for one in found.best] == [50.0, 10.0]
    assert found.best[1].equals == (0, 3)
    # Instead of the first 30 would be the most of what is left; of the second, 20 gives 10 too.
    assert spares(found) == [(0, 1), (3, 2)]


def test_a_further_night_goes_to_the_subject_that_lacks_something() -> None:
    # Subject 0 is good in the first two nights, subject 1 only in the last, and worse.
    found = chosen([[90, 0], [80, 0], [0, 20]], [0, 1], count=2)
    assert nights(found) == [0, 2]
    assert found.best[0].counted.tolist() == [60.0, 0.0]
    assert found.best[1].counted.tolist() == [0.0, 20.0]


def test_subjects_weigh_alike_however_many_lenses_they_have() -> None:
    # Night 0: (60 + 60) / 2 = 60. Night 1: 60 for the one lens, and 30 / 2 more.
    found = chosen([[60, 60, 0], [30, 0, 60]], [0, 0, 1], count=1)
    assert nights(found) == [1]
    assert found.best[0].counted.tolist() == [15.0, 60.0]


def test_when_nobody_lacks_anything_all_begin_anew() -> None:
    found = chosen([[100], [90], [80], [70]], [0])
    assert nights(found) == [0, 1, 2]
    assert [one.counted.sum() for one in found.best] == [60.0, 60.0, 60.0]
    # One spare a night as far as nights reach: the fourth stands in for the first.
    assert spares(found) == [(3, 0)]


def test_less_than_a_minute_is_not_worth_a_night() -> None:
    # Night 0 leaves 0.5 of 60 lacking, which night 1 has: that is nothing, and all begin anew.
    found = chosen([[59.5], [0.5], [40]], [0], count=2)
    assert nights(found) == [0, 2]
    assert found.best[1].counted.tolist() == [40.0]
    # Where there is no better one, a night of half a minute is one all the same.
    assert nights(chosen([[0.5], [0.0]], [0])) == [0]


def test_of_equals_the_one_with_more_minutes_then_the_earlier() -> None:
    found = chosen([[70], [80], [80], [75]], [0], count=2)
    assert nights(found) == [1, 2]
    assert found.best[0].equals == (0, 2, 3)


def test_fewer_nights_than_wanted_and_none() -> None:
    assert nights(chosen([[0], [5], [0]], [0])) == [1]
    assert spares(chosen([[0], [5], [0]], [0])) == []
    assert chosen([[0], [0]], [0]) == Choice((), ())
    assert chosen(np.zeros((0, 1)), [0]) == Choice((), ())


def test_with_one_subject_a_night_helps_one_alone() -> None:
    # Both nights are good for both: the second goes to who got nothing of the first.
    both = [[60, 50], [40, 45]]
    together = chosen(both, [0, 1], count=2)
    assert [one.counted.tolist() for one in together.best] == [[60.0, 50.0], [0.0, 10.0]]
    alone = chosen(both, [0, 1], count=2, one_subject=True)
    assert [one.counted.tolist() for one in alone.best] == [[60.0, 0.0], [0.0, 45.0]]


@given(
    st.lists(st.lists(st.integers(0, 120), min_size=3, max_size=3), min_size=1, max_size=7),
    st.integers(1, 4),
)
def test_no_night_twice_and_the_first_is_the_best_of_all(minutes, count) -> None:
    found = chosen(minutes, [0, 0, 1], count=count)
    taken = [one.night for one in (*found.best, *found.spare)]
    assert len(taken) == len(set(taken))
    worth = [min(a, 60) / 2 + min(b, 60) / 2 + min(c, 60) for a, b, c in minutes]
    assert len(found.best) == min(count, sum(w > 0 for w in worth))
    if found.best:
        assert found.best[0].counted.sum() == pytest.approx(max(worth))
