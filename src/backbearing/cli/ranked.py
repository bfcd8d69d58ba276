"""``backbearing ranked``: part of a ranking that was made with ``scout --into``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from backbearing.base.errors import NothingFoundError
from backbearing.base.files import check_all_free
from backbearing.base.lazy import Later
from backbearing.base.numbers import counted
from backbearing.base.place_notation import read_place
from backbearing.base.text import night_label
from backbearing.base.units import Units, read_length_m
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    overwrite_switch,
    print_json,
)
from backbearing.cli.scout_table import print_reasons, print_table
from backbearing.cli.screen import Screen
from backbearing.exports.ranking_files import ranking_document, write_ranking
from backbearing.scouting.partitions.merged import Box, Circle, Wanted
from backbearing.scouting.partitions.read_back import ReadBack, read_ranked

if TYPE_CHECKING:
    from backbearing.workflows import ranked_map
else:
    # Asked for with --map alone.
    ranked_map = Later("backbearing.workflows.ranked_map")


@dataclass(frozen=True, slots=True)
class PartAsked:
    """Which part of the ranking."""

    top: int
    after: int
    at: str | None
    within_m: float | None
    box: str | None
    failed: bool

    def wanted(self) -> Wanted:
        """The same as the ranking's reader takes it."""
        return Wanted(self.top, self.after, self._where(), self.failed)

    def _where(self) -> Box | Circle | None:
        if self.box is not None and (self.at or self.within_m) is not None:
            raise click.UsageError("Write --box, or --within and --at; not both.")
        if (self.at is None) != (self.within_m is None):
            raise click.UsageError("--within and --at go together: --within 30km --at 36.3,-84.2.")
        if self.at is not None and self.within_m is not None:
            place = read_place(self.at)
            return Circle(place.lat_deg, place.lon_deg, self.within_m)
        return None if self.box is None else _box(self.box)


@dataclass(frozen=True, slots=True)
class PartFiles:
    """What to write of it."""

    page: Path | None
    gpkg: Path | None
    csv: Path | None
    geojson: Path | None
    outing: Path | None
    overwrite: bool


def _box(text: str) -> Box:
    try:
        west, south, east, north = (float(part) for part in text.split(","))
    except ValueError:
        raise click.UsageError(
            "--box takes four numbers, west,south,east,north: --box=-24.5,36.0,-23.0,37.2."
        ) from None
    return Box(west, south, east, north)


def _length(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    return None if value is None else read_length_m(value)


@click.command("ranked", help="The first, a page or a province of a ranking from scout --into.")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--top", type=int, default=10, show_default=True, help="How many, up to 20,000.")
@click.option(
    "--after", type=int, default=0, help="Pass over so many that fit first: a later page."
)
@click.option("--within", "within_m", metavar="LENGTH", callback=_length, help="Such as 30km.")
@click.option("--at", metavar="PLACE", help="Of which place --within is meant.")
@click.option(
    "--box", metavar="W,S,E,N", help="Only within these degrees; --box=-24.5,36,-23,37.2."
)
@click.option("--failed", is_flag=True, help="Also those that cannot work, last.")
@click.option("--map", "page", type=click.Path(path_type=Path), metavar="FILE.html", help="A map.")
@click.option("--gpkg", type=click.Path(path_type=Path), metavar="FILE", help="As GeoPackage.")
@click.option("--csv", type=click.Path(path_type=Path), metavar="FILE", help="As CSV.")
@click.option("--geojson", type=click.Path(path_type=Path), metavar="FILE", help="As GeoJSON.")
@click.option(
    "--outing",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Whose ground the map shows; that of the ranking when left out.",
)
@overwrite_switch
@all_switch
@json_switch
@gathered(part=PartAsked, files=PartFiles)
def command(  # noqa: D103
    folder: Path, part: PartAsked, files: PartFiles, everything: bool, as_json: bool
) -> int:
    named = (files.page, files.gpkg, files.csv, files.geojson)
    check_all_free([path for path in named if path is not None], overwrite=files.overwrite)
    back = read_ranked(folder, part.wanted())
    written = [
        write_ranking(back.ranking, path, overwrite=files.overwrite)
        for path in (files.gpkg, files.csv, files.geojson)
        if path is not None
    ]
    if files.page is not None:
        written.append(
            ranked_map.write_ranked_map(
                back, files.page, outing=files.outing, overwrite=files.overwrite
            )
        )
    return show(back, as_json=as_json, everything=everything, written=written)


def show(
    back: ReadBack, *, as_json: bool, everything: bool = False, written: list[Path] | None = None
) -> int:
    """Print part of a ranking, and say how far the whole is."""
    if as_json:
        print_json(_document(back))
    else:
        out = Screen()
        _print(out, back, everything=everything)
        out.show()
        for path in written or []:
            click.echo(f"Wrote {path}.")
    return 0 if len(back.ranking) else NothingFoundError.exit_code


def _document(back: ReadBack) -> dict[str, Any]:
    """The ranking's own document, with how far the whole is; minutes are of the best lens."""
    told = ranking_document(back.ranking)
    for one in told["candidates"]:
        one["best_minutes"] = [night[0] for night in one.pop("minutes")]
    whole = {
        "candidates": back.folder.candidates,
        "done": back.done,
        "ranked": back.ranked,
        "parcels": back.folder.parcels,
        "parcels_done": back.parcels,
        "rejected": back.folder.rejected_count,
    }
    return {**told, "format": "backbearing-ranking-part", "whole": whole}


def _print(out: Screen, back: ReadBack, *, everything: bool) -> None:
    ranking, folder = back.ranking, back.folder
    units = Units(folder.units)
    nights = "one night" if ranking.nights == 1 else f"{ranking.nights} nights"
    out.title(
        f"{back.ranked:,} of {back.done:,} candidates ranked over {nights} from "
        f"{night_label(ranking.first_night)}; times in {ranking.zone}."
    )
    if back.done < folder.candidates:
        out.say(
            f"Not finished: {folder.candidates - back.done:,} candidates are still to come, and "
            "ranks may change. The same scout --into goes on."
        )
    if not len(ranking):
        out.say("None of them fits what was asked.")
    else:
        print_table(out, ranking.frame, units)
    for _, row in ranking.frame.head(len(ranking) if everything else 1).iterrows():
        print_reasons(out, row, ranking.weights)
    if folder.rejected_count:
        out.say(f"Left out of the file: {counted(folder.rejected_count, 'rows')}.")
    if everything:
        for note in ranking.notes:
            out.say(f"· {note}", hang=2)
    else:
        out.say("Care: a rank is no leave to go there. Reasons, parts and limits: --all.")
