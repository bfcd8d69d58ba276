"""The grid of minutes on which a session's turns are sought."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest

from backbearing.alignment.session.tasks import grid_of
from backbearing.plan.stand import Span


def task(first: str, last: str, frames_minutes: float) -> Any:
    """As much of a lens's task as the grid asks for: its usable stretch and its frames."""
    day = dt.datetime(2027, 6, 6, tzinfo=dt.UTC)
    ends = [
        day + dt.timedelta(hours=int(clock[:2]), minutes=int(clock[3:5]), seconds=30)
        for clock in (first, last)
    ]
    return SimpleNamespace(
        night=SimpleNamespace(usable=(Span(*ends),)),
        minutes=SimpleNamespace(frames_minutes=frames_minutes),
    )


@pytest.mark.parametrize(
    ("frames_minutes", "first"),
    [
        (4.0, "03:56"),  # as long as the frames run
        (9.0, "03:51"),
        (30.0, "03:50"),  # but no more than ten minutes
    ],
)
def test_starts_are_sought_a_little_before_the_first_usable_minute(
    frames_minutes: float, first: str
) -> None:
    grid = grid_of([task("04:00", "05:00", frames_minutes), task("04:20", "05:30", 1.0)])
    assert f"{grid[0]:%H:%M:%S}" == f"{first}:00"
    assert f"{grid[-1]:%H:%M:%S}" == "05:30:00"
    assert {b - a for a, b in pairwise(grid)} == {dt.timedelta(minutes=1)}


def test_without_a_usable_minute_there_is_no_grid() -> None:
    none = SimpleNamespace(
        night=SimpleNamespace(usable=()), minutes=SimpleNamespace(frames_minutes=4.0)
    )
    assert grid_of([none]) == []
