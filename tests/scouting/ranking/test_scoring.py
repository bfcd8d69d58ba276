"""Parts of a score, each by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from backbearing.scouting.ranking._drop_kernels import falls_and_levels
from backbearing.scouting.ranking.scoring import break_part, dark_part, parts_of


@pytest.mark.parametrize(
    ("height_m", "share", "part"),
    [
        (8.0, 0.8, 1.0),  # level ground hides 1.6 of 8 m: all of the rest shows
        (8.0, 0.4, 0.5),
        (1.7, 0.05, 0.5),  # level ground would leave 6 percent: a tenth is asked for
        (1.7, 0.1, 1.0),
        (1.0, 0.02, 0.2),  # lower than the eye
    ],
)
def test_the_part_against_the_sky_is_that_of_level_ground_and_at_least_a_tenth(
    height_m: float, share: float, part: float
) -> None:
    found = break_part(np.array([share]), height_m=np.array([height_m]), eye_height_m=1.6)
    assert found == pytest.approx([part])


def test_the_dark_part_is_the_ten_best_nights_over_two_hours_each() -> None:
    minutes = np.zeros((3, 14), dtype=np.uint16)
    minutes[0, :5] = 120  # five full nights of the ten that count
    minutes[1] = 60  # every night half
    minutes[2, :10] = 300  # no night counts for more than one
    assert dark_part(minutes) == pytest.approx([0.5, 0.5, 1.0])
    few = np.array([[120, 0, 60]], dtype=np.uint16)
    assert dark_part(few) == pytest.approx([0.5])  # fewer nights than ten: all of them


def parts(**facts: Any) -> dict[str, float]:
    """Parts of one candidate with a stand, from what is found there."""
    one = {
        "slope_deg": 0.0, "feasible_share": 1.0, "metres": 0.0, "glow_mag": 0.0,
        "zenith_mag": 22.0, "air_mag": 0.0, "behind_mag": 22.0, "load": 0.0,
        "longest_walk_m": 2000.0, **facts,
    }  # fmt: skip
    found: Any = SimpleNamespace(
        best=SimpleNamespace(
            lat=np.array([36.0]), top_altitude_deg=np.array([8.0]), base_altitude_deg=np.zeros(1)
        ),
        ground=SimpleNamespace(slope_deg=np.array([one["slope_deg"]])),
        feasible_share=np.array([one["feasible_share"]]),
        way=SimpleNamespace(metres=np.array([one["metres"]])),
        sky=SimpleNamespace(
            **{
                name: np.array([one[name]])
                for name in ("glow_mag", "zenith_mag", "air_mag", "behind_mag")
            }
        ),
        clutter=SimpleNamespace(load=np.array([one["load"]])),
        break_deg=np.array([4.0]),
        night_minutes=np.full((1, 12), 90, dtype=np.uint16),
    )
    task: Any = SimpleNamespace(
        request=SimpleNamespace(steepest_deg=25.0, longest_walk_m=one["longest_walk_m"]),
        framing=SimpleNamespace(eye_height_m=1.6),
    )
    group: Any = SimpleNamespace(height_m=np.array([8.0]))
    tallied: Any = SimpleNamespace(best_fit=np.array([[0.5, np.nan]]))
    return {name: float(v[0]) for name, v in parts_of(task, group, tallied, found).items()}


@pytest.mark.parametrize(
    ("part", "facts", "figure"),
    [
        ("dark", {}, 0.75),  # 90 of 120 minutes
        ("altitude", {}, 0.25),  # the mean over two lenses, one of which has no minute
        ("skyline_break", {}, 0.625),  # half of it, where level ground would leave 4/5
        ("isolation", {"load": 3.0}, 0.25),
        ("ground", {"slope_deg": 5.0}, 1.0),  # five degrees count as level
        ("ground", {"slope_deg": 15.0}, 0.75),  # halfway from there to the steepest of 25
        ("ground", {"slope_deg": 30.0, "feasible_share": 0.5}, 0.25),
        ("walk", {"metres": 500.0}, 0.75),
        ("walk", {"metres": 3000.0}, 0.0),
        ("town_glow", {"glow_mag": 0.3}, 0.7),  # a magnitude counts nothing
        ("town_glow", {"glow_mag": 1.2}, 0.0),
        ("sky", {"zenith_mag": 22.0}, 1.0),  # a natural dark sky, Falchi 2016
        ("sky", {"zenith_mag": 21.0}, 0.75),  # from 18 up
        ("sky", {"zenith_mag": 18.0}, 0.0),
        ("air", {}, 1.0),
        ("air", {"air_mag": 0.5}, 0.75),  # two magnitudes count nothing
        ("air", {"air_mag": 3.0}, 0.0),
        ("behind", {"behind_mag": 21.0}, 0.75),  # as the zenith, but behind the target
        ("behind", {"behind_mag": 17.0}, 0.0),
    ],
)
def test_parts_by_hand(part: str, facts: dict[str, float], figure: float) -> None:
    assert parts(**facts)[part] == pytest.approx(figure)


def test_without_any_walk_only_what_lies_at_the_way_counts() -> None:
    assert parts(longest_walk_m=0.0, metres=0.0)["walk"] == 1.0
    assert parts(longest_walk_m=0.0, metres=1.0)["walk"] == 0.0
    assert np.isnan(parts(longest_walk_m=0.0, metres=np.nan)["walk"])


def fall_of(heights: np.ndarray, *, least_slope: float, reach_m: float = 60.0) -> list[float]:
    """Largest fall, its length and the level pixels about the middle of 30 m cells."""
    found = np.empty(1), np.empty(1), np.empty(1, dtype=np.int64)
    middle = np.array([heights.shape[0] // 2 + 0.2])
    falls_and_levels(heights, middle, middle, 30.0, 30.0, reach_m, least_slope, *found)
    return [float(values[0]) for values in found]


def test_the_fall_near_a_stand_is_the_largest_steep_one() -> None:
    # Down the columns 12 m in 30 (21.8 degrees) at one step; across the rows 2 m each, so that
    # over the diagonal it is 14 m in 42.4 (18.3 degrees).
    rows, columns = np.mgrid[:21, :21]
    heights = 500.0 + 2.0 * columns - 12.0 * (rows > 10)
    assert fall_of(heights, least_slope=0.0)[:2] == pytest.approx([14.0, 42.426], abs=1e-3)
    steep = float(np.tan(np.radians(20.0)))
    # Level with the middle are its own column's pixels on its side of the step: four rows.
    assert fall_of(heights, least_slope=steep) == pytest.approx([12.0, 30.0, 4.0])
    assert np.isnan(fall_of(heights, least_slope=1.0)[0])
    assert np.isnan(fall_of(np.full((21, 21), np.nan), least_slope=0.0)[0])


@pytest.mark.parametrize(("row", "found"), [(13, True), (14, False)])
def test_falls_are_looked_for_one_cell_beyond_the_reach(row: int, *, found: bool) -> None:
    # Sixty metres are two cells, and the edge may lie in the third.
    heights = np.full((21, 21), 500.0)
    heights[row:] = 440.0
    assert (fall_of(heights, least_slope=0.0)[0] == 60.0) is found
