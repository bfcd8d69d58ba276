"""Angles: whole turns taken off, unit vectors there and back, the angle between directions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.angles import (
    angle_between_deg,
    azimuth_altitude_of,
    azimuth_of,
    east_north_up,
    lon_lat_of,
    unit_vectors,
    wrap_180_deg,
    wrap_360_deg,
)

ANGLES = st.floats(-1e6, 1e6)
LON, LAT = st.floats(-180.0, 360.0), st.floats(-90.0, 90.0)


@given(ANGLES)
def test_wrapping_takes_off_whole_turns_and_stays_within(angle: float) -> None:
    round_, half = wrap_360_deg(angle), wrap_180_deg(angle)
    assert 0.0 <= round_ < 360.0
    assert -180.0 <= half < 180.0
    for found in (round_, half):
        assert (angle - found) / 360.0 == pytest.approx(round((angle - found) / 360.0), abs=1e-9)


@given(st.lists(ANGLES, min_size=1))
def test_an_array_is_wrapped_as_its_numbers_are(angles: list[float]) -> None:
    array = np.array(angles)
    assert wrap_360_deg(array).tolist() == [wrap_360_deg(a) for a in angles]
    assert wrap_180_deg(array).tolist() == [wrap_180_deg(a) for a in angles]


@pytest.mark.parametrize("angle", [-1e-17, np.float64(-1e-17), np.array(-1e-17), -5e-324])
def test_a_hair_below_nothing_is_nothing_and_no_full_turn(angle: float) -> None:
    assert wrap_360_deg(angle) == 0.0


def test_ends_of_the_circle() -> None:
    assert wrap_180_deg(180.0) == -180.0
    assert wrap_180_deg(-180.0) == -180.0
    assert wrap_360_deg(360.0) == wrap_360_deg(-720.0) == 0.0


def test_unknown_stays_unknown() -> None:
    assert math.isnan(wrap_360_deg(math.nan))
    assert math.isnan(wrap_180_deg(math.nan))
    assert np.isnan(wrap_360_deg(np.array([np.nan]))).all()
    assert np.isnan(azimuth_of(np.nan, 1.0))
    assert np.isnan(angle_between_deg(lon1_deg=0, lat1_deg=0, lon2_deg=np.nan, lat2_deg=0))


def test_the_compass_by_hand() -> None:
    east, north = np.array([0.0, 1.0, 0.0, -1.0, -1e-300]), np.array([1.0, 0.0, -1.0, 0.0, 1.0])
    assert azimuth_of(east, north).tolist() == [0.0, 90.0, 180.0, 270.0, 0.0]


@given(LON, st.floats(-89.9, 89.9))
def test_directions_come_back_from_their_vectors(lon: float, lat: float) -> None:
    back_lon, back_lat = lon_lat_of(unit_vectors(lon_deg=lon, lat_deg=lat))
    assert wrap_180_deg(float(back_lon) - lon) == pytest.approx(0.0, abs=1e-9)
    assert back_lat == pytest.approx(lat, abs=1e-9)
    azimuth, altitude = azimuth_altitude_of(*east_north_up(azimuth_deg=lon, altitude_deg=lat))
    assert wrap_180_deg(float(azimuth) - lon) == pytest.approx(0.0, abs=1e-9)
    assert altitude == pytest.approx(lat, abs=1e-9)


def test_axes_of_the_vectors() -> None:
    lon, lat = np.array([0.0, 90.0, 0.0]), np.array([0.0, 0.0, 90.0])
    np.testing.assert_allclose(unit_vectors(lon_deg=lon, lat_deg=lat), np.eye(3), atol=1e-15)
    # North, east and straight up, as columns.
    found = east_north_up(azimuth_deg=lon, altitude_deg=lat)
    np.testing.assert_allclose(found, [[0, 1, 0], [1, 0, 0], [0, 0, 1]], atol=1e-15)


@given(LON, LAT, LON, LAT)
def test_the_angle_between_agrees_with_that_of_the_vectors(
    lon1: float, lat1: float, lon2: float, lat2: float
) -> None:
    found = angle_between_deg(lon1_deg=lon1, lat1_deg=lat1, lon2_deg=lon2, lat2_deg=lat2)
    a, b = (unit_vectors(lon_deg=o, lat_deg=a) for o, a in ((lon1, lat1), (lon2, lat2)))
    by_chord = 2.0 * math.degrees(math.atan2(np.linalg.norm(a - b), np.linalg.norm(a + b)))
    assert float(found) == pytest.approx(by_chord, abs=2e-6)
    if by_chord < 90.0:
        assert float(found) == pytest.approx(by_chord, abs=1e-12)


def test_near_directions_keep_their_figures() -> None:
    # A thousandth of an arcsecond, where the cosine knows nothing any more.
    step = 1e-3 / 3600.0
    found = angle_between_deg(lon1_deg=10.0, lat1_deg=20.0, lon2_deg=10.0, lat2_deg=20.0 + step)
    assert float(found) == pytest.approx(step, rel=1e-6)
