"""``backbearing new``: a first outing from five answers, and its plan at once."""

from __future__ import annotations

import datetime as dt
import sys
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.base.errors import BackbearingError, NothingFoundError
from backbearing.base.files import check_free, write_file
from backbearing.base.lazy import Later
from backbearing.base.text import night_label
from backbearing.cli.common import gathered, json_switch, kit_option, overwrite_switch, print_json
from backbearing.cli.new_questions import Asker, NewAsked

if TYPE_CHECKING:
    from backbearing.alignment.night import plan_night
    from backbearing.cli import plan_answer, screen
    from backbearing.outing.request import Outing
    from backbearing.workflows import first_outing
    from backbearing.workflows.first_outing import FirstAnswers
else:
    # The starter file is written without them.
    plan_night = Later("backbearing.alignment.night.plan_night")
    plan_answer = Later("backbearing.cli.plan_answer")
    screen = Later("backbearing.cli.screen")
    first_outing = Later("backbearing.workflows.first_outing")


@dataclass(frozen=True, slots=True)
class NewSaid:
    """What is written and said besides."""

    starter: bool
    overwrite: bool
    as_json: bool


@click.command(
    "new",
    help="A first outing from five answers, and its plan at once. On a terminal it asks for what "
    "no option says; elsewhere the options say it all.",
)
@click.argument("outing", type=click.Path(path_type=Path), default=Path("outing.toml"))
@click.option("--at", metavar="PLACE", help='Where the subject stands: "31 30 S 148 12 E", ...')
@click.option("--name", metavar="TEXT", help="What it is called.")
@click.option("--kind", metavar="TEXT", help="What it is, for people.")
@click.option("--height", metavar="METRES", help='How high it is; "30 ft" will do.')
@click.option("--width", metavar="METRES", help="How wide it is; half the height when left out.")
@click.option("--night", metavar="DATE", help='The evening\'s date, or "best of 90".')
@click.option("--lenses", metavar="LIST", help='Such as "16, 24, 85", or names of your kit.')
@click.option(
    "--ground", metavar="FILE", help="An elevation raster that holds it; kept: your tiles."
)
@click.option("--camera", metavar="BODY", help='Of your kit, "APS-C", "36 x 24 mm, 6000 x 4000".')
@click.option(
    "--from",
    "first",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="The first night of the best ones; tonight when left out.",
)
@kit_option
@click.option("--starter", "--all", is_flag=True, help="Write the long commented starter instead.")
@overwrite_switch
@json_switch
@gathered(asked=NewAsked, said=NewSaid)
def command(outing: Path, asked: NewAsked, said: NewSaid) -> int:  # noqa: D103
    check_free(outing, overwrite=said.overwrite)
    if said.starter:
        return _starter(outing, said)
    terminal = sys.stdin.isatty() and sys.stdout.isatty() and not said.as_json
    asker = Asker(asked, outing.absolute().parent, terminal=terminal)
    answers = asker.answers()
    first = dt.datetime.now().astimezone().date() if asked.first is None else asked.first.date()
    while True:
        if terminal:
            click.echo("Looking ...", err=True)
        try:
            text, made, why = first_outing.settled(answers, outing, first)
        except NothingFoundError as problem:
            if not terminal:
                raise
            answers = asker.another_night(answers, problem)
        else:
            break
    return _planned(outing, (text, made, why), answers, said)


def _starter(outing: Path, said: NewSaid) -> int:
    starter = resources.files("backbearing").joinpath("data", "starter_outing.toml")
    written = write_file(outing, starter.read_text(encoding="utf-8"), overwrite=said.overwrite)
    if said.as_json:
        print_json({"format": "backbearing-new", "version": 1, "written": str(written)})
        return 0
    click.echo(f"Wrote {written}. Set the raster, the subject and the night in it.")
    click.echo(f"Next: backbearing stand {written}")
    return 0


def _planned(
    file: Path, made: tuple[str, Outing, str], answers: FirstAnswers, said: NewSaid
) -> int:
    """Plan the outing, write it, and say both; stopped before that, it leaves nothing."""
    text, outing, why = made
    night = night_label(outing.night.evening)
    if said.as_json:
        write_file(file, text, overwrite=said.overwrite)
        facts = {"written": str(file), "evening": outing.night.evening, "why_this_night": why}
        print_json({"format": "backbearing-new", "version": 1, **facts})
        return 0
    try:
        plan = plan_night.plan_night(outing, answers.ground.elevation)
    except BackbearingError:
        # Five answers are not to be lost for a plan that fails.
        write_file(file, text, overwrite=said.overwrite)
        click.echo(f"Wrote {file}, but it has no plan yet:", err=True)
        raise
    write_file(file, text, overwrite=said.overwrite)
    out = screen.Screen()
    out.say(f"Wrote {file}. Night: {night}{f', {why}' if why else ''}.", hang=2)
    then = f"backbearing sheet {file}"
    plan_answer.print_answer(out, plan, then=then, units=outing.units, lines=27)
    out.show()
    return 0 if any(lens.stand is not None for lens in plan.lenses) else 3
