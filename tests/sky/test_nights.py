from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from backbearing.base.errors import SkyError
from backbearing.sky import night_events
from backbearing.sky.nights import (
    events_of_nights,
    lowest_sun_deg,
    moon_above,
    span_of_nights,
    sun_above,
    sun_altitude_deg,
)

VALLEY: dict[str, Any] = {"lat": 36.3, "lon": -84.2, "height_m": 400.0}


def span(**change: Any) -> Any:
    asked = {**VALLEY, "first_night": date(2027, 6, 12), "nights": 1, "tz": None, **change}
    return span_of_nights(**asked)


def test_an_ordinary_night_in_order() -> None:
    night = night_events(**VALLEY, evening=date(2027, 6, 12))
    times = [e.at for e in (night.sunset, night.dusk, night.dawn, night.sunrise)]
    assert all(t is not None for t in times)
    assert times == sorted(times, key=lambda t: t or datetime.max.replace(tzinfo=UTC))
    assert night.label == "12–13 June 2027"
    assert night.zone == "America/New_York"
    assert 0.0 <= night.moon_lit <= 1.0
    assert -32.0 < night.sun_lowest_deg < -29.0


def test_one_night_equals_the_same_night_in_a_year() -> None:
    year = events_of_nights(span(first_night=date(2027, 1, 1), nights=365))
    one = night_events(**VALLEY, evening=date(2027, 6, 12))
    other = year[(date(2027, 6, 12) - date(2027, 1, 1)).days]
    for name in ("sunset", "dusk", "dawn", "sunrise", "moonrise", "moonset"):
        a, b = getattr(one, name), getattr(other, name)
        assert a.kind == b.kind
        if a.at is not None:
            assert abs(a.at - b.at) < timedelta(milliseconds=2)


@pytest.mark.parametrize(
    ("lat", "evening", "sun", "dark"),
    [
        (78.0, date(2027, 6, 21), "always above", "always above"),
        (78.0, date(2027, 12, 21), "always below", "time"),
        (89.0, date(2027, 12, 21), "always below", "always below"),
        (55.0, date(2027, 6, 21), "time", "always above"),
    ],
)
def test_high_latitudes_are_typed(lat: float, evening: date, sun: str, dark: str) -> None:
    night = night_events(lat=lat, lon=15.0, evening=evening, tz="Etc/GMT-1")
    assert (night.sunset.kind, night.sunrise.kind) == (sun, sun)
    assert (night.dusk.kind, night.dawn.kind) == (dark, dark)
    assert (night.sunset.at is None) == (sun != "time")


def test_moon_above_all_day_in_the_arctic_winter() -> None:
    night = night_events(lat=78.0, lon=15.0, evening=date(2026, 12, 23))
    assert night.moonrise.kind == night.moonset.kind == "always above"
    assert str(night.moonrise) == "above all night"


def test_moon_that_sets_but_does_not_rise_this_night() -> None:
    kinds = {
        (n.moonrise.kind, n.moonset.kind)
        for n in events_of_nights(span(first_night=date(2027, 1, 1), nights=60))
    }
    assert ("none", "time") in kinds or ("time", "none") in kinds
    assert ("time", "time") in kinds


def test_noons_follow_the_clock_through_daylight_saving() -> None:
    hours = np.diff(span(first_night=date(2027, 3, 12), nights=3).noons) / np.timedelta64(1, "h")
    assert hours.tolist() == [24.0, 23.0, 24.0]


def test_polar_day_ends_are_not_missed_between_samples() -> None:
    # The first and last sunsets of a polar summer are grazes; ten-second samples are the judge.
    here = span(lat=70.0, lon=25.0, first_night=date(2027, 5, 12), nights=8, tz="Etc/GMT-2")
    found = sun_above(here, -50.0 / 60.0).utc
    fine = here.noons[0] + np.arange(8 * 8640) * np.timedelta64(10, "s")
    up = sun_altitude_deg(here.site, fine) >= -50.0 / 60.0
    brute = fine[1:][up[1:] != up[:-1]]
    inside = found[(found > fine[0]) & (found < fine[-1])]
    assert inside.size == brute.size > 0
    assert np.abs(inside - brute).max() <= np.timedelta64(10, "s")


def test_moon_toggles_match_dense_samples() -> None:
    from backbearing.sky.nights import MOON_LIMB_ALTITUDE_DEG, moon_limb_deg

    here = span(lat=66.0, lon=25.0, first_night=date(2027, 1, 1), nights=40, tz="Etc/GMT-2")
    fine = here.noons[0] + np.arange(40 * 2880) * np.timedelta64(30, "s")
    up = moon_limb_deg(here.site, fine) >= MOON_LIMB_ALTITUDE_DEG
    brute = fine[1:][up[1:] != up[:-1]]
    found = moon_above(here).utc
    inside = found[(found > fine[0]) & (found < fine[-1])]
    assert inside.size == brute.size
    assert np.abs(inside - brute).max() <= np.timedelta64(30, "s")


def test_lowest_sun_is_the_lowest_of_its_own_night() -> None:
    here = span(first_night=date(2027, 6, 12), nights=2)
    fine = here.noons[0] + np.arange(1440) * np.timedelta64(60, "s")
    assert lowest_sun_deg(here)[0] == pytest.approx(
        sun_altitude_deg(here.site, fine).min(), abs=0.05
    )


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"nights": 0}, "whole number from 1"),
        ({"lat": -112.0}, "may be swapped"),
        ({"lat": float("nan")}, "is not a place"),
        ({"tz": "Nowhere/At_All"}, "there is no time zone"),
        ({"first_night": date(9999, 12, 31)}, "leave the calendar"),
    ],
)
def test_bad_spans(change: dict[str, Any], says: str) -> None:
    with pytest.raises(SkyError, match=says):
        span(**change)


def test_dates_outside_the_ephemeris() -> None:
    with pytest.raises(SkyError, match="outside the ephemeris"):
        night_events(**VALLEY, evening=date(2060, 1, 1))
