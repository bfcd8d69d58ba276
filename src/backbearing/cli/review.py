"""``backbearing review``: frames of the night beside the plan, their trails measured."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.lazy import Later
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    kit_option,
    overwrite_switch,
    print_json,
)
from backbearing.cli.frame_progress import FrameProgress
from backbearing.cli.review_table import print_review
from backbearing.cli.screen import Screen
from backbearing.outing.load import load_outing
from backbearing.plan.in_units import read_in
from backbearing.review.document import review_document
from backbearing.review.night import Given, reviewed
from backbearing.review.ticks import read_ticks, with_ticks
from backbearing.sky.zones import named_zone

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.review import from_stars, star_look
    from backbearing.review.report import Review
    from backbearing.review.star_look import StarLook
    from backbearing.workflows import learn_from_frames, review_plate
    from backbearing.workflows.learn_from_frames import Learning
    from backbearing.workflows.review_plate import PlateLook
else:
    # What is asked for by an option of its own.
    from_stars = Later("backbearing.review.from_stars")
    star_look = Later("backbearing.review.star_look")
    learn_from_frames = Later("backbearing.workflows.learn_from_frames")
    review_plate = Later("backbearing.workflows.review_plate")


@dataclass(frozen=True, slots=True)
class ReviewClock:
    """What the frames do not say of themselves."""

    camera_zone: str | None
    clock_ahead_s: float
    focal_mm: float | None
    stands_within_m: float | None


@dataclass(frozen=True, slots=True)
class ReviewWanted:
    """What to find and to write."""

    ticks_file: Path | None
    ask_stars: bool
    learn: bool
    plate: Path | None
    match_exposure: bool
    overwrite: bool
    exif_only: bool


@click.command(
    "review",
    help="Set frames taken beside the plan, and measure the star trails in them. "
    "OUTING is ./outing.toml when the first name is no .toml file.",
)
@click.argument(
    "paths", metavar="[OUTING] FRAMES...", nargs=-1, type=click.Path(path_type=Path), required=True
)
@kit_option
@click.option(
    "--camera-zone",
    metavar="ZONE",
    help="What the camera's clock shows where a frame names no offset, such as UTC or "
    "America/New_York; the outing's zone when left out.",
)
@click.option(
    "--clock-ahead",
    "clock_ahead_s",
    type=click.FloatRange(-400_000_000.0, 400_000_000.0),
    default=0.0,
    metavar="SECONDS",
    help="How far the camera's clock was ahead of the true time; negative for behind.",
)
@click.option(
    "--focal-mm",
    type=click.FloatRange(1.0, 3000.0),
    metavar="MM",
    help="Focal length for frames that name none (a lens without contacts).",
)
@click.option(
    "--ticks",
    "ticks_file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="What the night page gave out: says beside each frame what was really done, and when.",
)
@click.option(
    "--stood",
    "ask_stars",
    is_flag=True,
    help="Match the stars to the catalogue: where each frame pointed and was taken from, and how "
    "high the subject is.",
)
@click.option(
    "--stands-within",
    "stands_within_m",
    type=click.FloatRange(0.001, 1000.0),
    metavar="M",
    help="How well the stands are known on the ground: then the stars tell the camera's clock.",
)
@click.option(
    "--learn",
    is_flag=True,
    help="Write what the frames tell into the outing: the subject's size, the drop at a stand, the "
    "skyline, the compass's error. Asks the stars, and keeps the file as it was beside it.",
)
@click.option(
    "--plate",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write one frame of each lens at one size of the subject, the plan beneath: a .png, .jpg "
    "or .tif, or an .html page with a slider.",
)
@click.option("--match-exposure", is_flag=True, help="Bring the skies of a plate to one light.")
@overwrite_switch
@click.option("--exif-only", is_flag=True, help="Do not decode the pictures, nor measure trails.")
@all_switch
@json_switch
@gathered(clock=ReviewClock, wanted=ReviewWanted)
def command(  # noqa: D103
    paths: tuple[Path, ...],
    clock: ReviewClock,
    wanted: ReviewWanted,
    everything: bool,
    as_json: bool,
) -> int:

    named = paths[0].suffix.lower() == ".toml"
    outing, frames = (paths[0], paths[1:]) if named else (Path("outing.toml"), paths)
    if not frames:
        raise click.UsageError("Name the frames to review after the outing file.")
    if clock.camera_zone is not None:
        named_zone(clock.camera_zone)
    if wanted.plate is not None:
        review_plate.check_plate(wanted.plate, overwrite=wanted.overwrite)
    asked = load_outing(outing)
    ticks = (
        None if wanted.ticks_file is None else read_ticks(wanted.ticks_file, asked.night.evening)
    )
    plan = plan_night(asked)
    focal = math.nan if clock.focal_mm is None else clock.focal_mm
    given = Given(clock.camera_zone, clock.clock_ahead_s, focal, not wanted.exif_only)
    stars, plate = _looks(asked, plan, clock, wanted, focal)
    looks = [one for one in (stars, plate) if one is not None]
    progress = FrameProgress(len(frames))
    found = reviewed(asked, plan, frames, given, looks=looks, on_frame=progress)
    progress.close()
    if stars is not None:
        found = from_stars.with_stars(found, stars)
    if ticks is not None:
        found = with_ticks(found, plan, ticks)
    learning = _learning(outing, found, stars, wanted)
    if plate is not None and wanted.plate is not None:
        review_plate.write_plate(
            plate,
            found,
            wanted.plate,
            match_exposure=wanted.match_exposure,
            overwrite=wanted.overwrite,
        )
    if as_json:
        print_json(review_document(found))
    else:
        out = Screen()
        then = f"backbearing stand {outing} --compare"
        names = {asked.name, asked.subject.name, *(frame.name for frame in found.frames)}
        read = read_in(found, asked.units, frozenset(names))
        print_review(out, read, everything=everything, then=then, learning=learning)
        out.show()
    if not found.frames:
        return 1
    return 0 if found.placed else 3


def _looks(
    asked: Outing, plan: Plan, clock: ReviewClock, wanted: ReviewWanted, focal_mm: float
) -> tuple[StarLook | None, PlateLook | None]:
    """What else looks at the frames while they are decoded."""
    stars, plate = None, None
    if wanted.ask_stars or wanted.learn or clock.stands_within_m is not None:
        if wanted.exif_only:
            raise click.UsageError("The stars are in the pictures: leave out --exif-only.")
        stars = star_look.StarLook(asked, plan, focal_mm, clock.stands_within_m)
    if wanted.plate is not None:
        plate = review_plate.PlateLook(asked, plan, stars)
    return stars, plate


def _learning(
    outing: Path, found: Review, stars: StarLook | None, wanted: ReviewWanted
) -> Learning | None:
    """What the frames tell the outing: written where that was asked, else only said."""
    if stars is None:
        return None
    learning = learn_from_frames.learning_of(found, stars)
    return learn_from_frames.learn(outing, learning) if wanted.learn else learning
