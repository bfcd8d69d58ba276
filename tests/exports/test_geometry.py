"""Lines cut at the 180th meridian, arcs split into stretches."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.exports.geometry import cut_line, stretches, wrapped_lon

if TYPE_CHECKING:
    from backbearing.alignment import Plan

NEAR = st.floats(-2.0, 2.0).map(lambda off: ((off + 180.0 + 180.0) % 360.0) - 180.0)
ENDS = st.lists(st.tuples(NEAR, st.floats(-60.0, 60.0)), min_size=2, max_size=5, unique=True)


@given(ENDS)
def test_no_part_goes_round_the_world_and_none_is_lost(ends: list[tuple[float, float]]) -> None:
    line = cut_line(ends)
    parts = [list(part.coords) for part in getattr(line, "geoms", [line])]
    eastward = 0.0
    for part in parts:
        for (a, _), (b, _) in pairwise(part):
            assert abs(b - a) <= 4.0
            eastward += abs(b - a)
    wanted = sum(abs((b - a + 180.0) % 360.0 - 180.0) for (a, _), (b, _) in pairwise(ends))
    assert eastward == pytest.approx(wanted, abs=1e-9)
    for before, after in pairwise(parts):
        assert abs(before[-1][0]) == abs(after[0][0]) == 180.0
        assert before[-1][1] == after[0][1]


def test_a_line_away_from_the_meridian_stays_whole() -> None:
    assert list(cut_line([(170.0, 1.0), (-5.0, 2.0)]).coords) == [(170.0, 1.0), (-5.0, 2.0)]


def test_the_cut_lies_on_the_line() -> None:
    west, east = cut_line([(179.0, 10.0), (-178.0, 13.0)]).geoms
    assert list(west.coords) == [(179.0, 10.0), (180.0, pytest.approx(11.0))]
    assert list(east.coords) == [(-180.0, pytest.approx(11.0)), (-178.0, 13.0)]


def test_a_minute_without_a_stand_breaks_the_arc(plan: Plan) -> None:
    lens = plan.lenses[0]
    nowhere = replace(lens.arc[100], lat=float("nan"), lon=float("nan"))
    broken = replace(lens, arc=(*lens.arc[:100], nowhere, *lens.arc[101:]))
    parts = stretches(broken)
    gaps = [(a.end.time, b.start.time) for a, b in pairwise(parts) if a.end.time != b.start.time]
    assert gaps == [(lens.arc[99].time, lens.arc[101].time)]
    for part in parts:
        assert not part.line.is_empty


@pytest.mark.parametrize(
    ("lon", "written"), [(180.0, -180.0), (179.99999999, -180.0), (-180.0, -180.0), (12.5, 12.5)]
)
def test_longitudes_stay_below_180(lon: float, written: float) -> None:
    assert wrapped_lon(lon, 7) == written
