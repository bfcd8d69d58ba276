"""Sharing work among processes changes neither results nor errors."""

from __future__ import annotations

import os
from functools import partial

import pytest

from backbearing.base.errors import TerrainError
from backbearing.base.parallel import together


def square(i: int) -> tuple[int, int]:
    return i * i, os.getpid()


def fail() -> int:
    raise TerrainError("no ground here", lat=1.0)


@pytest.mark.parametrize("processes", [1, 2, 5])
def test_results_come_in_order(processes: int) -> None:
    found = together([partial(square, i) for i in range(5)], processes=processes)
    assert [value for value, _ in found] == [0, 1, 4, 9, 16]
    assert len({pid for _, pid in found}) <= processes


def test_an_error_comes_home_with_its_facts() -> None:
    with pytest.raises(TerrainError, match="no ground") as caught:
        together([partial(square, 1), fail], processes=2)  # type: ignore[list-item]
    assert caught.value.facts == {"lat": 1.0}
