"""Add to a review what the stars in its frames tell: where each pointed and was taken from."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.view.frame_stars import moved_vectors, star_table
from backbearing.alignment.view.sky_rotation import SkyTurn
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.camera.frame_attitude import FrameOptics
from backbearing.camera.framing import Frame
from backbearing.review.compare import (
    candidates,
    find_candidate,
    focal_length_mm,
    frame_camera,
    used_lens,
)
from backbearing.review.picture import Picture
from backbearing.review.plate_solution import PlateSolution, Seed, Sky, solve_plate
from backbearing.review.seen_subject import Box, SeenSubject, find_subject
from backbearing.review.star_list import list_stars
from backbearing.review.told_by_stars import FromStars
from backbearing.review.where_stood import (
    PEG_M,
    PEG_SHARE,
    Sighting,
    adjust,
    stood_sentence,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import Stand
    from backbearing.review.compare import Candidate
    from backbearing.review.report import FrameReview, Review
    from backbearing.review.where_stood import Adjusted

UNSOLVED: Final = (
    "Its stars could not be matched to the catalogue: cloud, trails, a wrong clock or place, or "
    "fewer than eight stars brighter than magnitude 6."
)


def with_stars(
    review: Review,
    outing: Outing,
    plan: Plan,
    paths: Sequence[str | Path],
    *,
    focal_mm: float = math.nan,
    on_frame: Callable[[str], None] | None = None,
) -> Review:
    """Add what the stars tell to a review of the same frames.

    Parameters
    ----------
    review : Review
    outing : Outing
    plan : Plan
        That the review was made with.
    paths : sequence of path
        The frames again, in any order; each is decoded once, one at a time.
    focal_mm : float
        Focal length for frames whose EXIF has none, millimetres.
    on_frame : callable, optional
        Called with each frame's name before it is read.

    Returns
    -------
    Review
        With ``stars`` of each frame and ``subject`` filled.

    Raises
    ------
    BackbearingError
        When the optional library sep is missing.
    """
    named = {Path(path).name: Path(path) for path in paths}
    found = candidates(plan)
    told: list[FromStars | None] = []
    sightings: list[Sighting] = []
    places: list[int] = []
    for frame in review.frames:
        if on_frame is not None:
            on_frame(frame.name)
        one = find_candidate(found, focal_length_mm(frame.exif, focal_mm, plan.camera), frame.time)
        stars, sighting = _frame(plan, one, frame, named[frame.name], focal_mm)
        if sighting is not None:
            sightings.append(sighting)
            places.append(len(told))
        told.append(stars)
    adjusted = None
    if sightings:
        subject = outing.subject
        adjusted = adjust(
            sightings,
            height_m=subject.height_m,
            height_sigma_m=subject.height_sigma_m,
            width_m=math.nan if subject.width_m is None else subject.width_m,
            width_sigma_m=subject.width_sigma_m,
        )
        for place, stood in zip(places, adjusted.stood, strict=True):
            known = told[place]
            if known is not None:
                said = f"{known.sentence} {stood_sentence(stood)}"
                told[place] = replace(known, stood=stood, sentence=said)
    return replace(
        review,
        frames=tuple(
            replace(frame, stars=one) for frame, one in zip(review.frames, told, strict=True)
        ),
        subject=adjusted,
        subject_sentence=subject_sentence(adjusted, outing, len(sightings)),
    )


def _frame(
    plan: Plan, one: Candidate | None, frame: FrameReview, path: Path, focal_mm: float
) -> tuple[FromStars | None, Sighting | None]:
    """What one frame tells, and its view of the subject."""
    stand = None if one is None else one.lens_plan.stand
    if one is None or stand is None or frame.time is None or frame.planned is None:
        return None, None
    camera, _ = frame_camera(plan.camera, frame.exif.width_px, frame.exif.height_px)
    if camera is None:
        return None, None
    lens = used_lens(one, frame.exif, focal_length_mm(frame.exif, focal_mm, plan.camera))
    optics = FrameOptics(
        lens, camera.frame_width_px, camera.frame_height_px,
        camera.frame_width_mm / camera.frame_width_px,
    )  # fmt: skip
    shutter = frame.exif.shutter_s
    middle = frame.time + dt.timedelta(seconds=shutter / 2.0 if math.isfinite(shutter) else 0.0)
    try:
        picture = Picture.load(path)
        stars = list_stars(picture)
    except BackbearingError as problem:
        return _untold(str(problem)), None
    height = stand.ground_m if math.isfinite(stand.ground_m) else plan.subject_ground_m
    sky = sky_over(lat=stand.lat, lon=stand.lon, height_m=height, time=middle)
    solved = solve_plate(
        stars, sky, optics, Seed(frame.planned.azimuth_deg, frame.planned.pitch_deg)
    )
    if solved is None:
        return _untold(UNSOLVED), None
    aimed = Frame(plan.camera, one.lens_plan.lens, stand.pitch_deg, stand.bearing_deg)
    box, eye_m = planned_box(plan, stand, camera_frame=aimed, solved=solved)
    seen = find_subject(picture, box)
    if seen is None:
        return _told(solved, None), None
    sighting = _sighting(solved, seen, stand, eye_m=eye_m)
    return _told(solved, sighting), sighting


def sky_over(*, lat: float, lon: float, height_m: float, time: dt.datetime) -> Sky:
    """The catalogue's stars over a place at a moment."""
    year = time.year + time.timetuple().tm_yday / 365.25
    turn = SkyTurn.at(lat=lat, lon=lon, height_m=height_m, time=time)
    azimuth, altitude = turn.horizontal(moved_vectors(year))
    return Sky(azimuth, altitude, star_table()[2])


def planned_box(
    plan: Plan, stand: Stand, *, camera_frame: Frame, solved: PlateSolution
) -> tuple[Box, float]:
    """Where the planned subject falls in a solved frame, and the lens's height over its base."""
    _, base = camera_frame.direction(0.5, stand.base_margin)
    base_deg = float(base)
    top_deg = stand.target_altitude_deg - stand.above_top_deg
    half = math.degrees(math.atan2(plan.subject.shown_width_m / 2.0, stand.distance_m))
    at = stand.bearing_deg
    columns, rows = solved.place(
        np.array([at, at, at - half, at + half]),
        np.array([top_deg, base_deg, top_deg, top_deg]),
    )
    box = Box(
        column=float(columns[1]),
        top_row=float(rows[0]),
        base_row=float(rows[1]),
        width=float(abs(columns[3] - columns[2])),
    )
    return box, -stand.distance_m * math.tan(math.radians(base_deg))


def _sighting(solved: PlateSolution, seen: SeenSubject, stand: Stand, *, eye_m: float) -> Sighting:
    azimuth, altitude = solved.directions(
        np.array([seen.top_column, seen.left, seen.right]),
        np.array([seen.top_row, seen.left_row, seen.right_row]),
    )
    pixel = solved.optics.pixel_deg
    sigma = math.hypot(seen.sigma_px * pixel, solved.sigma_deg)
    wide = float(wrap_180_deg(float(azimuth[2] - azimuth[1])))
    return Sighting(
        azimuth_deg=float(wrap_360_deg(float(azimuth[1]) + wide / 2.0)),
        top_deg=float(altitude[0]),
        top_sigma_deg=sigma,
        width_deg=wide if wide > 0.0 else math.nan,
        width_sigma_deg=1.5 * seen.sigma_px * pixel,
        planned_azimuth_deg=stand.bearing_deg,
        planned_distance_m=stand.distance_m,
        eye_m=eye_m,
        distance_sigma_m=math.hypot(PEG_M, PEG_SHARE * stand.distance_m),
    )


def _told(solved: PlateSolution, seen: Sighting | None) -> FromStars:
    nan = math.nan
    said = (
        f"By {solved.stars} stars the lens pointed at {num(solved.azimuth_deg, 2)}°, "
        f"{num(solved.pitch_deg, 2)}° up, rolled {num(solved.roll_deg, 1)}°, and is "
        f"{num(solved.optics.lens.focal_length_mm, 1)} mm long."
    )
    if seen is None:
        said += " The subject was not made out against the sky."
    return FromStars(
        azimuth_deg=solved.azimuth_deg,
        pitch_deg=solved.pitch_deg,
        roll_deg=solved.roll_deg,
        focal_length_mm=solved.optics.lens.focal_length_mm,
        distortion=solved.distortion,
        stars=solved.stars,
        misfit_px=solved.misfit_px,
        subject_azimuth_deg=nan if seen is None else seen.azimuth_deg,
        subject_top_deg=nan if seen is None else seen.top_deg,
        subject_width_deg=nan if seen is None else seen.width_deg,
        stood=None,
        sentence=said,
    )


def _untold(why: str) -> FromStars:
    nan = math.nan
    return FromStars(nan, nan, nan, nan, nan, 0, nan, nan, nan, nan, None, why)


def subject_sentence(adjusted: Adjusted | None, outing: Outing, frames: int) -> str:
    """Say how high the subject is by all frames, and who says so."""
    if adjusted is None:
        return ""
    many = "one frame" if frames == 1 else f"{frames} frames"
    said = (
        f"By {many} the subject is {length(adjusted.height_m)} high, give or take "
        f"{length(adjusted.height_sigma_m)}; the outing says {length(outing.subject.height_m)}."
    )
    return said + (
        " A frame ties height to distance: a stand measured by tape would tell more."
        if adjusted.told_by_frames < 0.5
        else ""
    )
