"""Make the plate of a review: keep a frame of each lens, find the subject, lay them out."""

from __future__ import annotations

import io
import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.view.lens_views import view_of
from backbearing.base.errors import NothingFoundError, WriteRefusedError
from backbearing.base.files import check_free, write_file
from backbearing.base.numbers import num
from backbearing.base.text import length, night_label
from backbearing.pictures.plate import (
    TALLEST_SUBJECT_PX,
    PlateFrame,
    plate_columns,
    plate_page,
    plate_picture,
    widest_frame_px,
)
from backbearing.plan.turns import at_turns
from backbearing.review.picture import light_to_srgb, srgb_to_light
from backbearing.review.seen_subject import find_subject
from backbearing.review.star_look import framed_box

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan
    from backbearing.plan.view import View
    from backbearing.review.picture import Picture
    from backbearing.review.report import FrameReview, Review
    from backbearing.review.star_look import Looked, StarLook

SUFFIXES: Final = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".tif": "TIFF", ".tiff": "TIFF"}

WIDEST_PX: Final = 2400
"""A larger frame is made smaller while it is decoded, so that all of a night fit in memory."""


def check_plate(path: Path, *, overwrite: bool = False) -> None:
    """Refuse a path that no plate can be written to.

    Raises
    ------
    WriteRefusedError
        For another suffix, or when a file is in the way.
    """
    if path.suffix.lower() not in {*SUFFIXES, ".html"}:
        raise WriteRefusedError(
            f"{path.name}: a plate is written as .png, .jpg, .tif or .html",
            hint="give it such a name",
            path=str(path),
        )
    check_free(path, overwrite=overwrite)


@dataclass(frozen=True, slots=True)
class _Taken:
    """A frame as it is kept for the plate: small, with the subject's place in it, pixels."""

    frame: FrameReview
    lens: LensPlan
    pixels: NDArray[np.uint8]
    column_px: float
    base_px: float
    tall_px: float
    degree_px: float
    made_out: bool


@dataclass(slots=True)
class PlateLook:
    """Keeps of each lens the frame nearest to its turn, small, while frames are decoded.

    Parameters
    ----------
    outing : Outing
    plan : Plan
    stars : StarLook, optional
        That looks at each frame first: then the subject is looked for where the stars say.
    """

    outing: Outing
    plan: Plan
    stars: StarLook | None = None
    kept: dict[str, _Taken] = field(default_factory=dict)

    def look(self, frame: FrameReview, picture: Picture) -> None:
        """Look at one frame; it is dropped where another of its lens is nearer to the turn."""
        if frame.planned is None:
            return
        label = frame.planned.lens
        before = self.kept.get(label)
        if before is not None and _rank(before.frame) <= _rank(frame):
            return
        lens = next(one for one in at_turns(self.plan).lenses if one.lens.label == label)
        known = None if self.stars is None else self.stars.kept.get(frame.exif.path)
        self.kept[label] = _taken(self.plan, lens, frame, picture, known)


def write_plate(
    look: PlateLook,
    review: Review,
    target: Path,
    *,
    match_exposure: bool = False,
    overwrite: bool = False,
) -> Path:
    """Write the plate: one frame of each lens, all at one size of the subject.

    Parameters
    ----------
    look : PlateLook
        That looked at the review's frames.
    review : Review
        With what the stars tell, if that was asked: it goes into the captions.
    target : Path
        ``.png``, ``.jpg``, ``.tif``, or ``.html`` for a page with a slider.
    match_exposure : bool
        Bring all frames' skies to the same light, and say so.
    overwrite : bool

    Raises
    ------
    NothingFoundError
        When no frame belongs to a lens of the plan.
    WriteRefusedError
        As `check_plate`.
    """
    check_plate(target, overwrite=overwrite)
    outing, plan = look.outing, look.plan
    told = {frame.exif.path: frame for frame in review.frames}
    taken = sorted(look.kept.values(), key=lambda one: one.lens.lens.focal_length_mm)
    if not taken:
        raise NothingFoundError(
            "No frame belongs to a lens of the plan, so there is no plate to make",
            hint="see what the review says of each frame",
        )
    elevation = open_elevation(outing)
    frames = [
        _plate_frame(
            one, told.get(one.frame.exif.path, one.frame), view_of(plan, one.lens, elevation)
        )
        for one in taken
    ]
    notes = ["Above as taken, below as planned; every frame at one size of the subject."]
    notes += [
        f"{one.frame.name}: the subject was not made out; placed and sized as planned."
        for one in taken
        if not one.made_out
    ]
    if match_exposure:
        frames = _matched(frames)
        notes.append("Exposures matched: each sky brought to the same light.")
    compared = _compared(frames, plan.target.name)
    title = f"{outing.subject.name}, {night_label(plan.evening)}"
    if target.suffix.lower() == ".html":
        page = plate_page(plate_columns(compared), title=title, notes=notes)
        return write_file(target, page.encode("utf-8"), overwrite=overwrite)
    columns = plate_columns(compared, widest_px=widest_frame_px(len(compared)))
    stream = io.BytesIO()
    kind = SUFFIXES[target.suffix.lower()]
    more = {"quality": 92} if kind == "JPEG" else {}
    plate_picture(columns, title=title, notes=notes).save(stream, format=kind, **more)
    return write_file(target, stream.getvalue(), overwrite=overwrite)


def _rank(one: FrameReview) -> tuple[float, bool]:
    """Nearest to its turn first; among equals one whose trails are as predicted."""
    late = one.planned.late_minutes if one.planned else math.nan
    return (abs(late) if math.isfinite(late) else math.inf, one.verdict != "as predicted")


def _taken(
    plan: Plan, lens: LensPlan, frame: FrameReview, picture: Picture, known: Looked | None
) -> _Taken:
    """What is kept of a frame; its subject placed as planned where it is not made out."""
    box = framed_box(plan, lens, picture)
    middle, tall, base = box.column, box.base_row - box.top_row, box.base_row
    solved = None if known is None else known.solved
    seen = find_subject(picture, box) if known is None or known.seen is None else known.seen
    if seen is not None:
        middle = (seen.left + seen.right) / 2.0
        tall *= (seen.right - seen.left) / box.width
        base = seen.top_row + tall
    pixel_deg = (
        math.degrees(plan.camera.frame_width_mm / picture.width_px / lens.lens.focal_length_mm)
        if solved is None
        else solved.optics.pixel_deg
    )
    scale = min(1.0, WIDEST_PX / picture.width_px, TALLEST_SUBJECT_PX / tall)
    pixels = _shown(picture, scale)
    scale = pixels.shape[1] / picture.width_px
    return _Taken(
        frame, lens, pixels, middle * scale, base * scale, tall * scale, scale / pixel_deg,
        seen is not None,
    )  # fmt: skip


def _plate_frame(one: _Taken, told: FrameReview, view: View) -> PlateFrame:
    stand = one.lens.stand
    assert stand is not None  # noqa: S101  # only frames of lenses with a stand are kept
    return PlateFrame(
        label=one.lens.lens.label,
        says=(_says(told, stand.distance_m),),
        picture=one.pixels,
        column_px=one.column_px,
        base_px=one.base_px,
        tall_px=one.tall_px,
        view=view,
        planned_share=stand.share,
        planned_margin=stand.base_margin,
        degree_px=one.degree_px,
    )


def _says(chosen: FrameReview, planned_m: float) -> str:
    stood = None if chosen.stars is None else chosen.stars.stood
    far = (
        f"{length(planned_m)} as planned"
        if stood is None
        else f"{length(stood.distance_m)} by the stars"
    )
    shutter = chosen.exif.shutter_s
    return f"{far}, {num(shutter)} s" if math.isfinite(shutter) else far


def _shown(picture: Picture, scale: float) -> NDArray[np.uint8]:
    """Eight-bit colours of a picture, made smaller."""
    from PIL import Image

    stored = picture.stored
    if stored.dtype != np.uint8:
        stored = light_to_srgb(stored)
    if stored.ndim == 2:
        stored = np.repeat(stored[:, :, None], 3, axis=2)
    if scale >= 1.0:
        return np.array(stored)
    size = tuple(max(1, round(side * scale)) for side in (stored.shape[1], stored.shape[0]))
    return np.asarray(Image.fromarray(stored).resize(size, Image.Resampling.BOX))


def _compared(frames: list[PlateFrame], target: str) -> list[PlateFrame]:
    """Say of each how much larger the target stands behind the subject than in the first."""
    first = frames[0].degree_px / frames[0].tall_px
    told = [frames[0]]
    for one in frames[1:]:
        times = one.degree_px / one.tall_px / first
        said = f"{target} {num(times, 1)} times as large as at {frames[0].label}"
        told.append(replace(one, says=(*one.says, said)))
    return told


def _matched(frames: list[PlateFrame]) -> list[PlateFrame]:
    """Bring the skies (the upper third's medians) to the same light, clipped at full."""
    levels = [
        float(np.median(srgb_to_light(one.picture[: one.picture.shape[0] // 3, :, 1] / 255.0)))
        for one in frames
    ]
    wanted = float(np.median(levels))
    told = []
    for one, level in zip(frames, levels, strict=True):
        if level <= 0.0:
            told.append(one)
            continue
        table = light_to_srgb(srgb_to_light(np.arange(256) / 255.0) * wanted / level)
        told.append(replace(one, picture=table[one.picture]))
    return told
