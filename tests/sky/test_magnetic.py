from __future__ import annotations

from datetime import date, datetime
from math import isnan
from zoneinfo import ZoneInfo

import pytest

from backbearing.sky import magnetic_declination
from backbearing.sky.magnetic import decimal_year


@pytest.mark.parametrize("day", [date(2024, 12, 31), date(2030, 1, 1), date(2045, 6, 1)])
def test_outside_its_years_the_model_says_so(day: date) -> None:
    answer = magnetic_declination(lat=36.0, lon=-117.0, when=day)
    assert not answer.known
    assert isnan(answer.declination_deg)
    assert isnan(answer.error_deg)
    assert answer.compass == "unknown"
    assert "use true bearings" in answer.sentence


def test_known_declination_names_model_side_and_error() -> None:
    when = datetime(2026, 6, 14, 23, 0, tzinfo=ZoneInfo("America/Los_Angeles"))
    answer = magnetic_declination(lat=36.0, lon=-117.0, height_m=800.0, when=when)
    assert answer.known
    assert answer.compass == "good"
    assert "east of true north" in answer.sentence
    assert "WMM2025, 2026-06-14" in answer.sentence
    assert "west" in magnetic_declination(lat=64.0, lon=-19.0, when=date(2026, 6, 14)).sentence


def test_a_compass_fails_near_the_magnetic_pole() -> None:
    assert magnetic_declination(lat=85.8, lon=139.0, when=date(2026, 1, 1)).compass == "useless"
    assert magnetic_declination(lat=76.0, lon=-100.0, when=date(2026, 1, 1)).compass == "poor"


def test_both_ends_of_the_model_are_inside() -> None:
    assert magnetic_declination(lat=0.0, lon=0.0, when=date(2025, 1, 1)).known
    assert magnetic_declination(lat=0.0, lon=0.0, when=date(2029, 12, 31)).known


def test_decimal_year() -> None:
    assert decimal_year(date(2028, 1, 1)) == 2028.0
    assert decimal_year(date(2028, 7, 1)) == pytest.approx(2028 + 182 / 366)
