"""``backbearing review``: frames of the night beside the plan, their trails measured."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.lazy import Later
from backbearing.base.numbers import num
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    kit_option,
    overwrite_switch,
    print_json,
)
from backbearing.cli.review_table import print_review
from backbearing.cli.screen import Screen
from backbearing.outing.load import load_outing
from backbearing.plan.in_units import read_in
from backbearing.review.document import review_document
from backbearing.review.night import review_frames
from backbearing.review.ticks import read_ticks, with_ticks
from backbearing.sky.zones import named_zone

if TYPE_CHECKING:
    from backbearing.review import from_stars
    from backbearing.workflows import learn_subject, review_plate
else:
    # What is asked for by an option of its own.
    from_stars = Later("backbearing.review.from_stars")
    learn_subject = Later("backbearing.workflows.learn_subject")
    review_plate = Later("backbearing.workflows.review_plate")


@dataclass(frozen=True, slots=True)
class ReviewClock:
    """What the frames do not say of themselves."""

    camera_zone: str | None
    clock_ahead_s: float
    focal_mm: float | None


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
    "--learn",
    is_flag=True,
    help="Write the subject's height that the frames tell into the outing; asks the stars.",
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
    found = review_frames(
        asked,
        frames,
        plan=plan,
        camera_zone=clock.camera_zone,
        clock_ahead_s=clock.clock_ahead_s,
        focal_mm=focal,
        measure=not wanted.exif_only,
    )
    if wanted.exif_only and (wanted.ask_stars or wanted.learn):
        raise click.UsageError("The stars are in the pictures: leave out --exif-only.")
    if wanted.ask_stars or wanted.learn:
        found = from_stars.with_stars(found, asked, plan, frames, focal_mm=focal)
    if ticks is not None:
        found = with_ticks(found, plan, ticks)
    learned = learn_subject.learn_subject(outing, asked, found) if wanted.learn else {}
    if wanted.plate is not None:
        review_plate.write_plate(
            found,
            asked,
            plan,
            frames,
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
        print_review(out, read, everything=everything, then=then)
        if learned:
            said = ", ".join(f"{key} = {num(value)}" for key, value in learned.items())
            out.say(f"Learned, in {outing.name}: {said}.", hang=2)
        out.show()
    if not found.frames:
        return 1
    return 0 if found.placed else 3
