"""``backbearing year``: which nights of the coming year are best for several subjects."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.year.plan_year import plan_year
from backbearing.base.files import check_free, write_file
from backbearing.base.wall_clock import now_utc
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    kit_option,
    overwrite_switch,
    print_json,
)
from backbearing.cli.screen import Screen
from backbearing.cli.sharing import with_bar
from backbearing.cli.year_table import print_year
from backbearing.exports.year_ics import year_calendar
from backbearing.maps.year_page import year_page
from backbearing.outing.load import load_outing
from backbearing.plan.year import ENOUGH_MINUTES, LEAST_MINUTES, MOST_CHOSEN, YearRule
from backbearing.workflows.year_subjects import outings_named, outings_of_candidates

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.base.units import Units
    from backbearing.outing.request import Outing
    from backbearing.plan.year import Year


@dataclass(frozen=True, slots=True)
class SubjectsAsked:
    """Whose year: outing files and folders, or the first of a file of candidates."""

    named: tuple[Path, ...]
    candidates: Path | None
    top: int

    @property
    def outing(self) -> Path:
        """The one outing from which candidates are ranked, or the next command goes on."""
        return self.named[0] if self.named else Path("outing.toml")


@dataclass(frozen=True, slots=True)
class YearNights:
    """Which nights to look through."""

    first: dt.datetime | None
    nights: int

    @property
    def first_night(self) -> dt.date:
        """The evening of the first night; today's when none is named."""
        return now_utc().date() if self.first is None else self.first.date()


@dataclass(frozen=True, slots=True)
class YearFiles:
    """What to write beside the table."""

    page: Path | None
    calendar: Path | None
    overwrite: bool


@click.command(
    "year",
    help="Which three nights of the coming year are best over all subjects and their lenses.\n\n"
    "OUTINGS are outing files, or folders of them; ./outing.toml when left out.",
)
@click.argument("named", nargs=-1, type=click.Path(path_type=Path), metavar="[OUTINGS]...")
@kit_option
@click.option(
    "--from",
    "first",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Evening of the first night, such as 2027-05-01; today when left out.",
)
@click.option(
    "--nights",
    type=click.IntRange(1, 732),
    default=365,
    show_default=True,
    help="How many nights, up to two years.",
)
@click.option(
    "--choose",
    "count",
    type=click.IntRange(1, MOST_CHOSEN),
    default=3,
    show_default=True,
    help="How many nights to choose, with one to spare for each.",
)
@click.option(
    "--enough",
    "enough_minutes",
    type=click.FloatRange(1.0, 1440.0),
    default=ENOUGH_MINUTES,
    show_default=True,
    metavar="MIN",
    help="More good minutes than these count no further for a lens.",
)
@click.option(
    "--least",
    "least_minutes",
    type=click.FloatRange(1.0, 1440.0),
    default=LEAST_MINUTES,
    show_default=True,
    metavar="MIN",
    help="With so many at a time a lens has its minutes, where [session] does not say.",
)
@click.option(
    "--whole-kit",
    is_flag=True,
    help="Only nights on which every lens of a subject has its minutes.",
)
@click.option(
    "--one-subject", is_flag=True, help="Spend each night at one subject, the one it helps most."
)
@click.option(
    "--candidates",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Take the best of these candidates as subjects, with the one outing's kit.",
)
@click.option(
    "--top",
    type=click.IntRange(1, 50),
    default=5,
    show_default=True,
    help="How many of the candidates.",
)
@click.option("--page", type=click.Path(path_type=Path), metavar="FILE.html", help="One page.")
@click.option("--calendar", type=click.Path(path_type=Path), metavar="FILE", help="An .ics file.")
@overwrite_switch
@all_switch
@json_switch
@gathered(asked=SubjectsAsked, over=YearNights, rule=YearRule, files=YearFiles)
def command(  # noqa: D103
    asked: SubjectsAsked,
    over: YearNights,
    rule: YearRule,
    files: YearFiles,
    everything: bool,
    as_json: bool,
) -> int:
    if asked.candidates is not None and len(asked.named) > 1:
        raise click.UsageError("--candidates goes with one outing file, whose kit it takes.")
    for path in (files.page, files.calendar):
        if path is not None:
            check_free(path, overwrite=files.overwrite)
    outings = _outings(asked, over, quiet=as_json)
    year: Year = with_bar(
        lambda tell: plan_year(
            outings,
            first_night=over.first_night,
            nights=over.nights,
            rule=rule,
            progress=tell,
        ),
        "Looking through the nights:",
        "subjects",
        quiet=as_json,
    )
    written = _write(year, files, outings[0].units)
    if as_json:
        print_json({"format": "backbearing-year", "version": 1, "year": year})
    else:
        out = Screen()
        then = _then(asked, outings, year)
        print_year(out, year, outings[0].units, everything=everything, then=then)
        out.show()
        for path in written:
            click.echo(f"Wrote {path}.")
    return 0 if year.found else 3


def _outings(asked: SubjectsAsked, over: YearNights, *, quiet: bool) -> list[Outing]:
    if asked.candidates is None:
        return outings_named(asked.named or (asked.outing,))
    ranked = partial(
        outings_of_candidates,
        load_outing(asked.outing),
        asked.candidates,
        top=asked.top,
        first_night=over.first_night,
        nights=over.nights,
    )
    return with_bar(lambda tell: ranked(progress=tell), "Scouting", "candidates", quiet=quiet)


def _then(asked: SubjectsAsked, outings: list[Outing], year: Year) -> str:
    """The command that follows: settle the best night at the subject that it gives most."""
    if asked.candidates is not None:
        return f"backbearing scout {asked.outing} --candidates {asked.candidates} --plans plans"
    if not year.best:
        return f"backbearing nights {outings[0].path}"
    night = year.best[0]
    most = max(night.subjects, key=lambda one: one.good_minutes)
    return f"backbearing nights {outings[most.subject].path} --write {night.evening}"


def _write(year: Year, files: YearFiles, units: Units) -> list[Path]:
    """Write what was asked for beside the table."""
    written = []
    if files.page is not None:
        written.append(write_file(files.page, year_page(year, units), overwrite=files.overwrite))
    if files.calendar is not None:
        text = year_calendar(year).encode("utf-8")
        written.append(write_file(files.calendar, text, overwrite=files.overwrite))
    return written
