"""What the raster shows round a stand that may hurt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.alignment import plan_night
from backbearing.alignment.stand.ground_cautions import ground_cautions
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing

CELL = 1 / 3600  # about 31 m north to south


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


def ground(heights: np.ndarray) -> Elevation:
    return Elevation.from_array(heights, Affine(CELL, 0, 10.0, 0, -CELL, 45.0), "EPSG:4326")


def rolling() -> np.ndarray:
    rows, columns = np.mgrid[:40, :40]
    return 500.0 + 0.37 * rows + 0.21 * columns


def at(row: float, column: float) -> dict[str, float]:
    return {"lat": 45.0 - (row + 0.5) * CELL, "lon": 10.0 + (column + 0.5) * CELL}


def test_a_cliff_nearby_is_said_with_its_side() -> None:
    heights = rolling()
    heights[:, 23:] -= 80.0
    (said,) = ground_cautions(ground(heights), **at(20, 21))
    assert "80 m" in said
    assert "E" in said
    assert "sharper" in said


def test_gentle_ground_says_nothing() -> None:
    assert ground_cautions(ground(rolling()), **at(20, 20)) == ()


def test_a_lake_is_said() -> None:
    heights = rolling()
    heights[5:19, 5:35] = 500.0
    said = ground_cautions(ground(heights), **at(20, 20))
    assert any("may be open water" in s and "N" in s for s in said)
    on_it = ground_cautions(ground(heights), **at(12, 20))
    assert any("stand lies on dead level" in s for s in on_it)


def test_the_edge_of_the_raster_is_not_safe_ground() -> None:
    said = ground_cautions(ground(rolling()), lat=50.0, lon=10.0)
    assert "not known" in said[0]


def test_ground_beyond_a_small_raster_could_hide_the_target(outing: Outing) -> None:
    # A raster of 4 km with one high top behind the eye: land as high beyond its edge could hide
    # the core, and the plan cannot know.
    heights = np.full((48, 48), 430.0)
    heights[2, 2] = 900.0
    small = Elevation.from_array(
        heights, Affine(1 / 1200, 0, -84.380, 0, -1 / 1200, 36.392), "EPSG:4326"
    )
    plan = plan_night(outing.with_lenses(outing.lenses[:1]), small, at="23:00")
    stand = plan.lenses[0].stand
    assert stand is not None
    (said,) = (c for c in stand.cautions if "could rise" in c)
    assert "900 m" in said


def test_the_sample_raster_is_large_enough(plan: Plan) -> None:
    for lens in plan.lenses:
        assert lens.stand is not None
        assert not any("could rise" in c for c in lens.stand.cautions)


@pytest.mark.parametrize(("rows", "said"), [(4, True), (5, False)])
def test_drops_are_looked_for_to_a_hundred_metres_and_a_cell(rows: int, *, said: bool) -> None:
    # A cell is 30.9 m from north to south: four are 123 m, and 131 m are looked over; five 154 m.
    heights = rolling()
    heights[: 20 - rows] -= 80.0
    found = ground_cautions(ground(heights), **at(20, 20))
    assert any("The ground falls" in s for s in found) is said


@pytest.mark.parametrize(
    ("fall_m", "cells_a_degree", "said"),
    [
        (4.6, 10_800, False),  # 24 degrees over 10.3 m, but under five metres
        (5.6, 10_800, True),  # 28 degrees
        (10.6, 3_600, False),  # 18.9 degrees over 30.9 m
        (11.9, 3_600, True),  # 21.1 degrees
    ],
)
def test_a_drop_is_five_metres_and_twenty_degrees(
    fall_m: float, cells_a_degree: int, *, said: bool
) -> None:
    cell = 1.0 / cells_a_degree
    heights = 500.0 + 0.01 * np.arange(60)[None, :] + np.zeros((60, 1))
    heights[:30] -= fall_m
    raster = Elevation.from_array(heights, Affine(cell, 0, 10.0, 0, -cell, 45.0), "EPSG:4326")
    found = ground_cautions(raster, lat=45.0 - 31.5 * cell, lon=10.0 + 30.5 * cell)
    assert any("The ground falls" in s for s in found) is said


@pytest.mark.parametrize(("row", "said"), [(17, True), (16, False)])
def test_level_ground_is_looked_for_to_a_hundred_metres(row: int, *, said: bool) -> None:
    # Three rows are 93 m, four 123 m.
    heights = rolling()
    heights[row - 6 : row + 1, 10:30] = 500.0
    found = ground_cautions(ground(heights), **at(20, 20))
    assert any("may be open water" in s for s in found) is said
