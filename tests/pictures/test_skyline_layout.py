from __future__ import annotations

import datetime as dt
from itertools import pairwise

import numpy as np
import pytest

from backbearing.drawing.wall_clock import WallClock
from backbearing.pictures.skyline_layout import lay_out_skyline, step_deg

START = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)


def _path(azimuths, altitudes, minutes=10):
    return [
        (START + dt.timedelta(minutes=minutes * i), az, alt)
        for i, (az, alt) in enumerate(zip(azimuths, altitudes, strict=True))
    ]


def test_the_path_is_hidden_below_the_skyline_and_strong_in_the_dark():
    path = _path([160, 170, 180, 190, 200], [2.0, 8.0, 14.0, 8.0, 2.0])
    dark = [(START, START + dt.timedelta(minutes=25))]
    view = lay_out_skyline(np.arange(0.0, 360.0), np.full(360, 5.0), path, dark)
    parts = dict(zip(view.times, view.parts, strict=True))
    assert parts[START + dt.timedelta(minutes=4)] == "hidden"
    # 2 + 0.6 t reaches the skyline's 5 degrees at t = 5 min.
    assert parts[START + dt.timedelta(minutes=6)] == "dark"
    assert parts[START + dt.timedelta(minutes=25)] == "dark"
    assert parts[START + dt.timedelta(minutes=26)] == "bright"
    assert [run[0] for run in view.runs()] == ["hidden", "dark", "bright", "hidden"]
    assert view.at(START + dt.timedelta(minutes=15)) == pytest.approx((175.0, 11.0))
    assert view.at(START - dt.timedelta(minutes=1)) is None


def test_a_path_across_north_runs_on_and_takes_its_skyline_along():
    path = _path([350, 356, 2, 8], [10.0, 12.0, 12.0, 10.0])
    skyline = np.arange(360.0)
    view = lay_out_skyline(skyline, np.where(skyline < 180, 3.0, 6.0), path)
    assert np.all(np.diff(view.path_azimuths_deg) > 0)
    assert np.all(np.diff(view.azimuths_deg) > 0)
    at = lambda az: float(np.interp(az, view.azimuths_deg, view.altitudes_deg))  # noqa: E731
    assert at(355.0) == 6.0
    assert at(365.0) == 3.0


def test_unknown_skyline_is_neither_hidden_nor_clear():
    altitudes = np.full(360, 5.0)
    altitudes[175:186] = np.nan
    view = lay_out_skyline(np.arange(360.0), altitudes, _path([170, 180, 190], [10.0, 10.0, 10.0]))
    assert view.parts[0] == "bright"
    assert "unknown" in view.parts
    assert view.parts[-1] == "bright"


def test_a_path_by_the_zenith_leaves_a_gap():
    path = [(START, 100.0, 88.0), (START + dt.timedelta(seconds=30), 250.0, 88.0)]
    view = lay_out_skyline([], [], path)
    assert all(len(az) < 2 or np.ptp(az) < 60.0 for _, az, _ in view.runs())


def test_no_path_still_shows_the_skyline():
    view = lay_out_skyline(np.arange(0.0, 360.0, 5.0), np.full(72, 3.0), [])
    assert view.times == ()
    assert view.runs() == []
    assert len(view.azimuths_deg) == 72


def test_round_steps():
    assert step_deg(100.0, 7) == 15.0
    assert step_deg(360.0, 4) == 45.0


def test_clock_marks_are_round_and_steady_through_a_change_of_the_clock():
    clock = WallClock("America/New_York")
    first = dt.datetime(2027, 11, 7, 4, 40, tzinfo=dt.UTC)
    marks = list(clock.marks(first, first + dt.timedelta(hours=3), 30))
    assert [clock.hm(t) for t in marks] == [
        *("01:00 EDT", "01:30 EDT", "01:00 EST", "01:30 EST"),
        *("02:00", "02:30"),
    ]
    assert {b - a for a, b in pairwise(marks)} == {dt.timedelta(minutes=30)}
    assert clock.letters(marks[0]) == "EDT"
    assert clock.letters(marks[-1]) == "EST"


def test_clock_marks_are_round_where_the_zone_is_off_by_three_quarters():
    clock = WallClock("Asia/Kathmandu")
    first = dt.datetime(2027, 6, 5, 16, 1, 30, tzinfo=dt.UTC)
    marks = [clock.hm(t) for t in clock.marks(first, first + dt.timedelta(hours=1), 15)]
    assert marks == ["22:00", "22:15", "22:30", "22:45"]
