from __future__ import annotations

import math
from dataclasses import replace

import pytest

from backbearing.drawing import number_words
from backbearing.drawing.texts import Texts
from backbearing.drawing.wall_clock import WallClock
from backbearing.maps.page_text import page_text
from backbearing.sky import Target


def _rows(plan, number=0):
    turns = page_text(plan, WallClock(plan.zone), Texts())["turns"]
    return dict(next(turn["rows"] for turn in turns if turn["index"] == number))


def test_a_card_says_what_the_stand_says(plan):
    stand = plan.lenses[0].stand
    rows = _rows(plan)
    assert f"{stand.bearing_deg:.1f}°" in rows["Bearing to subject"]
    assert f"{stand.bearing_magnetic_deg:.1f}° magnetic" in rows["Bearing to subject"]
    assert "true" in rows["Bearing to subject"]
    assert f"{stand.clearance_deg:.1f}° ± " in rows["Core over skyline"]
    # What the true ridge's mean rise is may follow in brackets.
    assert rows["Core over skyline"].split(" (")[0].endswith(f": {stand.verdict}")
    assert f"{stand.lat:.6f}" in rows["Stand"]


def test_another_target_is_not_called_the_core(plan):
    rows = _rows(replace(plan, target=Target.body("moon")))
    assert "Target over skyline" in rows
    assert "Core over skyline" not in rows


def test_a_bearing_that_rounds_to_a_full_turn_reads_as_north():
    assert number_words.direction_words(359.97) == "0.0° N"
    assert number_words.direction_words(math.nan) == "unknown"


def test_southern_and_western_positions_carry_their_letters():
    assert number_words.position(-33.5, -70.25) == "33.500000°\u00a0S, 70.250000°\u00a0W"


def test_a_shutter_is_never_rounded_up():
    assert [number_words.seconds(v) for v in (2.59, 9.96, 14.9, math.nan)] == [
        "2.5 s",
        "9.9 s",
        "14 s",
        "unknown",
    ]


@pytest.mark.parametrize(
    ("value", "said"), [(0.31, "1.55 m to the left"), (-0.31, "1.55 m to the right")]
)
def test_the_swing_names_its_side(value, said):
    assert number_words.swing(value).startswith(said)


def test_a_subject_below_the_land_behind_is_said_to_be_below():
    assert "below" in number_words.skyline_break(-8.6)
    assert "above" in number_words.skyline_break(8.6)


def test_the_path_table_tells_hidden_from_clear(plan):
    rows = page_text(plan, WallClock(plan.zone), Texts())["path_rows"]
    said = {time: over for time, _, _, over in rows}
    assert "hidden by" in said["23:00"]
    assert said["02:00"].endswith("over")


def test_reference_systems_are_named_shortly():
    from pyproj import CRS

    assert number_words.crs_name(CRS.from_epsg(4326).to_wkt()) == "WGS 84 (EPSG:4326)"
    assert number_words.crs_name("no such thing") == "no such thing"
