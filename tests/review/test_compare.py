"""Where a frame belongs: pointing beside the arc, lenses alike, settings as planned."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from star_fields import save

from backbearing.camera import Camera
from backbearing.review.compare import (
    Candidate,
    beside_plan,
    find_candidate,
    frame_camera,
    planned_turn,
)
from backbearing.review.exif import read_exif

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan


@pytest.mark.parametrize(("seconds", "from_arc"), [(90, True), (115, True), (125, False)])
def test_beyond_the_arc_the_pointing_is_taken_from_it_for_two_minutes(
    plan: Plan, found: tuple[Candidate, ...], seconds: int, *, from_arc: bool
) -> None:
    one = found[0]
    assert one.lens_plan.stand is not None
    last = [point for point in one.lens_plan.arc if math.isfinite(point.pitch_deg)][-1]
    turn = planned_turn(plan, one, last.time + dt.timedelta(seconds=seconds))
    assert turn.late_minutes > 0.0
    assert last.bearing_deg != pytest.approx(one.lens_plan.stand.bearing_deg, abs=0.1)
    expected = last.bearing_deg if from_arc else one.lens_plan.stand.bearing_deg
    assert turn.azimuth_deg == pytest.approx(expected, abs=1e-9)
    assert ("lens's arc" in turn.sentence) is from_arc


@pytest.mark.parametrize(
    ("off", "same"), [(1.04, True), (0.96, True), (1.06, False), (0.94, False)]
)
def test_a_focal_length_within_five_percent_is_the_lens(
    found: tuple[Candidate, ...], off: float, *, same: bool
) -> None:
    lens = found[0].lens_plan.lens
    chosen = find_candidate(found, off * lens.focal_length_mm, None)
    assert (chosen is not None and chosen.lens_plan.lens == lens) is same


@pytest.mark.parametrize(
    ("what", "off", "same"),
    [
        ("shutter", 1.09, True),  # a tenth
        ("shutter", 1.11, False),
        ("f-number", 1.05, True),  # six percent
        ("f-number", 1.07, False),
        ("ISO", 1.05, True),
        ("ISO", 1.07, False),
    ],
)
def test_settings_are_as_planned_within_their_rounding(
    found: tuple[Candidate, ...], tmp_path: Path, what: str, off: float, *, same: bool
) -> None:
    lens_plan = found[0].lens_plan
    settings: dict[str, Any] = {
        "shutter": lens_plan.shutter_s, "f-number": lens_plan.lens.f_number, "ISO": 3200.0,
    }  # fmt: skip
    settings[what] *= off
    exif = replace(
        read_exif(save(tmp_path / "a.jpg")),
        shutter_s=settings["shutter"], f_number=settings["f-number"], iso=settings["ISO"],
    )  # fmt: skip
    said = beside_plan(found[0], exif, lens_plan.lens.focal_length_mm, 3200.0)
    assert {one.what: one.as_planned for one in said}[what] is same


@pytest.mark.parametrize(("width_px", "whole"), [(6050, True), (6070, False)])
def test_a_picture_of_another_shape_by_a_hundredth_is_cropped(
    width_px: int, *, whole: bool
) -> None:
    camera, _ = frame_camera(Camera(36.0, 24.0, 6000, 4000), width_px, 4000)
    assert (camera is not None) is whole
