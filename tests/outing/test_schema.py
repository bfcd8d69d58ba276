"""Every bound of the outing file's numbers: the last that is taken, the first that is not."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from pydantic import ValidationError

from backbearing.outing.schema import OutingShape

PLAIN: dict[str, Any] = {
    "format": 1,
    "ground": {"elevation": "dem.tif"},
    "subject": {"lat": 36.0, "lon": -84.0, "height_m": 6.0},
    "night": {"evening": dt.date(2027, 6, 5)},
    "camera": {"sensor_format": "135", "width_px": 6000},
    "lens": [{"focal_length_mm": 35.0}],
}
TURN = ("walk_minutes", "setup_minutes", "focus_minutes")
PICTURE = ("above_top_costs", "ridge_costs", "skyline_break_costs", "alike_costs")
WANTED = ("above_top", "skyline_break")
WEIGHTS = (
    "dark", "altitude", "skyline_break", "isolation", "ground", "walk", "town_glow", "sky",
)  # fmt: skip

# Section and key; the numbers taken; the numbers refused.
BOUNDS: list[tuple[str, list[float], list[float]]] = [
    ("ground.vertical_sigma_m", [0.01], [0.0, -1.0]),
    (
        "ground.canopy_m",
        [0.0, 120.0],
        [-0.1, 120.1],
    ),  # the tallest tree, Hyperion, was 115.54 m in 2006 (guinnessworldrecords.com)
    ("ground.clearing_m", [0.0, 9_999.0], [-0.1]),
    ("ground.refraction_k", [-1.0, 0.99], [-1.01, 1.0]),  # at 1 light would go round the Earth
    ("ground.reach_m", [1.0, 500_000.0], [0.0, 500_001.0]),
    ("night.sun_below_deg", [-90.0, 0.0], [-90.1, 0.1]),
    ("night.moon", [0.0, 1.0], [-0.01, 1.01]),
    ("night.moon_adds_mag", [0.0, 10.0], [-0.1, 10.1]),
    ("night.clear_by_deg", [-10.0, 90.0], [-10.1, 90.1]),
    ("camera.accepted_trail_px", [0.01], [0.0]),
    ("camera.accepted_blur_px", [0.01], [0.0]),
    ("camera.panorama_overlap", [0.0, 0.89], [-0.01, 0.9]),
    ("lens.share", [0.01, 0.99], [0.0, 1.0]),
    *((f"lens.{key}", [0.0, 600.0], [-0.1, 600.1]) for key in TURN),
    ("lens.frames_minutes", [0.1, 600.0], [0.0, 600.1]),
    *((f"session.{key}", [0.0, 600.0], [-0.1, 600.1]) for key in (*TURN, "room_minutes")),
    ("session.frames_minutes", [0.1, 600.0], [0.0, 600.1]),
    ("session.wait_costs_m", [0.0, 1_000.0], [-0.1, 1_000.1]),
    *((f"session.{key}_m_per_deg", [0.0, 1_000.0], [-0.1, 1_000.1]) for key in PICTURE),
    *((f"session.{key}_wanted_deg", [-89.9, 89.9], [-90.0, 90.0]) for key in WANTED),
    ("session.line_change_minutes", [0.0, 600.0], [-0.1, 600.1]),
    ("session.pace_m", [0.2, 2.0], [0.19, 2.01]),
    ("session.night_factor", [1.0, 10.0], [0.99, 10.1]),
    ("session.light_width_m", [0.01, 20.0], [0.0, 20.1]),
    ("session.light_height_m", [0.01, 50.0], [0.0, 50.1]),
    ("session.light_reach_m", [5.0, 500.0], [4.9, 501.0]),
    ("session.person_height_m", [0.1, 3.0], [0.0, 3.1]),
    ("scouting.nights", [1, 732], [0, 733]),
    ("scouting.least_minutes", [0.1, 1_440.0], [0.0, 1_440.1]),  # a day
    ("scouting.longest_walk_m", [0.1, 50_000.0], [0.0, 50_001.0]),
    ("scouting.steepest_deg", [0.1, 60.0], [0.0, 60.1]),
    *((f"scouting.{key}", [0.0, 1_000.0], [-0.1, 1_000.1]) for key in WEIGHTS),
    ("exposure.iso", [0.1], [0.0]),
    ("exposure.sky_mag_arcsec2", [10.0, 24.0], [9.9, 24.1]),
    ("exposure.core_mag_arcsec2", [10.0, 24.0], [9.9, 24.1]),
    ("exposure.frames", [1], [0]),
    ("exposure.gain", [0.01], [0.0]),
    ("exposure.pause_s", [0.0], [-0.1]),
    ("subject.height_sigma_m", [0.0, 0.9], [-0.1, 1_000.1]),
    ("subject.width_sigma_m", [0.0, 0.9], [-0.1, 10_000.1]),
    ("safety.position_sigma_m", [0.01], [0.0]),
]


def read(where: str, value: Any) -> OutingShape:
    section, key = where.split(".")
    if section == "lens":
        return OutingShape.model_validate({**PLAIN, "lens": [{**PLAIN["lens"][0], key: value}]})
    return OutingShape.model_validate({**PLAIN, section: {**PLAIN.get(section, {}), key: value}})


@pytest.mark.parametrize(("where", "taken", "refused"), BOUNDS)
def test_numbers_are_taken_up_to_their_bounds(
    where: str, taken: list[float], refused: list[float]
) -> None:
    for value in taken:
        read(where, value)
    for value in refused:
        with pytest.raises(ValidationError, match=where.split(".")[1]):
            read(where, value)


@pytest.mark.parametrize("minutes", [0.0, 600.1])
def test_breaks_and_late_minutes_have_the_bounds_of_frames(minutes: float) -> None:
    read("session.breaks", [{"at": "01:00", "minutes": 0.1}, {"at": "02:00", "minutes": 600.0}])
    with pytest.raises(ValidationError, match="minutes"):
        read("session.breaks", [{"at": "01:00", "minutes": minutes}])
    read("session.late_minutes", [0.1, 600.0])
    with pytest.raises(ValidationError, match="late_minutes"):
        read("session.late_minutes", [minutes])


@pytest.mark.parametrize(
    ("where", "length"),
    [("camera.crop_px", 2), ("framing.target_box", 4)],
)
def test_lists_have_their_length(where: str, length: int) -> None:
    read(where, [1] * length)
    for other in (length - 1, length + 1):
        with pytest.raises(ValidationError, match=where.split(".")[1]):
            read(where, [1] * other)


def test_twelve_times_to_be_late_are_the_most() -> None:
    read("session.late_minutes", [10.0] * 12)
    with pytest.raises(ValidationError, match="late_minutes"):
        read("session.late_minutes", [10.0] * 13)
