"""A night's frames set beside its plan, one by one; a frame that fails stops no other."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.angles import wrap_180_deg
from backbearing.base.errors import BackbearingError
from backbearing.base.numbers import num
from backbearing.camera.frame_trails import trails_in_frame
from backbearing.review.clock import frame_time
from backbearing.review.compare import (
    Candidate,
    beside_plan,
    candidates,
    find_candidate,
    focal_length_mm,
    frame_camera,
    place_off,
    planned_turn,
    used_lens,
)
from backbearing.review.exif import read_exif
from backbearing.review.picture import Picture
from backbearing.review.prediction import Pointing
from backbearing.review.report import FrameReview, Review, Unread
from backbearing.review.stars import check_library
from backbearing.review.trails import measure_trails
from backbearing.review.words import say
from backbearing.sky.zones import named_zone

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.camera.frame_trails import FrameTrails
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import Stand
    from backbearing.review.exif import FrameExif
    from backbearing.review.report import PlannedTurn

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LAND_MARGIN_DEG: Final = 1.5
"""Sky so near the planned skyline or subject is not searched: a camera is aimed by hand."""

NOTES: Final = (
    (
        "Predictions take the lens as ideal, level and pointed as planned, and leave refraction "
        "out, which shortens upright trails by 2.6 percent at 5 degrees of altitude."
    ),
    (
        "Measured lengths have the stars' own width taken off. A picture's contrast curve, "
        "sharpening and noise reduction change them by some tenths of a pixel; what a lens adds "
        "evenly towards all corners is taken off, a lens off its axis cannot be told from shake by "
        "one frame."
    ),
    (
        "A camera's clock shows whole seconds and whatever it was set to; a receiver's position "
        "is good to some metres, which at 10 m from the subject says little of the bearing."
    ),
)


class Look(Protocol):
    """What else looks at a frame while it is decoded: once, and keeps of it what is small."""

    def look(self, frame: FrameReview, picture: Picture) -> None:
        """Look at one frame; called in the order of the paths."""


@dataclass(frozen=True, slots=True)
class Given:
    """What frames do not say of themselves, and whether their trails are measured.

    As the parameters of `review_frames`.
    """

    camera_zone: str | None = None
    clock_ahead_s: float = 0.0
    focal_mm: float = math.nan
    measure: bool = True


@dataclass(frozen=True, slots=True)
class _Night:
    plan: Plan
    found: tuple[Candidate, ...]
    iso: float
    position_sigma_m: float
    zone: str
    given: Given
    looks: Sequence[Look]


def review_frames(
    outing: Outing,
    frames: Sequence[str | Path],
    *,
    plan: Plan | None = None,
    camera_zone: str | None = None,
    clock_ahead_s: float = 0.0,
    focal_mm: float = math.nan,
    measure: bool = True,
    on_frame: Callable[[str], None] | None = None,
) -> Review:
    """Set frames beside the plan, and measure the trails in them.

    Parameters
    ----------
    outing : Outing
    frames : sequence of path
        Pictures: JPEG, TIFF and others; not a camera's raw files.
    plan : Plan, optional
        The outing's plan, when it is settled already.
    camera_zone : str, optional
        IANA name of the zone that the camera's clock shows; the plan's when left out.
    clock_ahead_s : float
        How far the camera's clock is ahead of the true time, seconds.
    focal_mm : float
        Focal length for frames whose EXIF has none, millimetres.
    measure : bool
        Whether to decode the pictures and measure.
    on_frame : callable, optional
        Called with each frame's name before it is read.

    Returns
    -------
    Review

    Raises
    ------
    OutingError, TerrainError, SkyError, CameraError
        As `plan_night`; SkyError too for an unknown zone.
    BackbearingError
        When the optional library for measuring is missing.

    Examples
    --------
    A picture of nothing, into ``folder``, beside the sample outing's ``plan``:

    >>> from PIL import Image
    >>> from backbearing import load_outing, review_frames
    >>> Image.new("L", (600, 400)).save(folder / "dark.jpg")
    >>> outing = load_outing(sample / "outing.toml")
    >>> review = review_frames(outing, [folder / "dark.jpg"], plan=plan, measure=False)
    >>> review.frames[0].name, review.frames[0].verdict
    ('dark.jpg', 'not measured')
    """
    given = Given(camera_zone, clock_ahead_s, focal_mm, measure)
    plan = plan_night(outing) if plan is None else plan
    return reviewed(outing, plan, frames, given, on_frame=on_frame)


def reviewed(
    outing: Outing,
    plan: Plan,
    frames: Sequence[str | Path],
    given: Given,
    *,
    looks: Sequence[Look] = (),
    on_frame: Callable[[str], None] | None = None,
) -> Review:
    """Set frames beside the plan as `review_frames`, each decoded once for all that look at it.

    Parameters
    ----------
    outing : Outing
    plan : Plan
    frames : sequence of path
    given : Given
    looks : sequence of Look
        Asked of every frame that belongs to the plan, in turn.
    on_frame : callable, optional
        Called with each frame's name before it is read.

    Raises
    ------
    SkyError
        For an unknown zone.
    BackbearingError
        When the optional library for measuring is missing.
    """
    zone = plan.zone if given.camera_zone is None else str(named_zone(given.camera_zone))
    night = _Night(
        plan,
        candidates(plan),
        outing.exposure.iso,
        outing.position_sigma_m,
        zone,
        given,
        looks,
    )
    if given.measure:
        check_library()
    done, unread = [], []
    for path in frames:
        if on_frame is not None:
            on_frame(Path(path).name)
        try:
            done.append(_frame(night, Path(path)))
        except BackbearingError as problem:
            unread.append(Unread(Path(path).name, str(problem)))
    last = dt.datetime.max.replace(tzinfo=dt.UTC)
    return Review(
        name=outing.name,
        evening=plan.evening,
        zone=plan.zone,
        clock_zone=zone,
        clock_ahead_s=given.clock_ahead_s,
        accepted_trail_px=plan.accepted_trail_px,
        frames=tuple(sorted(done, key=lambda frame: frame.time or last)),
        unread=tuple(unread),
        notes=NOTES,
    )


def _frame(night: _Night, path: Path) -> FrameReview:
    exif = read_exif(path)
    time, time_sentence = frame_time(exif, zone=night.zone, clock_ahead_s=night.given.clock_ahead_s)
    focal = focal_length_mm(exif, night.given.focal_mm, night.plan.camera)
    one = find_candidate(night.found, focal, time)
    extra = list(exif.notes)
    pointing, turn = None, None
    if one is None:
        extra.append(_no_lens(night.plan, focal))
    else:
        turn = planned_turn(night.plan, one, time)
        pointing, said = _pointing(night.plan, one, exif, focal, turn)
        extra += said
    made = FrameReview(
        name=path.name,
        exif=exif,
        time=time,
        time_sentence=time_sentence,
        planned=turn,
        beside=() if one is None else beside_plan(one, exif, focal, night.iso),
        place=None if one is None else place_off(one, exif, night.position_sigma_m),
        expected=None if pointing is None or turn is None else _expected(pointing, turn),
        measured=None,
        verdict="not measured",
        sentences=tuple(extra),
    )
    return _looked_at(night, made, one, pointing)


def _looked_at(
    night: _Night, made: FrameReview, one: Candidate | None, pointing: Pointing | None
) -> FrameReview:
    """Decode a frame, once: measure its trails, and let all others look."""
    looks = night.looks if made.planned is not None else ()
    if not (night.given.measure or looks):
        return made
    try:
        picture = Picture.load(made.exif.path)
        if night.given.measure:
            made = _trails(night, made, one, pointing, picture)
    except BackbearingError as problem:
        # Its EXIF could be read, and stays worth showing.
        return replace(made, sentences=(str(problem), *made.sentences))
    for one_look in looks:
        one_look.look(made, picture)
    return made


def _no_lens(plan: Plan, focal_mm: float) -> str:
    known = ", ".join(lens.lens.label for lens in plan.lenses if lens.stand is not None)
    if math.isnan(focal_mm):
        return (
            "The frame names no focal length and its time is in no turn: give it with --focal-mm "
            f"(the plan has {known or 'no lens with a stand'})."
        )
    return f"No planned lens has {num(focal_mm)} mm; the plan has {known or 'none with a stand'}."


def _pointing(
    plan: Plan, one: Candidate, exif: FrameExif, focal_mm: float, turn: PlannedTurn
) -> tuple[Pointing | None, list[str]]:
    """Where and how long the lens looked, as far as frame and plan say."""
    camera, odd = frame_camera(plan.camera, exif.width_px, exif.height_px)
    said = [odd] if odd else []
    if camera is None:
        return None, said
    if math.isnan(exif.shutter_s):
        return None, [*said, "Without a shutter time there is no trail to expect."]
    return (
        Pointing(
            camera=camera,
            lens=used_lens(one, exif, focal_mm),
            pitch_deg=turn.pitch_deg,
            azimuth_deg=turn.azimuth_deg,
            lat=turn.stand_lat,
            shutter_s=exif.shutter_s,
        ),
        said,
    )


def _expected(pointing: Pointing, turn: PlannedTurn) -> FrameTrails:
    return trails_in_frame(
        pointing.camera,
        pointing.lens,
        pitch_deg=pointing.pitch_deg,
        azimuth_deg=pointing.azimuth_deg,
        lat=pointing.lat,
        shutter_s=pointing.shutter_s,
        target_x=turn.target_x,
        target_y=turn.target_y,
    )


def _trails(
    night: _Night,
    made: FrameReview,
    one: Candidate | None,
    pointing: Pointing | None,
    picture: Picture,
) -> FrameReview:
    stand = one.lens_plan.stand if one is not None else None
    sky = None if pointing is None or stand is None else open_sky(night.plan, stand, pointing)
    try:
        measured = measure_trails(picture, pointing, sky=sky)
    except BackbearingError as problem:
        return replace(made, sentences=(str(problem), *made.sentences))
    verdict, sentences = say(measured)
    return replace(
        made, measured=measured, verdict=verdict, sentences=(*sentences, *made.sentences)
    )


def open_sky(plan: Plan, stand: Stand, pointing: Pointing) -> Callable[[Floats, Floats], Flags]:
    """Make the function that tells which places of a frame are sky by the plan.

    Clear of the terrain's skyline (the sea's horizon where it is unknown) and of the
    subject's box by `LAND_MARGIN_DEG`.
    """
    azimuths = np.array([p.azimuth_deg for p in plan.skyline])
    altitudes = np.nan_to_num(np.array([p.altitude_deg for p in plan.skyline]))
    half_deg = math.degrees(math.atan2(plan.subject.shown_width_m / 2.0, stand.distance_m))
    top_deg = stand.target_altitude_deg - stand.above_top_deg

    def is_sky(x: Floats, y: Floats) -> Flags:
        azimuth, altitude = pointing.directions(x, y)
        ridge = np.interp(azimuth, azimuths, altitudes, period=360.0) if len(azimuths) else 0.0
        aside = np.abs(wrap_180_deg(azimuth - stand.bearing_deg))
        subject = (aside < half_deg + LAND_MARGIN_DEG) & (altitude < top_deg + LAND_MARGIN_DEG)
        return np.asarray((altitude > ridge + LAND_MARGIN_DEG) & ~subject)

    return is_sky
