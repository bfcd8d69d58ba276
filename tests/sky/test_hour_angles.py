from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from backbearing.base.constants import SIDEREAL_DAY_S
from backbearing.base.errors import SkyError
from backbearing.sky import CORE, Target, direction
from backbearing.sky.hour_angles import (
    altitude_passages,
    azimuth_passages,
    greatest_azimuth_deg,
    transits,
)

START, END = np.datetime64("2027-06-01", "us"), np.datetime64("2027-06-11", "us")
SPAN = {"start": START, "end": END}
TENTH = np.timedelta64(100_000, "us")


def wrapped(angle: object) -> np.ndarray:
    return (np.asarray(angle) + 180.0) % 360.0 - 180.0


@pytest.mark.slow
@given(
    lat=st.floats(-80, 80),
    lon=st.floats(-180, 180),
    azimuth=st.floats(0, 360),
    dec=st.floats(-80, 80),
)
def test_azimuth_is_met_within_a_tenth_of_a_second(
    lat: float, lon: float, azimuth: float, dec: float
) -> None:
    target = Target.radec(ra_deg=100.0, dec_deg=round(dec, 1))
    place = {"lat": lat, "lon": lon, "height_m": 900.0}
    found = azimuth_passages(target, **place, azimuth_deg=azimuth, **SPAN)
    assert ((found >= START) & (found < END)).all()
    assert found.size <= 2 * 11
    if found.size:
        before, _ = direction(target, **place, times=found - TENTH, refraction=False)
        after, _ = direction(target, **place, times=found + TENTH, refraction=False)
        here, _ = direction(target, **place, times=found, refraction=False)
        miss = np.abs(wrapped(here - azimuth))
        swing = np.maximum(np.abs(wrapped(before - here)), np.abs(wrapped(after - here)))
        assert (miss <= swing + 1e-9).all()


@pytest.mark.parametrize(("lat", "dec"), [(36.0, -29.0), (-20.0, -29.0), (50.0, 70.0), (10.0, 0.0)])
def test_no_passage_is_left_out(lat: float, dec: float) -> None:
    target = Target.radec(ra_deg=266.4, dec_deg=dec)
    minute = START + np.arange(10 * 1440 + 1) * np.timedelta64(60, "s")
    az, _ = direction(target, lat=lat, lon=30.0, times=minute, refraction=False)
    for azimuth in (20.0, 100.0, 130.0, 175.0, 200.0, 261.0, 350.0):
        side = wrapped(az - azimuth)
        crossed = (np.sign(side[1:]) != np.sign(side[:-1])) & (np.abs(side[1:]) < 90.0)
        found = azimuth_passages(target, lat=lat, lon=30.0, azimuth_deg=azimuth, **SPAN)
        assert found.size == crossed.sum()


def test_beyond_the_greatest_azimuth_there_is_nothing_and_at_it_two_meet() -> None:
    least, most = (float(v) for v in greatest_azimuth_deg(CORE, lat=-10.0, when=START))
    assert 90.0 < least < 180.0 < most < 270.0
    place = {"lat": -10.0, "lon": 30.0}
    assert azimuth_passages(CORE, **place, azimuth_deg=least - 0.01, **SPAN).size == 0
    inside = azimuth_passages(CORE, **place, azimuth_deg=least + 1e-4, **SPAN)
    assert inside.size in {19, 20, 21}
    gaps = np.diff(inside) / np.timedelta64(1, "s")
    assert (np.minimum(gaps, SIDEREAL_DAY_S - gaps) < 300.0).all()
    assert [float(v) for v in greatest_azimuth_deg(CORE, lat=50.0, when=START)] == [0.0, 360.0]


def test_many_places_at_once_equal_one_at_a_time() -> None:
    lat, lon = np.array([36.0, -20.0, -20.0]), np.array([-84.0, 30.0, 30.0])
    azimuth = np.array([190.0, 150.0, 10.0])
    many = azimuth_passages(CORE, lat=lat, lon=lon, azimuth_deg=azimuth, **SPAN)
    assert many.shape[0] == 3
    for i in range(3):
        one = azimuth_passages(CORE, lat=lat[i], lon=lon[i], azimuth_deg=azimuth[i], **SPAN)
        row = many[i][~np.isnat(many[i])]
        assert row.size == one.size
        assert (np.abs(row - one) <= np.timedelta64(2, "us")).all()


@pytest.mark.parametrize("refraction", [True, False])
def test_altitude_passages_rise_and_set_at_the_altitude(refraction: bool) -> None:
    place = {"lat": 36.3, "lon": -84.2, "height_m": 400.0}
    found = altitude_passages(CORE, **place, altitude_deg=12.0, **SPAN, refraction=refraction)
    assert found.rising.size == found.setting.size == 10
    assert str(found.always) == ""
    for when, sign in ((found.rising, 1.0), (found.setting, -1.0)):
        _, alt = direction(CORE, **place, times=when, refraction=refraction)
        _, later = direction(CORE, **place, times=when + TENTH, refraction=refraction)
        np.testing.assert_allclose(alt, 12.0, atol=0.0004)  # a tenth of a second
        assert (np.sign(later - alt) == sign).all()


def test_never_and_always_are_typed() -> None:
    found = altitude_passages(CORE, lat=[65.0, 36.0, -80.0], lon=0.0, **SPAN)
    assert found.always.tolist() == ["below", "", "above"]
    assert np.isnat(found.rising[0]).all()
    assert np.isnat(found.setting[2]).all()


def test_transit_is_due_south_and_highest() -> None:
    when = transits(CORE, lat=36.3, lon=-84.2, **SPAN)
    assert when.size == 10
    az, _ = direction(CORE, lat=36.3, lon=-84.2, times=when)
    np.testing.assert_allclose(az, 180.0, atol=0.001)


@pytest.mark.parametrize("name", ["moon", "sun", "venus"])
def test_bodies_are_met_too(name: str) -> None:
    body = Target.body(name)
    found = azimuth_passages(body, lat=36.3, lon=-84.2, azimuth_deg=200.0, **SPAN)
    assert found.size in {9, 10, 11}
    az, _ = direction(body, lat=36.3, lon=-84.2, times=found)
    np.testing.assert_allclose(az, 200.0, atol=1e-5)
    passed = altitude_passages(body, lat=36.3, lon=-84.2, altitude_deg=10.0, **SPAN)
    _, alt = direction(body, lat=36.3, lon=-84.2, times=passed.rising)
    np.testing.assert_allclose(alt, 10.0, atol=1e-5)
    assert str(altitude_passages(body, lat=89.9, lon=0.0, altitude_deg=80.0, **SPAN).always) == (
        "below"
    )


def test_bad_questions() -> None:
    with pytest.raises(SkyError, match="one place at a time"):
        azimuth_passages(Target.body("moon"), lat=[1.0, 2.0], lon=0.0, azimuth_deg=9.0, **SPAN)
    with pytest.raises(SkyError, match="not after its start"):
        azimuth_passages(CORE, lat=1.0, lon=0.0, azimuth_deg=9.0, start=END, end=START)
    with pytest.raises(SkyError, match="moves among the stars"):
        transits(Target.body("sun"), lat=1.0, lon=0.0, **SPAN)
