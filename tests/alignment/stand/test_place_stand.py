"""Putting the tripod down: tape, paces, bearings, and how far off it may be."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.stand.place_stand import place_stand
from backbearing.base.geodesy import point_along
from backbearing.base.grouped import changed
from backbearing.plan.steps import step_between, step_words
from backbearing.sky import magnetic_declination

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.terrain import Elevation


def test_every_stand_can_be_found_from_the_subject(plan: Plan) -> None:
    for lens in plan.lenses:
        placing, stand = lens.placing, lens.stand
        assert placing is not None
        assert stand is not None
        end = point_along(
            lat=plan.subject.lat, lon=plan.subject.lon, azimuth_deg=placing.outward_deg,
            distance_m=stand.distance_m,
        )  # fmt: skip
        assert float(end.lat) == pytest.approx(stand.lat, abs=1e-9)
        assert float(end.lon) == pytest.approx(stand.lon, abs=1e-9)
        rise = plan.subject_ground_m - stand.ground_m
        assert placing.tape_m**2 == pytest.approx(stand.distance_m**2 + rise**2)
        assert placing.paces * placing.pace_m == pytest.approx(stand.distance_m)
        assert placing.pace_m == 0.74
        turn = magnetic_declination(
            lat=plan.subject.lat, lon=plan.subject.lon, height_m=plan.subject_ground_m,
            when=stand.time,
        )  # fmt: skip
        assert placing.inward_magnetic_deg == pytest.approx(stand.bearing_magnetic_deg)
        assert placing.magnetic_sigma_deg == turn.error_deg
        assert placing.magnetic_model.startswith("WMM2025, 2027-06-0")


def test_errors_add_up_as_stated(plan: Plan) -> None:
    for lens in plan.lenses:
        placing, stand = lens.placing, lens.stand
        assert placing is not None
        assert stand is not None
        common = placing.raster_along_m**2 + placing.model_along_m**2
        assert placing.by_gps.along_m**2 == pytest.approx(5.0**2 + common)
        assert placing.by_gps.across_m == 5.0
        tape = (0.01 * stand.distance_m) ** 2 + 0.1**2
        assert placing.by_tape.along_m**2 == pytest.approx(tape + common)
        needle = stand.distance_m * math.tan(
            math.radians(math.hypot(2.0, placing.magnetic_sigma_deg))
        )
        assert placing.by_tape.across_m == pytest.approx(math.hypot(needle, 0.1))
        # A marked focal length is good to two percent, lining up by eye to half a degree.
        assert placing.model_along_m == pytest.approx(0.02 * stand.distance_m)
        swept = stand.distance_m * math.tan(math.radians(0.5))
        assert placing.lined_up.across_m == pytest.approx(math.hypot(swept, 0.1))
        assert placing.lined_up.across_m < placing.by_tape.across_m < placing.by_gps.across_m
        paced = f"(within {0.05 * stand.distance_m:.1f} m)"
        assert any(paced in step for step in placing.instructions)
        assert placing.way == "tape and compass"
        assert (placing.along_m, placing.across_m) == (
            placing.by_tape.along_m, placing.by_tape.across_m,
        )  # fmt: skip


def test_the_rasters_part_is_what_a_tilted_raster_does(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    # Tilt the ground by drawing heights' errors: the spread of distances is the stated figure.
    scene = scene_of(outing, elevation)
    lens = plan.lenses[-1]
    assert lens.stand is not None
    assert lens.placing is not None
    cell = elevation.cell_size_m
    sigma = math.sqrt(2.0) * scene.vertical_sigma_m * lens.stand.distance_m / cell
    drop = scene.subject_ground_m - lens.stand.ground_m
    rng = np.random.default_rng(4)
    distances = [
        scene.with_drop(drop + error).level_distance_m(lens.lens)
        for error in rng.normal(0.0, sigma, 60)
    ]
    assert np.std(distances) == pytest.approx(lens.placing.raster_along_m, rel=0.35)


def test_a_measured_drop_leaves_no_error_of_the_raster(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    scene = scene_of(outing, elevation).with_drop(0.3)
    lens = plan.lenses[0]
    assert lens.stand is not None
    placing = place_stand(scene, lens.lens, lens.stand, zone=plan.zone)
    assert placing.raster_along_m == 0.0
    assert math.isnan(placing.paces)
    assert not any("paces" in step for step in placing.instructions)


def test_far_stands_are_left_to_the_receiver(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    scene = scene_of(outing, elevation)
    lens = plan.lenses[0]
    assert lens.stand is not None
    far = changed(lens.stand, distance_m=800.0)
    placing = place_stand(scene, lens.lens, far, zone=plan.zone)
    assert placing.way == "receiver"
    assert placing.across_m == 5.0


def test_after_the_magnetic_model_ends_only_true_bearings_are_given(
    plan: Plan, outing: Outing, elevation: Elevation
) -> None:
    scene = scene_of(outing, elevation)
    lens = plan.lenses[0]
    assert lens.stand is not None
    later = dataclasses.replace(lens.stand, time=lens.stand.time.replace(year=2031))
    placing = place_stand(scene, lens.lens, later, zone=plan.zone)
    assert placing.magnetic_model == ""
    assert math.isnan(placing.outward_magnetic_deg)
    assert placing.way == "receiver"
    assert "not known" in placing.instructions[0]
    assert not any("nan" in step for step in placing.instructions)


def test_instructions_need_no_receiver(plan: Plan) -> None:
    placing = plan.lenses[1].placing
    assert placing is not None
    said = " ".join(placing.instructions)
    for word in ("tape", "paces", "true", "by compass", "WMM2025", "step left", "over its top"):
        assert word in said
    assert "safe" not in said


@pytest.mark.parametrize(
    ("azimuth", "left", "back"),
    [(0.0, 0.0, -2.0), (180.0, 0.0, 2.0), (270.0, 2.0, 0.0), (90.0, -2.0, 0.0)],
)
def test_steps_as_one_faces_north(azimuth: float, left: float, back: float) -> None:
    end = point_along(lat=50.0, lon=8.0, azimuth_deg=azimuth, distance_m=2.0)
    found = step_between(
        lat1=50.0, lon1=8.0, bearing_deg=0.0, lat2=float(end.lat), lon2=float(end.lon)
    )
    assert found == pytest.approx((left, back), abs=1e-6)


def test_step_words() -> None:
    assert step_words(1.31, 0.0) == "step 1.3 m left, facing the subject"
    assert step_words(-0.5, -2.0) == "step 0.5 m right and 2.0 m forward, facing the subject"
    assert step_words(0.01, 0.02) == "stay where you are"
    assert step_words(math.nan, math.nan) == "no stand"


@pytest.mark.parametrize(
    ("left_m", "back_m", "said"),
    [
        (0.049, -0.049, "stay where you are"),
        (0.051, 0.0, "step 0.1 m left, facing the subject"),
        (0.0, -0.051, "step 0.1 m forward, facing the subject"),
    ],
)
def test_steps_from_five_centimetres_on_are_worth_a_word(
    left_m: float, back_m: float, said: str
) -> None:
    assert step_words(left_m, back_m) == said
