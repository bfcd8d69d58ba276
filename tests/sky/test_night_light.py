"""A night's light by the minute against the sky worked out for each moment."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from backbearing.sky import CORE
from backbearing.sky.luminance import sky_luminance
from backbearing.sky.moonlight import zenith_mag_for
from backbearing.sky.night_light import night_light

HERE = {"lat": -31.4, "lon": 148.9, "height_m": 400.0}
# A waning Moon of some 0.7 rises before midnight on this evening, and the core stands high.
EVENING = dt.date(2027, 6, 22)


@pytest.fixture(scope="module")
def night():
    return night_light(CORE, **HERE, evening=EVENING)


def moments(seconds):
    first = dt.datetime(2027, 6, 22, 8, 30, tzinfo=dt.UTC)
    return [first + dt.timedelta(minutes=m, seconds=seconds) for m in range(0, 12 * 60, 7)]


@pytest.mark.parametrize("dark", [(21.6, 21.6), (20.3, 19.8)])
@pytest.mark.parametrize(("seconds", "within"), [(0.0, 1e-4), (29.0, 0.01)])
def test_each_moment_has_its_own_light(night, dark, seconds, within):
    times = moments(seconds)
    assert night.covers(times)
    asked = {"dark_mag": dark[0], "core_mag": 20.5, "dark_zenith_mag": dark[1]}
    found = night.luminance(times, **asked)
    exact = sky_luminance(CORE, **HERE, times=times, **asked)
    for part in ("dark", "milky_way", "twilight", "moon"):
        own, theirs = getattr(found, part), getattr(exact, part)
        assert (np.isnan(own) == np.isnan(theirs)).all()
        known = np.isfinite(theirs)
        if part == "moon" and seconds:
            # Within the minutes of moonrise the light is not linear.
            known &= np.concatenate([[False], (exact.moon[:-1] > 0.0) & (exact.moon[1:] > 0.0)])
        assert own[known] == pytest.approx(theirs[known], rel=within, abs=1e-12)
    assert np.nanmax(exact.moon) > np.nanmax(exact.dark)
    assert np.nanmin(exact.moon) == 0.0


def test_stands_some_kilometres_away_see_the_same(night):
    times = moments(0.0)
    asked = {"dark_mag": 21.6, "core_mag": 20.5}
    found = night.luminance(times, **asked, dark_zenith_mag=21.6)
    there = sky_luminance(CORE, lat=-31.42, lon=148.92, height_m=400.0, times=times, **asked)
    known = np.isfinite(there.total) & ((there.moon == 0.0) | (there.moon > there.dark))
    assert found.total[known] == pytest.approx(there.total[known], rel=0.01)


def test_other_days_are_not_covered(night):
    assert not night.covers([dt.datetime(2027, 6, 24, 12, tzinfo=dt.UTC)])


def test_a_zenith_is_found_for_the_sky_at_the_target():
    from backbearing.sky.moonlight import dark_sky_nl, magnitude

    zenith = zenith_mag_for(20.0, [90.0, 30.0, 8.0])
    assert zenith[0] == pytest.approx(20.0)
    back = magnitude(dark_sky_nl(90.0 - np.array([90.0, 30.0, 8.0]), zenith_mag=zenith))
    assert back == pytest.approx(20.0)
