"""``backbearing stand``: where to stand for each lens, and when."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.lazy import Later
from backbearing.cli.common import (
    at_option,
    console,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.cli.plan_table import print_plan
from backbearing.exports.suffixes import check_exports
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from backbearing.cli import compare_table
    from backbearing.exports import plan_json
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation
    from backbearing.workflows import write_all
else:
    # What is asked for by an option of its own.
    compare_table = Later("backbearing.cli.compare_table")
    plan_json = Later("backbearing.exports.plan_json")
    write_all = Later("backbearing.workflows.write_all")


@dataclass(frozen=True, slots=True)
class PicturesAsked:
    """Whether to draw what each lens will see, where to, and how."""

    pictures: Path | None
    guides: bool
    red: bool


@click.command("stand", help="Where to stand for each lens, and when.")
@outing_argument
@at_option
@click.option("--compare", is_flag=True, help="Set the lenses beside one another.")
@click.option(
    "--pictures",
    metavar="FOLDER",
    type=click.Path(path_type=Path, file_okay=False),
    help="Draw what each lens will see, as .svg and .png in this folder.",
)
@click.option("--guides", is_flag=True, help="Thirds, margins and the target on the pictures.")
@click.option("--red", is_flag=True, help="The pictures in red on black.")
@click.option(
    "--export",
    "exports",
    metavar="FILE",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Write the plan too; .gpx .kml .gpkg .csv .geojson .ics or .json. Repeat for more.",
)
@overwrite_switch
@json_switch
@gathered(drawn=PicturesAsked)
def command(  # noqa: D103
    outing: Path,
    at: str | None,
    compare: bool,
    drawn: PicturesAsked,
    exports: tuple[Path, ...],
    overwrite: bool,
    as_json: bool,
) -> int:
    if drawn.pictures is None and (drawn.guides or drawn.red):
        raise click.UsageError("--guides and --red change the pictures; add --pictures FOLDER.")
    check_exports(exports, overwrite=overwrite)
    asked = load_outing(outing)
    elevation = open_elevation(asked)
    # The tables show no skyline; what is written as a file may.
    plan = plan_night(asked, elevation, at=at, whole_skyline=as_json or bool(exports))
    if as_json:
        print_json(plan_json.plan_document(plan))
    elif compare:
        compare_table.print_comparison(console(), plan)
    else:
        print_plan(console(), plan)
    _draw(plan, elevation, drawn, overwrite=overwrite)
    if exports:
        for path in write_all.write_exports(plan, elevation, exports, overwrite=overwrite):
            click.echo(f"wrote {path}", err=True)
    return 0 if any(lens.stand is not None for lens in plan.lenses) else 3


def _draw(plan: Plan, elevation: Elevation, drawn: PicturesAsked, *, overwrite: bool) -> None:
    """Write the pictures and name them on standard error, which leaves JSON alone."""
    if drawn.pictures is None:
        return
    for path in write_all.write_previews(
        plan, elevation, drawn.pictures, night=drawn.red, guides=drawn.guides, overwrite=overwrite
    ):
        click.echo(f"wrote {path}", err=True)
