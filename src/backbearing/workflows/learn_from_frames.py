"""Let an outing learn from the frames of the night: said first, written where that is asked."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import NothingFoundError
from backbearing.base.numbers import counted, num, per_cent
from backbearing.outing.learn_into import learn_into, learned_before
from backbearing.outing.marks_request import MARK_LIMITS, MarkRequest, ReadFrom
from backbearing.review.from_stars import settled
from backbearing.review.where_stood import STEP_M

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.review.exif import FrameExif
    from backbearing.review.report import FrameReview, Review
    from backbearing.review.star_look import StarLook
    from backbearing.review.told_by_stars import SkylinePoint
    from backbearing.review.where_stood import Adjusted, Stood

    Changes = dict[str, dict[str, Any]]

LEAST_TOLD: Final = 0.25
"""Frames that take away less of the height's doubt than this teach nothing worth writing."""

SURE_SIGMAS: Final = 2.0
"""A drop or a compass's error is learned from so many of its standard deviations on."""


@dataclass(frozen=True, slots=True)
class Learning:
    """What frames would write into an outing.

    Attributes
    ----------
    changes : dict
        Keys by section, as for `set_keys`.
    marks : tuple of MarkRequest
        Of the land's edge, each with a note of its frame and of what the raster said.
    notes : tuple of str
    said : tuple of str
        All of it in words, and what was left and why.
    why_not : str
        Why nothing is learned; empty where something is.
    kept_as : Path or None
        The file as it was before; None while nothing was written.
    """

    changes: Changes = field(default_factory=dict)
    marks: tuple[MarkRequest, ...] = ()
    notes: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    why_not: str = ""
    kept_as: Path | None = None


def frame_mark(exif: FrameExif) -> str:
    """Name a frame by what its exposure says of itself, so that a new export is the same frame."""
    parts = (exif.camera, exif.wall_time, exif.shutter_s, exif.f_number, exif.iso,
             exif.focal_length_mm)  # fmt: skip
    return hashlib.sha256("|".join(str(one) for one in parts).encode()).hexdigest()[:16]


def learning_of(review: Review, look: StarLook) -> Learning:
    """Say what the frames of a review would teach its outing.

    Frames that it has learned from before do not count again.

    Raises
    ------
    OutingError
        When the outing's file cannot be read any more.
    """
    known = learned_before(look.outing.path)
    usable = [
        (frame, look.kept[frame.exif.path])
        for frame in review.frames
        if frame.exif.path in look.kept and look.kept[frame.exif.path].sighting is not None
    ]
    new = [pair for pair in usable if frame_mark(pair[0].exif) not in known]
    if not new:
        return Learning(
            why_not="These frames were learned from before; nothing was learned twice."
            if usable
            else "No frame shows the subject between stars that could be matched."
        )
    adjusted = settled(look, [one for _, one in new])
    assert adjusted is not None  # noqa: S101  # every one of them has a sighting
    frames = [frame for frame, _ in new]
    changes: Changes = {}
    said = _size(look.outing, adjusted, changes)
    said += _drops(look, frames, adjusted, changes)
    said += _compass(review, changes)
    marks, notes, told = _marks(frames, look.outing)
    if not changes and not marks:
        return Learning(said=tuple(said), why_not="The frames tell too little to learn from.")
    old = sorted(known)
    fresh = sorted({frame_mark(frame.exif) for frame in frames})
    changes.setdefault("learned", {})["from_frames"] = [*old, *fresh]
    return Learning(changes, tuple(marks), tuple(notes), (*said, *told))


def learn(file: Path, learning: Learning) -> Learning:
    """Write what the frames teach into the outing's file, and keep it as it was beside it.

    Raises
    ------
    NothingFoundError
        When they teach nothing.
    OutingError, WriteRefusedError
        As `learn_into`.
    """
    if learning.why_not:
        raise NothingFoundError(
            " ".join([learning.why_not.rstrip("."), *learning.said]),
            hint="measure a stand's distance by tape, or the height with backbearing measure",
        )
    kept = learn_into(file, learning.changes, learning.marks, learning.notes)
    return replace(learning, kept_as=kept)


def _size(outing: Outing, found: Adjusted, changes: Changes) -> list[str]:
    """Height, and width where the subject has no outline of its own."""
    if found.told_by_frames < LEAST_TOLD:
        return [
            f"The height stays: the frames take {per_cent(found.told_by_frames)} of its doubt away."
        ]
    keys: dict[str, Any] = {
        "height_m": round(found.height_m, 2),
        "height_sigma_m": max(round(found.height_sigma_m, 2), 0.01),
    }
    if outing.subject.outline is None and outing.subject.width_m is not None:
        keys["width_m"] = round(found.width_m, 2)
        keys["width_sigma_m"] = max(round(found.width_sigma_m, 2), 0.01)
    changes["subject"] = keys
    listed = ", ".join(f"{key} = {num(value)}" for key, value in keys.items())
    return [f"[subject] {listed} (height {num(outing.subject.height_m)} before)."]


def _drops(
    look: StarLook, frames: Sequence[FrameReview], found: Adjusted, changes: Changes
) -> list[str]:
    """The ground at each lens's stand against the subject's, where the frames are sure of it."""
    by_lens: dict[str, list[Stood]] = {}
    for frame, stood in zip(frames, found.stood, strict=True):
        if frame.planned is not None:
            by_lens.setdefault(frame.planned.lens, []).append(stood)
    stands = {one.lens.label: one.stand for one in look.plan.lenses}
    labels = [one.lens.label for one in look.outing.lenses]
    said = []
    for label, several in by_lens.items():
        best = min(several, key=lambda one: one.higher_sigma_m)
        stand = stands.get(label)
        sure = best.higher_sigma_m < STEP_M / 2.0
        far = abs(best.higher_m) > SURE_SIGMAS * best.higher_sigma_m
        if stand is None or not (sure and far) or not math.isfinite(stand.ground_m):
            continue
        before = look.plan.subject_ground_m - stand.ground_m
        drop = round(before - best.higher_m, 2)
        changes[f"lens[{labels.index(label) + 1}]"] = {"stand_drop_m": drop}
        said.append(
            f"[[lens]] {label}: stand_drop_m = {num(drop)}, give or take "
            f"{num(best.higher_sigma_m, 2)} ({num(before, 2)} before)."
        )
    return said


def _compass(review: Review, changes: Changes) -> list[str]:
    found = review.compass
    if found is None or not abs(found.off_deg) > SURE_SIGMAS * found.sigma_deg:
        return []
    keys = {
        "compass_off_deg": round(found.off_deg, 2),
        "compass_sigma_deg": round(found.sigma_deg, 2),
    }
    changes["learned"] = keys
    return [f"[learned] {', '.join(f'{key} = {num(value)}' for key, value in keys.items())}."]


def _marks(
    frames: Sequence[FrameReview], outing: Outing
) -> tuple[list[MarkRequest], list[str], list[str]]:
    """Skyline marks of each lens's frame that shows most of the land's edge."""
    best: dict[str, FrameReview] = {}
    for frame in frames:
        if frame.planned is None or _read(frame) == 0:
            continue
        label = frame.planned.lens
        if label not in best or _read(frame) > _read(best[label]):
            best[label] = frame
    marks: list[MarkRequest] = []
    notes: list[str] = []
    for frame in best.values():
        stars = frame.stars
        if stars is None or stars.stood is None or stars.skyline is None:
            continue
        place = ReadFrom(
            "", None, None, round((stars.stood.bearing_deg + 180.0) % 360.0, 3),
            round(stars.stood.distance_m, 2),
        )  # fmt: skip
        for point in stars.skyline.points:
            if MARK_LIMITS["altitude_deg"].holds(point.altitude_deg):
                marks.append(_mark(point, place, outing.framing.eye_height_m))
                notes.append(f"{frame.name}: {_beside(point)}")
    if not marks:
        return marks, notes, []
    said = f"{counted(len(marks), 'skyline marks')} off {counted(len(best), 'frames')}"
    return marks, notes, [f"{said}, each with what the raster says beside it."]


def _read(frame: FrameReview) -> int:
    told = frame.stars
    return 0 if told is None or told.skyline is None or told.stood is None else told.skyline.read


def _mark(point: SkylinePoint, place: ReadFrom, eye_height_m: float) -> MarkRequest:
    """One corner as a mark; where raster and frame agree it is the raster's own ridge."""
    return MarkRequest(
        altitude_deg=point.altitude_deg,
        azimuth_deg=point.azimuth_deg,
        sigma_deg=max(round(point.sigma_deg, 3), 0.001),
        azimuth_sigma_deg=round(point.azimuth_sigma_deg, 3),
        distance_m=max(point.raster_distance_m, 1.0)
        if point.as_raster and math.isfinite(point.raster_distance_m)
        else None,
        eye_height_m=eye_height_m,
        read_from=place,
    )


def _beside(point: SkylinePoint) -> str:
    if not math.isfinite(point.raster_deg):
        return "the raster knows none"
    return f"the raster says {num(point.raster_deg, 2)}"
