"""``backbearing review``: frames of the night beside the plan, their trails measured."""

from __future__ import annotations

import math
from pathlib import Path

import click

from backbearing.alignment.night.plan_night import plan_night
from backbearing.cli.common import all_switch, json_switch, kit_option, print_json
from backbearing.cli.review_table import print_review
from backbearing.cli.screen import Screen
from backbearing.outing.load import load_outing
from backbearing.plan.in_units import read_in
from backbearing.review import from_stars
from backbearing.review.document import review_document
from backbearing.review.night import review_frames
from backbearing.review.ticks import read_ticks, with_ticks
from backbearing.sky.zones import named_zone


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
@click.option("--exif-only", is_flag=True, help="Do not decode the pictures, nor measure trails.")
@all_switch
@json_switch
def command(  # noqa: D103
    paths: tuple[Path, ...],
    camera_zone: str | None,
    clock_ahead_s: float,
    focal_mm: float | None,
    ticks_file: Path | None,
    ask_stars: bool,
    exif_only: bool,
    everything: bool,
    as_json: bool,
) -> int:

    named = paths[0].suffix.lower() == ".toml"
    outing, frames = (paths[0], paths[1:]) if named else (Path("outing.toml"), paths)
    if not frames:
        raise click.UsageError("Name the frames to review after the outing file.")
    if camera_zone is not None:
        named_zone(camera_zone)
    asked = load_outing(outing)
    ticks = None if ticks_file is None else read_ticks(ticks_file, asked.night.evening)
    plan = plan_night(asked)
    found = review_frames(
        asked,
        frames,
        plan=plan,
        camera_zone=camera_zone,
        clock_ahead_s=clock_ahead_s,
        focal_mm=math.nan if focal_mm is None else focal_mm,
        measure=not exif_only,
    )
    if ask_stars and not exif_only:
        found = from_stars.with_stars(
            found, asked, plan, frames, focal_mm=math.nan if focal_mm is None else focal_mm
        )
    if ticks is not None:
        found = with_ticks(found, plan, ticks)
    if as_json:
        print_json(review_document(found))
    else:
        out = Screen()
        then = f"backbearing stand {outing} --compare"
        names = {asked.name, asked.subject.name, *(frame.name for frame in found.frames)}
        read = read_in(found, asked.units, frozenset(names))
        print_review(out, read, everything=everything, then=then)
        out.show()
    if not found.frames:
        return 1
    return 0 if found.placed else 3
