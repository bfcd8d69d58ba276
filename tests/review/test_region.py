"""What a region's stars say together: how many it takes, and what the scatter can hide."""

from __future__ import annotations

import numpy as np
import pytest

from backbearing.review.region import RegionTrails, summarise


def region(q: np.ndarray) -> RegionTrails:
    """Trails by their squared lengths along twice their angles."""
    n = len(q)
    return summarise("centre", np.full(n, 0.5), np.full(n, 0.5), q, np.full(n, 1.2), None)


@pytest.mark.parametrize(("stars", "measured"), [(4, False), (5, True)])
def test_five_stars_are_the_fewest(stars: int, *, measured: bool) -> None:
    found = region(np.full(stars, 25.0 + 0.0j))
    assert found.measured is measured
    assert found.stars == stars
    if measured:
        assert found.length_px == pytest.approx(5.0)
        assert found.width_px == pytest.approx(2.3548 * 1.2)


def test_a_trail_within_three_errors_of_its_median_is_none() -> None:
    # Nine stars whose squared lengths scatter by -2.4 to 2.4 in steps of 0.6: the median of the
    # deviations is 1.2, so sigma is 1.4826 * 1.2 = 1.779; that of the median is 1.2533 times it
    # over the root of nine, 0.7433, and three of them are 2.230.
    steps = np.linspace(-2.4, 2.4, 9)
    hidden, seen = region(2.1 + steps + 0.0j), region(2.3 + steps + 0.0j)
    assert hidden.length_px == 0.0
    assert np.isnan(hidden.angle_deg)
    assert hidden.at_most_px == pytest.approx(np.sqrt(2.1 + 2.230), abs=1e-3)
    assert seen.length_px == pytest.approx(np.sqrt(2.3))
    assert seen.length_sigma_px == pytest.approx(0.7433 / (2.0 * np.sqrt(2.3)), abs=1e-4)


def test_stars_off_by_more_than_four_scatters_are_left_out() -> None:
    # The same nine: sigma 1.779 about 25. Four of them are 7.1.
    steps = np.linspace(-2.4, 2.4, 9)
    near = region(np.append(25.0 + steps, 25.0 + 6.5) + 0.0j)
    far = region(np.append(25.0 + steps, 25.0 + 9.5) + 0.0j)
    assert (near.stars, far.stars) == (10, 9)
