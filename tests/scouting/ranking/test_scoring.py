"""Parts of a score, each by hand."""

from __future__ import annotations

import numpy as np
import pytest

from backbearing.scouting.ranking.scoring import break_part, dark_part


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
