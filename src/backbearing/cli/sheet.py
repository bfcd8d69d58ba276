"""``backbearing sheet``: one or two printed pages for the night."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.files import check_all_free
from backbearing.cli.common import (
    at_option,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.outing.load import load_outing
from backbearing.workflows.printed_sheet import write_sheet

if TYPE_CHECKING:
    from backbearing.sheet.pdf import Paper


@click.command("sheet", help="One or two printed pages for the night, as PDF and as HTML.")
@outing_argument
@at_option
@click.option("--pdf", metavar="FILE", type=click.Path(path_type=Path), help="Write this PDF.")
@click.option("--html", metavar="FILE", type=click.Path(path_type=Path), help="Write this page.")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="What it is printed on.",
)
@click.option("--red", is_flag=True, help="Red on black instead of black on white.")
@overwrite_switch
@json_switch
def command(  # noqa: D103
    outing: Path,
    at: str | None,
    pdf: Path | None,
    html: Path | None,
    paper: Paper,
    red: bool,
    overwrite: bool,
    as_json: bool,
) -> int:

    if pdf is None and html is None:
        pdf = Path("sheet.pdf")
    check_all_free([path for path in (pdf, html) if path is not None], overwrite=overwrite)
    asked = load_outing(outing)
    elevation = open_elevation(asked)
    plan = plan_night(asked, elevation, at=at)
    written = write_sheet(
        plan,
        elevation,
        pdf=pdf,
        html=html,
        paper=paper,
        red=red,
        overwrite=overwrite,
        units=asked.units,
    )
    if as_json:
        print_json(
            {"format": "backbearing-sheet", "version": 1, "written": list(map(str, written))}
        )
    else:
        for path in written:
            click.echo(f"wrote {path}")
        click.echo(
            "Care: a printed plan is no promise of safety or access; look by daylight first."
        )
        click.echo(f"Next: backbearing stand {outing} --map night.html")
    return 0 if any(lens.stand is not None for lens in plan.lenses) else 3
