"""``backbearing stand``: where to stand for each lens, and when."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.files import check_free
from backbearing.base.lazy import Later
from backbearing.cli.common import (
    all_switch,
    at_option,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.cli.plan_answer import print_answer
from backbearing.cli.screen import Screen
from backbearing.exports.suffixes import check_exports
from backbearing.outing.load import load_outing
from backbearing.plan.in_units import in_units

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli import compare_table, plan_table
    from backbearing.exports import plan_json
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation
    from backbearing.workflows import plan_page, write_all
else:
    # What is asked for by an option of its own.
    plan_page = Later("backbearing.workflows.plan_page")
    plan_table = Later("backbearing.cli.plan_table")
    compare_table = Later("backbearing.cli.compare_table")
    plan_json = Later("backbearing.exports.plan_json")
    write_all = Later("backbearing.workflows.write_all")


@dataclass(frozen=True, slots=True)
class PicturesAsked:
    """Whether to draw what each lens will see, where to, and how."""

    pictures: Path | None
    guides: bool
    red: bool


@dataclass(frozen=True, slots=True)
class FilesAsked:
    """What to write of the plan."""

    exports: tuple[Path, ...]
    page: Path | None
    overwrite: bool


@dataclass(frozen=True, slots=True)
class Said:
    """How the plan is printed."""

    compare: bool
    everything: bool
    as_json: bool


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
@click.option(
    "--map", "page", type=click.Path(path_type=Path), metavar="FILE.html", help="Write the page."
)
@all_switch
@overwrite_switch
@json_switch
@gathered(drawn=PicturesAsked, files=FilesAsked, said=Said)
def command(  # noqa: D103
    outing: Path,
    at: str | None,
    drawn: PicturesAsked,
    files: FilesAsked,
    said: Said,
) -> int:
    if drawn.pictures is None and (drawn.guides or drawn.red):
        raise click.UsageError("--guides and --red change the pictures; add --pictures FOLDER.")
    overwrite = files.overwrite
    check_exports(files.exports, overwrite=overwrite)
    if files.page is not None:
        check_free(files.page, overwrite=overwrite)
    asked = load_outing(outing)
    elevation = open_elevation(asked)
    # What is printed shows no skyline; what is written as a file may.
    whole = said.as_json or bool(files.exports) or files.page is not None
    plan = plan_night(asked, elevation, at=at, whole_skyline=whole)
    _say(asked, outing, plan, said)
    _draw(plan, elevation, drawn, asked.units, overwrite=overwrite)
    if files.exports:
        for path in write_all.write_exports(
            plan, elevation, files.exports, overwrite=overwrite, units=asked.units
        ):
            click.echo(f"wrote {path}", err=True)
    if files.page is not None:
        plan_page.write_page(
            plan, elevation, files.page, units=asked.units, outing=asked, overwrite=overwrite
        )
        click.echo(f"wrote {files.page}", err=True)
    return 0 if any(lens.stand is not None for lens in plan.lenses) else 3


def _say(asked: Outing, outing: Path, plan: Plan, said: Said) -> None:
    """Print the plan, in the way that was asked for."""
    if said.as_json:
        print_json(plan_json.plan_document(plan))
        return
    out = Screen()
    if said.compare:
        then = f"backbearing stand {outing} --pictures pictures"
        compare_table.print_comparison(
            out, plan, asked.units, everything=said.everything, then=then
        )
    else:
        read = in_units(plan, asked.units)
        print_answer(out, read, then=f"backbearing sheet {outing}", units=asked.units)
        if said.everything:
            plan_table.print_plan(out, read, asked.units)
    out.show()


def _draw(
    plan: Plan, elevation: Elevation, drawn: PicturesAsked, units: Units, *, overwrite: bool
) -> None:
    """Write the pictures and name them on standard error, which leaves JSON alone."""
    if drawn.pictures is None:
        return
    for path in write_all.write_previews(
        plan,
        elevation,
        drawn.pictures,
        night=drawn.red,
        guides=drawn.guides,
        units=units,
        overwrite=overwrite,
    ):
        click.echo(f"wrote {path}", err=True)
