from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Transformer

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.drawing.mercator import (
    Box,
    blurred,
    lat_of,
    mercator_y,
)


def test_agrees_with_the_worked_example_of_epsg_1024():
    # IOGP Publication 373-7-2, section 1.3.3.2, example of method 1024: 24°22'54.433"N
    # 100°20'00.000"W is E -11 169 055.58 m, N 2 800 000.00 m.
    lat = 24 + 22 / 60 + 54.433 / 3600
    assert float(mercator_y(lat)) == pytest.approx(2_800_000.00, abs=0.02)
    assert np.radians(-(100 + 20 / 60)) * WEB_MERCATOR_RADIUS_M == pytest.approx(
        -11_169_055.58, abs=0.01
    )


@given(st.floats(-85.0, 85.0))
def test_agrees_with_proj_and_goes_there_and_back(lat):
    there = Transformer.from_crs("EPSG:4326", "EPSG:3857", always_xy=True)
    assert float(mercator_y(lat)) == pytest.approx(there.transform(0.0, lat)[1], abs=1e-6)
    assert float(lat_of(mercator_y(lat))) == pytest.approx(lat, abs=1e-9)


def test_blur_keeps_a_level_surface_and_its_mean_beside_holes():
    level = np.full((40, 50), 512.0, dtype=np.float32)
    np.testing.assert_allclose(blurred(level, 3.0), 512.0, rtol=1e-5)
    level[8:28, 10:40] = np.nan
    result = blurred(level, 2.0)
    assert np.nanmax(np.abs(result - 512.0)) < 0.01
    assert not np.isfinite(result[18, 25])


def test_boxes_cut_to_their_shared_part():
    assert Box(0, 0, 2, 2).cut(Box(1, 1, 3, 3)) == Box(1, 1, 2, 2)
    assert Box(0, 0, 1, 1).cut(Box(2, 0, 3, 1)) is None
