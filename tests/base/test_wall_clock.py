"""Clock times on the nights on which the clocks change."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from backbearing.base.wall_clock import clock_change, comes_twice, hm, letters, wall_hours

NEW_YORK, BERLIN = "America/New_York", "Europe/Berlin"
BACKZONE = ZoneInfo(NEW_YORK)
BACK = dt.datetime(2027, 11, 7, 6, 0, tzinfo=dt.UTC)
"""When New York's clocks go back from 02:00 EDT to 01:00 EST (tz database)."""


def utc(*parts: int) -> dt.datetime:
    return dt.datetime(*parts, tzinfo=dt.UTC)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("moment", "zone", "said"),
    [
        (utc(2027, 6, 6, 6, 12), NEW_YORK, "02:12"),
        (utc(2027, 11, 7, 4, 59), NEW_YORK, "00:59"),
        (utc(2027, 11, 7, 5, 30), NEW_YORK, "01:30 EDT"),
        (utc(2027, 11, 7, 6, 30), NEW_YORK, "01:30 EST"),
        (utc(2027, 11, 7, 7, 0), NEW_YORK, "02:00"),
        (utc(2027, 3, 14, 6, 59), NEW_YORK, "01:59"),
        (utc(2027, 3, 14, 7, 0), NEW_YORK, "03:00"),
        (utc(2027, 10, 31, 0, 29), BERLIN, "02:29 CEST"),
        (utc(2027, 10, 31, 1, 29), BERLIN, "02:29 CET"),
        (utc(2027, 4, 3, 14, 45), "Australia/Lord_Howe", "01:45 +11"),
        (utc(2027, 4, 3, 15, 15), "Australia/Lord_Howe", "01:45 +1030"),
    ],
)
def test_a_time_that_comes_twice_carries_its_letters(
    moment: dt.datetime, zone: str, said: str
) -> None:
    assert hm(moment, zone) == said


def test_every_minute_of_a_year_is_said_once() -> None:
    start = utc(2027, 1, 1)
    said = {
        f"{(t := start + dt.timedelta(minutes=i)).astimezone(BACKZONE):%Y-%m-%d} {hm(t, NEW_YORK)}"
        for i in range(365 * 1440)
    }
    assert len(said) == 365 * 1440


def test_wall_hours_follow_the_clock_on_the_wall() -> None:
    spring = dt.date(2027, 3, 13)
    assert wall_hours(utc(2027, 3, 14, 10, 24), NEW_YORK, spring) == pytest.approx(30.4)
    autumn = dt.date(2027, 11, 6)
    assert wall_hours(utc(2027, 11, 7, 11, 24), NEW_YORK, autumn) == pytest.approx(30.4)
    assert wall_hours(utc(2027, 6, 6, 5, 30), NEW_YORK, dt.date(2027, 6, 5)) == 25.5


def test_the_change_is_found_to_the_second() -> None:
    found, by = clock_change(BACK - dt.timedelta(hours=5), BACK + dt.timedelta(hours=2), NEW_YORK)
    assert found is not None
    assert abs(found - BACK) <= dt.timedelta(seconds=1)
    assert by == -1.0
    assert clock_change(BACK, BACK + dt.timedelta(hours=9), NEW_YORK) == (None, 0.0)


def test_letters_and_moments_in_their_own_zone() -> None:
    local = BACK.astimezone(BACKZONE)
    assert (letters(local), hm(local, seconds=True)) == ("EST", "01:00:00 EST")
    assert comes_twice(local)
    assert not comes_twice(BACK)
