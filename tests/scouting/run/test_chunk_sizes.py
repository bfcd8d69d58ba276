"""Into how many chunks candidates are cut."""

from __future__ import annotations

import pytest

from backbearing.scouting.run.run import chunk_of


@pytest.mark.parametrize("count", [24, 300, 2_000, 5_000])
def test_a_few_processes_all_have_work(count: int) -> None:
    size = chunk_of(count, None)
    assert -(-count // size) >= 2
    assert size <= 500


def test_hardly_any_are_not_cut() -> None:
    assert chunk_of(15, None) >= 15


def test_what_is_asked_counts() -> None:
    assert chunk_of(300, 500) == 500
    assert chunk_of(300, 0) == 1
