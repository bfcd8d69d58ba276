"""Make the plate of a review: choose a frame for each lens, find the subject, lay them out."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.view.lens_views import view_of
from backbearing.base.errors import BackbearingError, NothingFoundError, WriteRefusedError
from backbearing.base.files import check_free, write_file
from backbearing.base.numbers import num
from backbearing.base.text import length, night_label
from backbearing.camera.framing import Frame
from backbearing.pictures.plate import PlateFrame, plate_columns, plate_page, plate_picture
from backbearing.plan.turns import at_turns
from backbearing.review.picture import Picture, light_to_srgb, srgb_to_light
from backbearing.review.seen_subject import Box, find_subject

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan
    from backbearing.plan.view import View
    from backbearing.review.report import FrameReview, Review

SUFFIXES: Final = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".tif": "TIFF", ".tiff": "TIFF"}

WIDEST_PX: Final = 2400
"""A larger frame is made smaller as soon as it is read, so that eight of them fit in memory."""


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


def write_plate(
    review: Review,
    outing: Outing,
    plan: Plan,
    paths: Sequence[str | Path],
    target: Path,
    *,
    match_exposure: bool = False,
    overwrite: bool = False,
    on_frame: Callable[[str], None] | None = None,
) -> Path:
    """Write the plate: one frame of each lens, all at one size of the subject.

    Parameters
    ----------
    review : Review
    outing : Outing
    plan : Plan
        That the review was made with.
    paths : sequence of path
        Its frames.
    target : Path
        ``.png``, ``.jpg``, ``.tif``, or ``.html`` for a page with a slider.
    match_exposure : bool
        Bring all frames' skies to the same light, and say so.
    overwrite : bool
    on_frame : callable, optional
        Called with each frame's name before it is read.

    Raises
    ------
    NothingFoundError
        When no frame belongs to a lens of the plan.
    WriteRefusedError
        As `check_plate`.
    """
    check_plate(target, overwrite=overwrite)
    named = {Path(path).name: Path(path) for path in paths}
    elevation = open_elevation(outing)
    frames: list[PlateFrame] = []
    notes: list[str] = []
    for lens in sorted(at_turns(plan).lenses, key=lambda one: one.lens.focal_length_mm):
        chosen = _best(review, lens)
        if chosen is None or lens.stand is None:
            continue
        if on_frame is not None:
            on_frame(chosen.name)
        try:
            made, seen = _frame(
                plan, lens, chosen, named[chosen.name], view_of(plan, lens, elevation)
            )
        except BackbearingError as problem:
            notes.append(str(problem))
            continue
        if not seen:
            notes.append(
                f"{chosen.name}: the subject was not made out; placed and sized as planned."
            )
        frames.append(made)
    if not frames:
        raise NothingFoundError(
            "No frame belongs to a lens of the plan, so there is no plate to make",
            hint="see what the review says of each frame",
        )
    if match_exposure:
        frames = _matched(frames)
        notes.append("Exposures matched: each sky brought to the same light.")
    columns = plate_columns(_compared(frames))
    title = f"{outing.subject.name}, {night_label(plan.evening)}"
    notes.insert(0, "Above as taken, below as planned; every frame at one size of the subject.")
    if target.suffix.lower() == ".html":
        page = plate_page(columns, title=title, notes=notes)
        return write_file(target, page.encode("utf-8"), overwrite=overwrite)
    stream = io.BytesIO()
    kind = SUFFIXES[target.suffix.lower()]
    more = {"quality": 92} if kind == "JPEG" else {}
    plate_picture(columns, title=title, notes=notes).save(stream, format=kind, **more)
    return write_file(target, stream.getvalue(), overwrite=overwrite)


def _best(review: Review, lens: LensPlan) -> FrameReview | None:
    """The lens's frame nearest to its turn; among equals one whose trails are as predicted."""
    own = [one for one in review.frames if one.planned and one.planned.lens == lens.lens.label]

    def rank(one: FrameReview) -> tuple[float, bool]:
        late = one.planned.late_minutes if one.planned else math.nan
        return (abs(late) if math.isfinite(late) else math.inf, one.verdict != "as predicted")

    return min(own, key=rank, default=None)


def _frame(
    plan: Plan, lens: LensPlan, chosen: FrameReview, path: Path, view: View
) -> tuple[PlateFrame, bool]:
    """A frame, and whether its subject was made out in it."""
    picture = Picture.load(path)
    stand = lens.stand
    assert stand is not None  # noqa: S101  # asked only of lenses with a stand
    tall_px = stand.share * picture.height_px
    base_px = (1.0 - stand.base_margin) * picture.height_px
    aimed = Frame(plan.camera, lens.lens, stand.pitch_deg, stand.bearing_deg)
    half = math.degrees(math.atan2(plan.subject.shown_width_m / 2.0, stand.distance_m))
    sides, _ = aimed.place(
        np.array([stand.bearing_deg - half, stand.bearing_deg + half]),
        np.full(2, stand.target_altitude_deg - stand.above_top_deg),
    )
    width_px = float(abs(sides[1] - sides[0])) * picture.width_px
    middle = (picture.width_px - 1) / 2.0
    seen = find_subject(picture, Box(middle, base_px - tall_px, base_px, width_px))
    if seen is not None:
        middle = (seen.left + seen.right) / 2.0
        tall_px *= (seen.right - seen.left) / width_px
        base_px = seen.top_row + tall_px
    pixels = _shown(picture)
    scale = pixels.shape[1] / picture.width_px
    made = PlateFrame(
        label=lens.lens.label,
        says=(_says(chosen, stand.distance_m),),
        picture=pixels,
        column_px=middle * scale,
        base_px=base_px * scale,
        tall_px=tall_px * scale,
        view=view,
        planned_share=stand.share,
        planned_margin=stand.base_margin,
        degree_px=pixels.shape[1]
        / plan.camera.frame_width_mm
        * lens.lens.focal_length_mm
        * math.radians(1.0),
    )
    return made, seen is not None


def _says(chosen: FrameReview, planned_m: float) -> str:
    stood = None if chosen.stars is None else chosen.stars.stood
    far = (
        f"{length(planned_m)} as planned"
        if stood is None
        else f"{length(stood.distance_m)} by the stars"
    )
    shutter = chosen.exif.shutter_s
    return f"{far}, {num(shutter)} s" if math.isfinite(shutter) else far


def _shown(picture: Picture) -> NDArray[np.uint8]:
    """Eight-bit colours of a picture, no wider than `WIDEST_PX`."""
    from PIL import Image

    stored = picture.stored
    if stored.dtype != np.uint8:
        stored = light_to_srgb(stored)
    if stored.ndim == 2:
        stored = np.repeat(stored[:, :, None], 3, axis=2)
    if stored.shape[1] <= WIDEST_PX:
        return np.ascontiguousarray(stored)
    size = (WIDEST_PX, round(stored.shape[0] * WIDEST_PX / stored.shape[1]))
    return np.asarray(Image.fromarray(stored).resize(size, Image.Resampling.BOX))


def _compared(frames: list[PlateFrame]) -> list[PlateFrame]:
    """Say of each how much larger the sky stands behind the subject than in the first."""
    first = frames[0].degree_px / frames[0].tall_px
    told = [frames[0]]
    for one in frames[1:]:
        times = one.degree_px / one.tall_px / first
        said = f"the sky {num(times, 1)} times as large as at {frames[0].label}"
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
