"""What each way to measure makes of its answers: readings with their doubts, then the formula."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import MeasureError
from backbearing.base.limits import shown
from backbearing.base.reading_errors import (
    CLINOMETER_SIGMA_DEG,
    COMPASS_SIGMA_DEG,
    MIDDLE_SIGMA_M,
    TAPE_SIGMA,
)
from backbearing.measuring.bearings import POINT_SIGMA_M, Sighting, place_by_bearings, true_bearing
from backbearing.measuring.drops import drop_by_angle
from backbearing.measuring.heights import (
    height_by_angles,
    height_by_pole,
    height_by_sights,
    height_by_step_back,
)
from backbearing.measuring.pictures import Spot, height_by_picture, height_by_staff
from backbearing.measuring.places import place_from_stand
from backbearing.measuring.readings import Reading
from backbearing.measuring.shadows import CLOCK_SIGMA_S, height_by_shadow, height_by_two_shadows
from backbearing.measuring.tracks import FLOOR_SIGMA_M, place_of_track, read_track
from backbearing.measuring.widths import width_by_bearings, width_by_picture, width_by_staff
from backbearing.workflows.visit_picture import scale_of_picture
from backbearing.workflows.visit_time import moment_of, place_asked

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from backbearing.measuring.heights import Tape
    from backbearing.measuring.places import MeasuredPlace
    from backbearing.measuring.readings import Measured
    from backbearing.outing.request import Outing

    Answers = Mapping[str, Any]

EYE_SIGMA_M: Final = 0.05
"""Of the eye's height over uneven ground (common practice, no source)."""

LASER_SIGMA_M: Final = 0.3
"""Of a distance by a hand laser (common practice, no source)."""

POLE_SIGMA_M: Final = 0.02
"""Of the length of a pole, or of a person's height in boots (common practice, no source)."""

STAFF_SHADOW_SIGMA_M: Final = 0.03
"""Of a staff's shadow by a short tape (common practice, no source)."""


def tape_of(answers: Answers, key: str = "distance_m") -> Reading:
    """A taped distance with its own doubt, or a tape's."""
    value = answers[key]
    usual = math.hypot(TAPE_SIGMA * value, MIDDLE_SIGMA_M)
    return Reading(value, answers.get("distance_sigma_m", usual))


def angle_of(answers: Answers, key: str) -> Reading:
    """An angle with its own doubt, or a hand clinometer's."""
    return Reading(answers[key], answers.get("angle_sigma_deg", CLINOMETER_SIGMA_DEG))


def plain_of(answers: Answers, key: str, sigma_key: str, sigma: float) -> Reading:
    """Any other reading with its own doubt, or the usual one."""
    return Reading(answers[key], answers.get(sigma_key, sigma))


def _held(answers: Answers) -> Tape:
    tape = answers.get("tape", "level")
    if tape == "level":
        return "level"
    if tape == "sight":
        return "sight"
    raise MeasureError(f"tape is {shown(tape)}", hint='write "level" or "sight"', key="tape")


def by_angles(answers: Answers, _: Outing | None) -> Measured:
    """Height by a tape and two angles."""
    slope = angle_of(answers, "slope_deg") if "slope_deg" in answers else None
    return height_by_angles(
        tape_of(answers),
        angle_of(answers, "top_deg"),
        angle_of(answers, "base_deg"),
        tape=_held(answers),
        slope_deg=slope,
    )


def by_sights(answers: Answers, _: Outing | None) -> Measured:
    """Height by two laser sights."""
    top, base = (
        plain_of(answers, key, "distance_sigma_m", LASER_SIGMA_M) for key in ("top_m", "base_m")
    )
    return height_by_sights(top, angle_of(answers, "top_deg"), base, angle_of(answers, "base_deg"))


def by_pole(answers: Answers, _: Outing | None) -> Measured:
    """Height by a pole at the base."""
    angles = (angle_of(answers, key) for key in ("top_deg", "pole_top_deg", "base_deg"))
    return height_by_pole(plain_of(answers, "pole_m", "pole_sigma_m", POLE_SIGMA_M), *angles)


def by_step_back(answers: Answers, _: Outing | None) -> Measured:
    """Height from two places in line."""
    near, far = (
        (angle_of(answers, f"{place}_top_deg"), angle_of(answers, f"{place}_base_deg"))
        for place in ("near", "far")
    )
    return height_by_step_back(tape_of(answers, "step_m"), near, far)


def by_picture(answers: Answers, outing: Outing | None) -> Measured:
    """Height from a picture."""
    eye = plain_of(answers, "eye_m", "eye_sigma_m", EYE_SIGMA_M) if "eye_m" in answers else None
    return height_by_picture(
        scale_of_picture(answers, outing),
        tape_of(answers),
        Spot(*answers["top_px"]),
        Spot(*answers["base_px"]),
        eye_m=eye,
    )


def by_staff(answers: Answers, outing: Outing | None) -> Measured:
    """Height by a staff in the picture."""
    return height_by_staff(
        scale_of_picture(answers, outing, roughly=True),
        plain_of(answers, "staff_m", "staff_sigma_m", POLE_SIGMA_M),
        (Spot(*answers["top_px"]), Spot(*answers["base_px"])),
        (Spot(*answers["staff_top_px"]), Spot(*answers["staff_base_px"])),
        distances_m=_both_distances(answers),
    )


def _both_distances(answers: Answers) -> tuple[Reading, Reading] | None:
    given = [key for key in ("distance_m", "staff_distance_m") if key in answers]
    if len(given) == 1:
        raise MeasureError(
            f"{given[0]} is given alone",
            hint="give the distances to both, or to neither where both stand at one distance",
        )
    if not given:
        return None
    return tape_of(answers), tape_of(answers, "staff_distance_m")


def by_shadow(answers: Answers, outing: Outing | None) -> Measured:
    """Height by a shadow."""
    lat, lon = place_asked(answers, outing)
    slope = angle_of(answers, "slope_deg") if "slope_deg" in answers else None
    return height_by_shadow(
        tape_of(answers, "shadow_m"),
        lat=lat,
        lon=lon,
        when=moment_of(answers["time"], lat=lat, lon=lon),
        when_sigma_s=answers.get("time_sigma_s", CLOCK_SIGMA_S),
        slope_deg=slope,
        ground_m=answers.get("ground_m", 0.0),
    )


def by_two_shadows(answers: Answers, _: Outing | None) -> Measured:
    """Height by its shadow and a staff's."""
    return height_by_two_shadows(
        tape_of(answers, "shadow_m"),
        plain_of(answers, "staff_m", "staff_sigma_m", POLE_SIGMA_M),
        plain_of(answers, "staff_shadow_m", "staff_shadow_sigma_m", STAFF_SHADOW_SIGMA_M),
        apart_s=answers.get("apart_s", 60.0),
    )


def wide_by_bearings(answers: Answers, _: Outing | None) -> Measured:
    """Width by the bearings of both edges."""
    left, right = (
        plain_of(answers, key, "bearing_sigma_deg", COMPASS_SIGMA_DEG)
        for key in ("left_deg", "right_deg")
    )
    return width_by_bearings(tape_of(answers), left, right)


def wide_by_picture(answers: Answers, outing: Outing | None) -> Measured:
    """Width from a picture."""
    spots = Spot(*answers["left_px"]), Spot(*answers["right_px"])
    return width_by_picture(scale_of_picture(answers, outing), tape_of(answers), *spots)


def wide_by_staff(answers: Answers, outing: Outing | None) -> Measured:
    """Width by a staff in the picture."""
    return width_by_staff(
        scale_of_picture(answers, outing, roughly=True),
        plain_of(answers, "staff_m", "staff_sigma_m", POLE_SIGMA_M),
        (Spot(*answers["left_px"]), Spot(*answers["right_px"])),
        (Spot(*answers["staff_top_px"]), Spot(*answers["staff_base_px"])),
        distances_m=_both_distances(answers),
    )


def by_track(answers: Answers, _: Outing | None) -> MeasuredPlace:
    """Place by a receiver's track."""
    floor = answers.get("floor_sigma_m", FLOOR_SIGMA_M)
    return place_of_track(read_track(answers["track"]), floor_sigma_m=floor)


def by_bearings(answers: Answers, _: Outing | None) -> MeasuredPlace:
    """Place by bearings from known points."""
    point = answers.get("point_sigma_m", POINT_SIGMA_M)
    turned = [_true(answers, lat, lon, bearing) for lat, lon, bearing in answers["from"]]
    sightings = [
        Sighting(lat, lon, bearing, point)
        for (lat, lon, _), (bearing, _) in zip(answers["from"], turned, strict=True)
    ]
    found = place_by_bearings(sightings, common_sigma_deg=max((c for _, c in turned), default=0.0))
    return _said_true(found, answers)


def _said_true(place: MeasuredPlace, answers: Answers) -> MeasuredPlace:
    """Say as what the bearings were taken, since the two lie degrees apart."""
    when = answers.get("compass_date")
    said = "the bearings were taken as true; a compass's need compass_date"
    if when is not None:
        said = f"the bearings are a compass's, turned by the declination of {when}"
    return replace(place, notes=(*place.notes, said))


def _true(answers: Answers, lat: float, lon: float, bearing: float) -> tuple[Reading, float]:
    """A bearing from true north, and the doubt that all of that day share."""
    sigma = answers.get("bearing_sigma_deg", COMPASS_SIGMA_DEG)
    when: dt.date | None = answers.get("compass_date")
    if when is None:
        return Reading(bearing, sigma), 0.0
    return true_bearing(bearing, lat=lat, lon=lon, when=when, sigma_deg=sigma)


def by_stand(answers: Answers, _: Outing | None) -> MeasuredPlace:
    """Place from a stand."""
    lat, lon = answers["stand"]
    bearing, common = _true(answers, lat, lon, answers["bearing_deg"])
    found = place_from_stand(
        lat=lat,
        lon=lon,
        stand_sigma_m=answers.get("point_sigma_m", POINT_SIGMA_M),
        bearing_deg=Reading(bearing.value, math.hypot(bearing.sigma, common)),
        distance_m=tape_of(answers),
    )
    return _said_true(found, answers)


def drop_by_one_angle(answers: Answers, _: Outing | None) -> Measured:
    """Drop of the ground by one angle."""
    target = (
        plain_of(answers, "target_m", "eye_sigma_m", EYE_SIGMA_M) if "target_m" in answers else None
    )
    return drop_by_angle(
        tape_of(answers),
        angle_of(answers, "angle_deg"),
        plain_of(answers, "eye_m", "eye_sigma_m", EYE_SIGMA_M),
        target_m=target,
        tape=_held(answers),
    )
