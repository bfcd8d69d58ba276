"""``backbearing nights``: which nights are dark with the target clear of the ridge, and when."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.files import check_free, write_file
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.cli.nights_table import print_season
from backbearing.cli.screen import Screen
from backbearing.exports.ics import season_calendar
from backbearing.outing.load import load_outing
from backbearing.pictures.season_picture import draw_season

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.base.units import Units
    from backbearing.plan.season import Season


@dataclass(frozen=True, slots=True)
class NightsAsked:
    """Which nights to look through, from where, and how much Moon is welcome."""

    first: dt.datetime | None
    count: int
    stand: tuple[float, float] | None
    within_deg: float
    moon_adds: float | None


@dataclass(frozen=True, slots=True)
class NightsFiles:
    """What to write beside the table."""

    calendar: Path | None
    picture: Path | None
    red: bool
    overwrite: bool


@click.command(
    "nights",
    help="Dark windows with the target clear of the ridge, night by night, and why not.",
)
@outing_argument
@click.option(
    "--from",
    "first",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Evening of the first night, such as 2027-05-01; the file's own when left out.",
)
@click.option(
    "--nights",
    "count",
    type=click.IntRange(1, 732),
    default=30,
    show_default=True,
    help="How many nights, up to two years.",
)
@click.option(
    "--from-stand",
    "stand",
    nargs=2,
    type=float,
    metavar="LAT LON",
    help="Only this stand is open to you: when the target stands behind the subject from it.",
)
@click.option(
    "--within",
    "within_deg",
    type=click.FloatRange(0.0, 45.0, min_open=True),
    default=1.0,
    show_default=True,
    metavar="DEG",
    help="Angle that still counts as behind the subject.",
)
@click.option(
    "--moon-adds",
    type=click.FloatRange(0.0, 10.0),
    metavar="MAG",
    help="Also accept a Moon that brightens the sky at the target by at most so many magnitudes.",
)
@click.option("--calendar", type=click.Path(path_type=Path), metavar="FILE", help="An .ics file.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Draw the nights too, to a .svg or .png file.",
)
@click.option("--red", is_flag=True, help="Draw red on black, for eyes used to the dark.")
@overwrite_switch
@all_switch
@json_switch
@gathered(asked=NightsAsked, files=NightsFiles)
def command(  # noqa: D103
    outing: Path, asked: NightsAsked, files: NightsFiles, everything: bool, as_json: bool
) -> int:
    if files.red and files.picture is None:
        raise click.UsageError("--red changes the picture; add --picture FILE.")
    for path in (files.calendar, files.picture):
        if path is not None:
            check_free(path, overwrite=files.overwrite)
    of = load_outing(outing)
    lat, lon = (None, None) if asked.stand is None else asked.stand
    found = plan_season(
        of if asked.moon_adds is None else of.with_moon_adding(asked.moon_adds),
        first_night=None if asked.first is None else asked.first.date(),
        nights=asked.count,
        stand_lat=lat,
        stand_lon=lon,
        within_deg=asked.within_deg,
    )
    written = _write(found, files, of.units)
    if as_json:
        print_json({"format": "backbearing-nights", "version": 1, "season": found})
    else:
        out = Screen()
        then = f"backbearing stand {outing}"
        print_season(out, found, of.units, everything=everything, then=then)
        out.show()
        for path in written:
            click.echo(f"Wrote {path}.")
    return 0 if found.found else 3


def _write(found: Season, files: NightsFiles, units: Units) -> list[Path]:
    """Write what was asked for beside the table."""
    written, overwrite = [], files.overwrite
    if files.picture is not None:
        picture = draw_season(
            files.picture, found, night=files.red, overwrite=overwrite, units=units
        )
        written.append(picture)
    if files.calendar is not None:
        text = season_calendar(found).encode("utf-8")
        written.append(write_file(files.calendar, text, overwrite=overwrite))
    return written
