"""``backbearing nights``: which nights are dark with the target clear of the ridge, and when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from backbearing.alignment.night.best_night import best_night
from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.files import check_free, write_file
from backbearing.base.lazy import Later
from backbearing.base.text import night_label
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
from backbearing.cli.sharing import sharing_options
from backbearing.cli.sites_asked import SitesAsked
from backbearing.exports.ics import season_calendar
from backbearing.outing.load import load_outing
from backbearing.outing.write_keys import set_keys
from backbearing.pictures.season_picture import draw_season

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli import nights_sites
    from backbearing.plan.season import Season
else:
    # Many sites are seldom asked for.
    nights_sites = Later("backbearing.cli.nights_sites")


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
    write: str | None
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
@click.option(
    "--write",
    metavar="DATE",
    is_flag=False,
    flag_value="best",
    help="Put this night into the outing file, and change nothing else in it; of these nights "
    "the one with the longest good stretch when no date is given.",
)
@click.option("--red", is_flag=True, help="Draw red on black, for eyes used to the dark.")
@click.option(
    "--sites",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Of each place of a candidates' file instead, over its own skyline.",
)
@click.option("--layer", metavar="NAME", help="Which layer of a GeoPackage of sites with several.")
@click.option(
    "--csv",
    "table",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With --sites: a table of them, with the minutes of every night.",
)
@sharing_options(processes=None)
@overwrite_switch
@all_switch
@json_switch
@gathered(asked=NightsAsked, files=NightsFiles, many=SitesAsked)
def command(  # noqa: D103
    outing: Path,
    asked: NightsAsked,
    files: NightsFiles,
    many: SitesAsked,
    everything: bool,
    as_json: bool,
) -> int:
    many.check()
    if many.sites is not None:
        return _of_sites(outing, asked, files, many, everything=everything, as_json=as_json)
    if files.write == "best" and asked.stand is not None:
        raise click.UsageError("--write with --from-stand needs the DATE of the crossing meant.")
    if files.write not in (None, "best"):
        _date(str(files.write))
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
    chosen = None if files.write is None else _put_night(outing, found, files.write)
    if as_json:
        put = {} if chosen is None else {"written_evening": chosen.evening}
        print_json({"format": "backbearing-nights", "version": 1, "season": found, **put})
    else:
        out = Screen()
        if chosen is not None:
            out.say(chosen.said, hang=2)
        then = f"backbearing stand {outing}"
        print_season(out, found, of.units, everything=everything, then=then)
        out.show()
        for path in written:
            click.echo(f"Wrote {path}.")
    return 0 if found.found else 3


def _of_sites(
    outing: Path,
    asked: NightsAsked,
    files: NightsFiles,
    many: SitesAsked,
    *,
    everything: bool,
    as_json: bool,
) -> int:
    """The season of each of many sites."""
    if files.calendar or files.picture or files.write or files.red or asked.stand is not None:
        raise click.UsageError(
            "--sites answers many places: leave out --from-stand, --calendar, --picture, --write "
            "and --red."
        )
    of = load_outing(outing)
    return nights_sites.answer_sites(
        of if asked.moon_adds is None else of.with_moon_adding(asked.moon_adds),
        many,
        None if asked.first is None else asked.first.date(),
        asked.count,
        overwrite=files.overwrite,
        everything=everything,
        as_json=as_json,
    )


class _Chosen(NamedTuple):
    """The night that was put into the outing file, if any, and the line that says so."""

    evening: dt.date | None
    said: str


def _put_night(outing: Path, found: Season, write: str) -> _Chosen:
    """Set the evening in the outing file to a date, or to the best of the nights found."""
    if write == "best":
        best = best_night(found)
        if best is None:
            return _Chosen(None, f"No night is good, and {outing.name} stays as it is.")
        evening, why = best.night.evening, f", {best.among}"
    else:
        evening, why = _date(write), ""
    set_keys(outing, {"night": {"evening": evening}})
    return _Chosen(evening, f"Wrote {night_label(evening)} into {outing.name}{why}.")


def _date(word: str) -> dt.date:
    try:
        return dt.date.fromisoformat(word)
    except ValueError as problem:
        raise click.UsageError(
            f"--write takes a date such as 2027-06-05, or nothing, and not {word!r}; the outing "
            "file stands before it."
        ) from problem


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
