"""``backbearing sheet``: one or two printed pages for the night."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.night.plan_night import plan_night
from backbearing.base.files import check_all_free, write_file
from backbearing.cli.common import (
    at_option,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.outing.load import load_outing
from backbearing.workflows.printed_sheet import card_pdf, write_sheet

if TYPE_CHECKING:
    from backbearing.sheet.pdf import Paper


@dataclass(frozen=True, slots=True)
class SheetFiles:
    """What to write."""

    pdf: Path | None
    html: Path | None
    card: Path | None
    overwrite: bool


@click.command("sheet", help="One or two printed pages for the night, as PDF and as HTML.")
@outing_argument
@at_option
@click.option("--pdf", metavar="FILE", type=click.Path(path_type=Path), help="Write this PDF.")
@click.option("--html", metavar="FILE", type=click.Path(path_type=Path), help="Write this page.")
@click.option(
    "--card",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="Write the correction card as PDF: stands for other heights of the subject, and for "
    "every 5 minutes.",
)
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
@gathered(files=SheetFiles)
def command(  # noqa: D103
    outing: Path, at: str | None, files: SheetFiles, paper: Paper, red: bool, as_json: bool
) -> int:

    pdf, html, card, overwrite = files.pdf, files.html, files.card, files.overwrite
    if pdf is None and html is None and card is None:
        pdf = Path("sheet.pdf")
    check_all_free([path for path in (pdf, html, card) if path is not None], overwrite=overwrite)
    asked = load_outing(outing)
    elevation = open_elevation(asked)
    plan = plan_night(asked, elevation, at=at)
    written: tuple[Path, ...] = ()
    if pdf is not None or html is not None:
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
    if card is not None:
        made = card_pdf(plan, elevation, paper=paper, red=red, units=asked.units)
        written = (*written, write_file(card, made, overwrite=overwrite))
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
