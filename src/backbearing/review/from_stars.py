"""Add to a review what the stars in its frames tell: where each pointed and was taken from."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.base.text import length
from backbearing.review.compass import compass_off, compass_said
from backbearing.review.skyline_beside import Clock, skyline_beside
from backbearing.review.stands_adjusted import adjust, turned_by_clock
from backbearing.review.told_by_stars import FromStars
from backbearing.review.where_stood import ANY_CLOCK_S, CLOCK_S, stood_sentence

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.outing.request import Outing
    from backbearing.plan.stand import Stand
    from backbearing.review.plate_solution import PlateSolution
    from backbearing.review.report import FrameReview, Review
    from backbearing.review.star_look import Looked, StarLook
    from backbearing.review.told_by_stars import CompassSaid
    from backbearing.review.where_stood import Adjusted, Sighting, Stood
    from backbearing.terrain.elevation import Elevation

CLOCK_TOLD: Final = 0.5
"""Stands that take away less than this of the clock's doubt do not tell it."""

CLOCK_SIGMAS: Final = 2.0
"""From so many of its standard deviations on a clock is said to be wrong."""

AGAIN_S: Final = 600.0
"""From here on the stars are better matched again by the right time."""


def with_stars(review: Review, look: StarLook) -> Review:
    """Add what the stars tell to the review of the frames that were looked at.

    Parameters
    ----------
    review : Review
    look : StarLook
        That looked at its frames.

    Returns
    -------
    Review
        With ``stars`` of each frame, ``subject``, the clock and the compass filled.
    """
    outing = look.outing
    kept = [look.kept.get(frame.exif.path) for frame in review.frames]
    seen = [one for one in kept if one is not None and one.sighting is not None]
    adjusted = settled(look, seen)
    stood = dict(zip(map(id, seen), adjusted.stood if adjusted else (), strict=True))
    clock = _clock(adjusted)
    elevation = _ground(outing)
    told = [
        None
        if one is None
        else _told(frame, one, stood.get(id(one)), clock=clock, outing=outing, elevation=elevation)
        for frame, one in zip(review.frames, kept, strict=True)
    ]
    said: list[CompassSaid] = [
        one.compass for one in told if one is not None and one.compass is not None
    ]
    return replace(
        review,
        frames=tuple(
            replace(frame, stars=one) for frame, one in zip(review.frames, told, strict=True)
        ),
        subject=adjusted,
        subject_sentence=subject_sentence(adjusted, outing, len(seen)),
        clock_sentence=clock_sentence(adjusted, look.within_m),
        compass=compass_off(said),
    )


def settled(look: StarLook, seen: Sequence[Looked]) -> Adjusted | None:
    """Adjust what some of the frames saw of the subject; None where none saw it."""
    sightings: list[Sighting] = [one.sighting for one in seen if one.sighting is not None]
    if not sightings:
        return None
    subject = look.outing.subject
    return adjust(
        sightings,
        height_m=subject.height_m,
        height_sigma_m=subject.height_sigma_m,
        width_m=math.nan if subject.width_m is None else subject.width_m,
        width_sigma_m=subject.width_sigma_m,
        clock_sigma_s=CLOCK_S if look.within_m is None else ANY_CLOCK_S,
    )


def _ground(outing: Outing) -> Elevation | None:
    """The raster to set skylines beside; None where it cannot be opened any more."""
    try:
        return open_elevation(outing)
    except BackbearingError:
        return None


def _clock(adjusted: Adjusted | None) -> Clock:
    """The clock to turn all directions by: as settled, or as given."""
    if adjusted is None or not math.isfinite(adjusted.clock_ahead_s):
        return Clock(0.0, CLOCK_S)
    return Clock(adjusted.clock_ahead_s, adjusted.clock_sigma_s)


def _told(
    frame: FrameReview,
    one: Looked,
    stood: Stood | None,
    *,
    clock: Clock,
    outing: Outing,
    elevation: Elevation | None,
) -> FromStars:
    if one.solved is None:
        return _untold(one.why)
    axis, pitch = _turned(one.solved, one.stand, clock)
    told = _pointed(one.solved, one, axis, pitch)
    if frame.time is not None:
        told = replace(
            told,
            compass=compass_said(
                frame.exif.gps, azimuth_deg=axis, lat=one.stand.lat, lon=one.stand.lon,
                height_m=float(np.nan_to_num(one.stand.ground_m)), time=frame.time,
            ),
        )  # fmt: skip
    if stood is None:
        return told
    told = replace(told, stood=stood, sentence=f"{told.sentence} {stood_sentence(stood)}")
    if one.edge is None or elevation is None:
        return told
    skyline = skyline_beside(
        one.edge, outing, elevation, stood=stood, lat=one.stand.lat, clock=clock
    )
    return replace(told, skyline=skyline)


def _turned(solved: PlateSolution, stand: Stand, clock: Clock) -> tuple[float, float]:
    """Where the axis pointed, by the clock as settled."""
    azimuth, pitch = turned_by_clock(
        solved.azimuth_deg, solved.pitch_deg, lat_deg=np.asarray(stand.lat), ahead_s=clock.ahead_s
    )
    return float(azimuth), float(pitch)


def _pointed(solved: PlateSolution, one: Looked, axis: float, pitch: float) -> FromStars:
    nan, seen = math.nan, one.sighting
    said = (
        f"By {solved.stars} stars the lens pointed at {num(axis, 2)}°, {num(pitch, 2)}° up, rolled "
        f"{num(solved.roll_deg, 1)}°, and is {num(solved.optics.lens.focal_length_mm, 1)} mm long."
    )
    if seen is None:
        said += " The subject was not made out against the sky."
    return FromStars(
        azimuth_deg=axis,
        pitch_deg=pitch,
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


def clock_sentence(adjusted: Adjusted | None, within_m: float | None) -> str:
    """Say what the stands tell of the camera's clock; empty where nobody asked and none is off."""
    if adjusted is None or not math.isfinite(adjusted.clock_ahead_s):
        return ""
    ahead, sigma = adjusted.clock_ahead_s, adjusted.clock_sigma_s
    wrong = abs(ahead) > CLOCK_SIGMAS * sigma
    if adjusted.clock_told < CLOCK_TOLD and not wrong:
        if within_m is None:
            return ""
        return (
            f"Stands known within {length(within_m)} do not tell the camera's clock (give or take "
            f"{num(sigma, 0)} s)."
        )
    way = "ahead" if ahead >= 0.0 else "behind"
    said = (
        f"By the stands and the stars the camera's clock was "
        f"{num(abs(ahead), 0 if abs(ahead) >= 100.0 else 1)} s {way}, give or take "
        f"{num(sigma, 0 if sigma >= 10.0 else 1)} s"
    )
    if not wrong:
        return f"{said}: no more than the doubt."
    said += "; all directions are put right by it."
    if abs(ahead) >= AGAIN_S:
        said += f" Review again with --clock-ahead {num(ahead, 0)}, and look at the zone."
    return said
