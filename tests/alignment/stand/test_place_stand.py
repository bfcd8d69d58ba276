"""Putting the tripod down: tape, paces, bearings, and how far off it may be."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import pytest
from affine import Affine

from backbearing.alignment.night.from_outing import scene_of
from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.stand.place_stand import _along_m, place_stand
from backbearing.alignment.stand.scene import ground_at_subject
from backbearing.alignment.stand.settled_stands import settle
from backbearing.alignment.stand.stands import find_stands, stand_at
from backbearing.base.geodesy import point_along
from backbearing.base.grouped import changed
from backbearing.camera.bodies_and_lenses import Camera, Lens
from backbearing.outing.subject import Framing, Subject
from backbearing.plan.steps import step_between, step_words
from backbearing.sky import magnetic_declination
from backbearing.sky.targets import CORE
from backbearing.terrain import Elevation
from correlated_errors import ErrorLaw, nearby_errors

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing

MOMENT = dt.datetime(2027, 6, 6, 5, 0, tzinfo=dt.UTC)


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
        assert placing.magnetic_model.startswith("WMM2025, 2027-05-29")


@pytest.mark.parametrize(
    ("north_m", "aside_m"), [((math.nan, math.nan), 4.0), ((3.0, math.nan), 5.0)]
)
def test_ground_that_gives_no_stand_to_one_side_is_passed_over(
    north_m: tuple[float, float], aside_m: float
) -> None:
    # Beside voids no stand may be found on ground read to the north; a mean of nothing warns.
    along = _along_m(np.array([1.0, 2.0, *north_m, 3.0, 5.0]))
    assert along == pytest.approx((1.5, aside_m))


def test_errors_add_up_as_stated(plan: Plan) -> None:
    for lens in plan.lenses:
        placing, stand = lens.placing, lens.stand
        assert placing is not None
        assert stand is not None
        common = placing.raster_along_m**2 + placing.model_along_m**2
        common += placing.coordinates_along_m**2
        # A receiver is 5 m off, and so are the subject's coordinates that it is told to leave.
        assert placing.by_gps.along_m**2 == pytest.approx(2 * 5.0**2 + common)
        assert placing.by_gps.across_m == pytest.approx(5.0 * math.sqrt(2.0))
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


CELL = 1.0 / 3600.0
FOCAL_MM = (24.0, 50.0, 85.0)


def knolls(errors_m: np.ndarray | float = 0.0) -> Elevation:
    """Rolling ground 900 m square on a raster of some 30 m, with errors."""
    row, col = np.mgrid[0:31, 0:31]
    heights = 300.0 + 2.0 * row + 9.0 * np.sin(row / 2.1) * np.cos(col / 2.7) + errors_m
    grid = Affine(CELL, 0.0, -84.36 - 15.5 * CELL, 0.0, -CELL, 36.37 + 15.5 * CELL)
    return Elevation.from_array(heights, grid, "EPSG:4326")


@pytest.fixture(scope="module")
def on_knolls(outing: Outing) -> tuple[Scene, list[Lens]]:
    """A subject among them, and lenses whose stands are near it and far."""
    subject = dataclasses.replace(outing.subject, lat=36.37002, lon=-84.36013)
    framing = dataclasses.replace(outing.framing, share=0.25)
    scene = scene_of(dataclasses.replace(outing, subject=subject, framing=framing), knolls())
    return scene, [dataclasses.replace(outing.lenses[0].lens, focal_length_mm=f) for f in FOCAL_MM]


def distance_m(scene: Scene, lens: Lens, elevation: Elevation, subject: Subject) -> float:
    """Distance of the stand by another raster, or another place of the subject."""
    ground = ground_at_subject(subject, elevation)
    other = dataclasses.replace(
        scene, subject=subject, subject_ground_m=ground, elevation=elevation
    )
    return float(settle(other, lens, [MOMENT]).places.distance_m[0])


def test_the_rasters_part_is_what_drawn_rasters_show(
    on_knolls: tuple[Scene, list[Lens]],
) -> None:
    # Errors that hold together as published: see tests/correlated_errors.py.
    scene, lenses = on_knolls
    assert scene.elevation is not None
    heights = scene.height_errors.over(scene.elevation.cell_size_m)
    law = ErrorLaw(
        heights.local_sigma_m, heights.local_range_m, heights.wide_sigma_m, heights.wide_range_m,
        heights.steep_local_sigma_m,
    )  # fmt: skip
    row, col = (v.ravel() * CELL * 111_000.0 for v in np.mgrid[0:31, 0:31])
    east = col * math.cos(math.radians(scene.subject.lat))
    drawn = nearby_errors(law, row, east, np.random.default_rng(4), 150)
    rasters = [knolls(one.reshape(31, 31)) for one in drawn]
    for lens in lenses:
        placing = place_stand(scene, lens, stand_at(scene, lens, MOMENT), zone="UTC")
        spread = np.std([distance_m(scene, lens, one, scene.subject) for one in rasters])
        assert placing.raster_along_m == pytest.approx(spread, rel=0.2)


def test_the_coordinates_part_is_what_other_coordinates_give(
    on_knolls: tuple[Scene, list[Lens]],
) -> None:
    scene, lenses = on_knolls
    assert scene.elevation is not None
    rng = np.random.default_rng(6)
    aside = rng.normal(0.0, scene.subject.position_sigma_m, (150, 2))
    there = point_along(
        lat=scene.subject.lat, lon=scene.subject.lon,
        azimuth_deg=np.degrees(np.arctan2(aside[:, 1], aside[:, 0])),
        distance_m=np.hypot(aside[:, 0], aside[:, 1]),
    )  # fmt: skip
    subjects = [
        dataclasses.replace(scene.subject, lat=float(lat), lon=float(lon))
        for lat, lon in zip(there.lat, there.lon, strict=True)
    ]
    for lens in lenses:
        placing = place_stand(scene, lens, stand_at(scene, lens, MOMENT), zone="UTC")
        spread = np.std([distance_m(scene, lens, scene.elevation, one) for one in subjects])
        assert placing.coordinates_along_m == pytest.approx(spread, rel=0.2)


def test_coordinates_that_are_known_add_nothing(on_knolls: tuple[Scene, list[Lens]]) -> None:
    scene, (lens, *_) = on_knolls
    sure = dataclasses.replace(
        scene, subject=dataclasses.replace(scene.subject, position_sigma_m=0.0)
    )
    placing = place_stand(sure, lens, stand_at(sure, lens, MOMENT), zone="UTC")
    assert placing.coordinates_along_m == pytest.approx(0.0, abs=1e-6)
    assert placing.by_gps.across_m == 5.0


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
    assert placing.across_m == pytest.approx(5.0 * math.sqrt(2.0))


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


@pytest.mark.parametrize("share_of", ["height", "width"])
def test_the_doubt_of_a_measured_size_moves_the_stand_as_said(
    share_of: Literal["height", "width"],
) -> None:
    # The stand is settled anew, on level ground, for a subject one standard deviation larger.
    subject = Subject(
        lat=36.37, lon=-84.36, height_m=8.0, width_m=6.0, height_sigma_m=0.4, width_sigma_m=0.3
    )
    framing, lens = Framing(share=0.3, share_of=share_of), Lens(focal_length_mm=35.0)
    near, far = (
        find_stands(one, CORE, MOMENT, Camera(), [lens], framing)[0].distance_m
        for one in (subject, replace(subject, height_m=8.4, width_m=6.3))
    )
    assert far - near == pytest.approx(subject.size_doubt(share_of) * near, rel=0.03)


def test_the_doubt_of_a_measured_size_is_in_the_plan(outing: Outing) -> None:
    subject = replace(outing.subject, height_sigma_m=0.1 * outing.subject.height_m)
    told = plan_night(replace(outing, subject=subject))
    for lens, plain in zip(told.lenses, plan_night(outing).lenses, strict=True):
        assert lens.placing is not None
        assert plain.placing is not None
        assert lens.stand == plain.stand
        assert lens.placing.size_along_m == pytest.approx(0.1 * lens.stand.distance_m)
        assert lens.placing.along_m == pytest.approx(
            math.hypot(plain.placing.by_tape.along_m, lens.placing.size_along_m), rel=1e-6
        )
