"""The clear ground of a page: few cells look along rays of their own, many are swept."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from affine import Affine

from backbearing.alignment.ridge import foreground
from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    import pytest

    from backbearing.alignment import Plan

CELL_M = 50.0
PLACE = Affine(CELL_M, 0.0, 500_000.0, 0.0, -CELL_M, 4_000_000.0)
SIDE = 81
MIDDLE = 40


def hidden_by_void(walls: dict[int, float], void_rows: tuple[int, int]) -> bool:
    """Look north from the middle of flat ground at 100 m, over walls and a void across."""
    heights = np.full((SIDE, SIDE), 100.0)
    for row, height_m in walls.items():
        heights[row] = height_m
    heights[slice(*void_rows)] = np.nan
    elevation = Elevation.from_array(heights, PLACE, "EPSG:32616")
    here = elevation.grid.places(row=float(MIDDLE), col=float(MIDDLE))
    seen = elevation.skylines(
        lat=here.lat, lon=here.lon, azimuths_deg=0.0, eye_height_m=1.5, max_distance_m=1_900.0
    )
    (could,) = foreground._void_could_hide_more(seen).tolist()
    return bool(could)


def test_a_void_that_could_stand_higher_makes_a_ray_unknown() -> None:
    # A wall of 130 m behind the eye's back is what the void might hold, 700 m ahead.
    assert hidden_by_void({70: 130.0}, (20, 26))


def test_a_void_behind_what_hides_more_does_not() -> None:
    # 200 m stand 250 m ahead; as much in the void 700 m ahead would look lower.
    assert not hidden_by_void({35: 200.0}, (20, 26))


def test_ground_that_is_known_is_not_unknown() -> None:
    assert not hidden_by_void({70: 130.0}, (0, 0))


def test_each_cell_agrees_with_the_sweep(
    plan: Plan, elevation: Elevation, monkeypatch: pytest.MonkeyPatch
) -> None:
    each = clear_ground(plan, elevation)
    monkeypatch.setattr(foreground, "FEW_RAYS", 0)
    swept = clear_ground(plan, elevation)
    assert [one.lenses for one in each] == [one.lenses for one in swept]
    for one, other in zip(each, swept, strict=True):
        known = np.isfinite(one.margin_deg)
        assert known.mean() > 0.99
        assert (known == np.isfinite(other.margin_deg)).mean() > 0.999
        off = np.abs(one.margin_deg - other.margin_deg)[known & np.isfinite(other.margin_deg)]
        # The sweep is too low by 0.05 degree or less at 99 of 100 cells (`horizon_map`).
        assert np.percentile(off, 99.0) < 0.05
