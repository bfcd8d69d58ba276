from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from backbearing.base.errors import SkyError
from backbearing.base.text import night_label
from backbearing.sky.zones import (
    at_clock,
    evening_of,
    local,
    local_noon,
    named_zone,
    resolve_zone,
    zone_at,
)

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("lat", "lon", "name"),
    [
        (36.3, -84.2, "America/New_York"),
        (-31.0, 149.0, "Australia/Sydney"),
        (27.7, 85.3, "Asia/Kathmandu"),
        (64.0, -19.0, "Atlantic/Reykjavik"),
        (36.0, 243.0, "America/Los_Angeles"),
    ],
)
def test_zone_of_a_place(lat: float, lon: float, name: str) -> None:
    assert str(zone_at(lat=lat, lon=lon)) == name


def test_zone_as_given_wins() -> None:
    assert str(resolve_zone("Asia/Tokyo", lat=36.0, lon=-84.0)) == "Asia/Tokyo"
    assert resolve_zone(UTC, lat=36.0, lon=-84.0) is UTC


@pytest.mark.parametrize("name", ["Mars/Base", "America", "", "../etc", "Europe/ London"])
def test_unknown_zone(name: str) -> None:
    with pytest.raises(SkyError, match="there is no time zone"):
        named_zone(name)


@pytest.mark.parametrize(
    ("evening", "label"),
    [
        (date(2027, 6, 12), "12–13 June 2027"),
        (date(2027, 6, 30), "30 June – 1 July 2027"),
        (date(2027, 12, 31), "31 December 2027 – 1 January 2028"),
        (date(2028, 2, 28), "28–29 February 2028"),
    ],
)
def test_night_has_both_dates(evening: date, label: str) -> None:
    assert night_label(evening) == label


def test_clock_before_noon_belongs_to_the_next_date() -> None:
    evening = date(2027, 6, 12)
    assert at_clock(evening, "23:40", NEW_YORK).isoformat() == "2027-06-12T23:40:00-04:00"
    assert at_clock(evening, "1:05", NEW_YORK).isoformat() == "2027-06-13T01:05:00-04:00"
    assert at_clock(evening, "12:00:30", NEW_YORK).isoformat() == "2027-06-12T12:00:30-04:00"
    assert at_clock(evening, "11:59", NEW_YORK).isoformat() == "2027-06-13T11:59:00-04:00"


def test_wall_time_that_the_clocks_skip() -> None:
    with pytest.raises(SkyError, match="02:30 does not exist on 14 March 2027"):
        at_clock(date(2027, 3, 13), "02:30", NEW_YORK)


def test_wall_time_that_happens_twice() -> None:
    evening = date(2027, 11, 6)
    with pytest.raises(SkyError, match=r'01:30 happens twice on 7 November 2027.*"01:30 first"'):
        at_clock(evening, "01:30", NEW_YORK)
    first = at_clock(evening, "01:30 first", NEW_YORK)
    second = at_clock(evening, "01:30 second", NEW_YORK)
    assert first.astimezone(UTC).isoformat() == "2027-11-07T05:30:00+00:00"
    assert second.astimezone(UTC).isoformat() == "2027-11-07T06:30:00+00:00"


def test_half_hour_daylight_saving() -> None:
    lord_howe = ZoneInfo("Australia/Lord_Howe")  # clocks go forward half an hour
    with pytest.raises(SkyError, match="02:15 does not exist"):
        at_clock(date(2027, 10, 2), "02:15", lord_howe)
    assert at_clock(date(2027, 10, 2), "02:30", lord_howe).hour == 2


@pytest.mark.parametrize("clock", ["24:00", "9.30", "22h15", "", "12:60", "noon", "01:30 third"])
def test_not_a_clock_time(clock: str) -> None:
    with pytest.raises(SkyError, match="not a time of day"):
        at_clock(date(2027, 6, 12), clock, NEW_YORK)


def test_local_and_evening() -> None:
    there = local(np.datetime64("2027-06-13T03:40"), NEW_YORK)
    assert there.isoformat() == "2027-06-12T23:40:00-04:00"
    assert evening_of(there, NEW_YORK) == date(2027, 6, 12)
    assert evening_of(datetime(2027, 6, 13, 15, 0, tzinfo=UTC), NEW_YORK) == date(2027, 6, 12)
    assert evening_of(datetime(2027, 6, 13, 16, 0, tzinfo=UTC), NEW_YORK) == date(2027, 6, 13)
    assert local_noon(date(2027, 3, 14), NEW_YORK).utcoffset() is not None
    with pytest.raises(SkyError, match="no time zone"):
        local(datetime(2027, 6, 13), NEW_YORK)  # noqa: DTZ001
