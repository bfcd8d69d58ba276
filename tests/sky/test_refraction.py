from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.sky.refraction import (
    TURNING_ALTITUDE_DEG,
    air_factor,
    apparent_altitude_deg,
    bending_deg,
    standard_atmosphere,
    true_altitude_deg,
)


@given(true=st.floats(-89.9, 89.9), factor=st.floats(0.0, 1.4))
def test_round_trip_closes(true: float, factor: float) -> None:
    seen = apparent_altitude_deg(true, factor)
    assert float(true_altitude_deg(seen, factor)) == pytest.approx(true, abs=1e-9)


def test_smooth_and_rising_through_the_horizontal() -> None:
    true = np.linspace(-6.0, 6.0, 120_001)
    seen = apparent_altitude_deg(true)
    slope = np.diff(seen) / np.diff(true)
    assert slope.min() > 0.75
    assert slope.max() < 1.0 + 1e-6
    assert np.abs(np.diff(slope)).max() < 2e-4  # no jump in the slope either


def test_bending_is_held_below_its_turning_point() -> None:
    most = float(bending_deg(TURNING_ALTITUDE_DEG))
    np.testing.assert_allclose(bending_deg([-1.7, -5.0, -40.0]), most)
    step = 1e-4
    just_above = float(bending_deg(TURNING_ALTITUDE_DEG + step))
    assert abs(just_above - most) / step < 1e-3


def test_no_air_no_bending() -> None:
    np.testing.assert_array_equal(apparent_altitude_deg([-3.0, 0.0, 40.0], 0.0), [-3.0, 0.0, 40.0])


def test_thin_air_bends_less() -> None:
    sea = air_factor(*standard_atmosphere(0.0))
    high = air_factor(*standard_atmosphere(3000.0))
    assert float(high) < 0.8 * float(sea)


def test_unknown_stays_unknown() -> None:
    assert np.isnan(apparent_altitude_deg([np.nan, 1.0])).tolist() == [True, False]
