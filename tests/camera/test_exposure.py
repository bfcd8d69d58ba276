from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.base.errors import CameraError
from backbearing.camera import exact_f_number, exact_shutter_s, exposure_value, standard_shutter_s
from backbearing.camera.exposure import STANDARD_F_NUMBERS, STANDARD_SHUTTERS_S

if TYPE_CHECKING:
    from collections.abc import Callable


@pytest.mark.parametrize(
    ("longest", "standard"),
    [(6.7, 6.0), (10.0, 10.0), (math.inf, 30.0), (29.999, 25.0), (0.34, 0.3), (0.002, 1 / 500)],
)
def test_standard_shutter_is_the_longest_not_above(longest: float, standard: float) -> None:
    assert standard_shutter_s(longest) == standard


@given(longest=st.floats(1e-3, 1e4))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_no_standard_shutter_lies_between(longest: float) -> None:
    found = standard_shutter_s(longest)
    assert found <= longest * (1 + 1e-9)
    assert not [s for s in STANDARD_SHUTTERS_S if found < s <= longest]


def test_standard_shutter_is_unknown_below_the_series() -> None:
    found = standard_shutter_s(np.array([1e-5, np.nan, 5.5]))
    np.testing.assert_array_equal(found, [np.nan, np.nan, 5.0])
    with pytest.raises(CameraError, match="above 0"):
        standard_shutter_s(0.0)


@pytest.mark.parametrize(
    ("marked", "exact", "per_stop"),
    [(STANDARD_SHUTTERS_S, exact_shutter_s, 3), (STANDARD_F_NUMBERS, exact_f_number, 6)],
)
def test_marked_series_steps_by_thirds_of_a_stop(
    marked: tuple[float, ...], exact: Callable[[Any], Any], per_stop: int
) -> None:
    values = exact(np.array(marked))
    steps = np.abs(np.diff(np.log2(values))) * per_stop
    np.testing.assert_allclose(steps, 1.0, atol=1e-9)
    np.testing.assert_allclose(values, marked, rtol=0.07)


def test_exposure_value_counts_stops() -> None:
    assert exposure_value(1.0, 1.0) == 0.0
    assert exposure_value(4.0, 1.0) - exposure_value(2.0, 1.0) == 2.0
    assert exposure_value(2.0, 8.0) - exposure_value(2.0, 16.0) == 1.0
