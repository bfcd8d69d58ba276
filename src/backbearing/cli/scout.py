"""``backbearing scout``: which of many candidates are worth the drive, over many nights."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.base.files import check_free
from backbearing.base.lazy import Later
from backbearing.cli import ranked as ranked_command
from backbearing.cli.common import (
    all_switch,
    gathered,
    json_switch,
    outing_argument,
    overwrite_switch,
    print_json,
)
from backbearing.cli.scout_table import print_ranking
from backbearing.cli.screen import Screen
from backbearing.cli.sharing import sharing_options, watched
from backbearing.exports.ranking_files import ranking_document, write_ranking
from backbearing.maps.scouting_page import ScoutingAbout
from backbearing.outing.load import load_outing
from backbearing.scouting.partitions.merged import Wanted
from backbearing.scouting.partitions.read_back import read_ranked
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.run.dask_cluster import scout_region
from backbearing.scouting.run.into_parts import Sharing, scout_into
from backbearing.scouting.run.run import scout
from backbearing.workflows.scouting_map import write_scouting_page
from backbearing.workflows.shortlist import write_shortlist

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.workflows import cloud_ranking
else:
    # Asked for with --forecast alone.
    cloud_ranking = Later("backbearing.workflows.cloud_ranking")


@dataclass(frozen=True, slots=True)
class CandidatesAsked:
    """Which candidates, over which nights; the outing's own where left out."""

    candidates: Path | None
    layer: str | None
    first: dt.datetime | None
    count: int | None
    forecast: Path | None

    @property
    def nights(self) -> int | None:
        """How many nights: one alone for a forecast, where no number is given."""
        return 1 if self.count is None and self.forecast is not None else self.count

    def first_night(self, asked: Outing) -> dt.date | None:
        """The first night: of a forecast that in which it begins, where no date is given."""
        if self.first is not None:
            return self.first.date()
        if self.forecast is None:
            return None
        return cloud_ranking.first_evening(asked, self.forecast)

    def read(self, asked: Outing) -> Candidates:
        """Read the candidates from the named file or the outing's own."""
        return read_candidates(self.file(asked), layer=self.layer)

    def file(self, asked: Outing) -> Path:
        """The named file, or the outing's own."""
        named = self.candidates or asked.scouting.candidates
        if named is None:
            raise click.UsageError(
                "Name a file of candidates: --candidates FILE, or candidates under [scouting] in "
                f"{asked.path.name}."
            )
        return named


@dataclass(frozen=True, slots=True)
class RankingFiles:
    """What to write of a ranking."""

    page: Path | None
    gpkg: Path | None
    csv: Path | None
    plans: Path | None
    planned: int
    overwrite: bool

    def asked(self) -> list[str]:
        """Options by which something is to be written."""
        named = (("--map", self.page), ("--gpkg", self.gpkg), ("--csv", self.csv))
        return [option for option, path in (*named, ("--plans", self.plans)) if path is not None]


@dataclass(frozen=True, slots=True)
class WorkShared:
    """How the work is shared out, and where finished parts are kept."""

    keep: Path | None
    into: Path | None
    processes: int
    chunk: int | None
    scheduler: str | None


@click.command("scout", help="Which of many candidates are worth the drive, and on which night.")
@outing_argument
@click.option(
    "--candidates",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="A .csv, .geojson, .geojsonl, .gpkg, .parquet, .gpx, .kml or .osm.pbf file; the outing's "
    "own when left out.",
)
@click.option("--layer", metavar="NAME", help="Which layer of a GeoPackage with several.")
@click.option(
    "--from",
    "first",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="DATE",
    help="Evening of the first night, such as 2027-05-01; the outing's own when left out.",
)
@click.option(
    "--nights",
    "count",
    type=click.IntRange(1, 732),
    help="How many nights, up to two years; the outing's own when left out.",
)
@click.option(
    "--forecast",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Order by a forecast's cloud (NetCDF, GRIB, CSV or JSON), for the night in which it "
    "begins unless --from and --nights say else.",
)
@click.option(
    "--top", type=click.IntRange(1), default=10, show_default=True, help="How many to show."
)
@click.option("--map", "page", type=click.Path(path_type=Path), metavar="FILE.html", help="A map.")
@click.option(
    "--gpkg", type=click.Path(path_type=Path), metavar="FILE", help="The ranking as GeoPackage."
)
@click.option("--csv", type=click.Path(path_type=Path), metavar="FILE", help="The ranking as CSV.")
@click.option(
    "--plans",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Write an outing file and a page for each of the first ones; the map links to them.",
)
@click.option(
    "--plans-for",
    "planned",
    type=click.IntRange(1, 50),
    default=3,
    show_default=True,
    help="For how many of them.",
)
@click.option(
    "--chunk",
    type=click.IntRange(1, 100_000),
    default=None,
    help="So many candidates at a time; else a twelfth of all, from 20 to 500.",
)
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="Rank into this folder part by part, however many candidates there are; the same command "
    "goes on from there. See the ranking with `backbearing ranked`.",
)
@sharing_options()
@overwrite_switch
@all_switch
@json_switch
@gathered(sought=CandidatesAsked, files=RankingFiles, shared=WorkShared)
def command(  # noqa: D103
    outing: Path,
    sought: CandidatesAsked,
    files: RankingFiles,
    shared: WorkShared,
    top: int,
    everything: bool,
    as_json: bool,
) -> int:
    for path in (files.page, files.gpkg, files.csv):
        if path is not None:
            check_free(path, overwrite=files.overwrite)
    asked = load_outing(outing)
    if shared.into is not None:
        return _into_parts(asked, sought, files, shared, shared.into, top, as_json)
    work = partial(_ranked, asked, sought.read(asked), sought, shared)
    ranking = watched(work, "Scouting", "candidates", keep=shared.keep, quiet=as_json)
    if sought.forecast is not None:
        ranking = cloud_ranking.ranked_by_cloud(ranking, asked, sought.forecast)
    written = _write(asked, ranking, files)
    if as_json:
        print_json(ranking_document(ranking))
    else:
        out = Screen()
        then = f"backbearing scout {outing} --plans plans --map scouting.html"
        print_ranking(out, ranking, asked.units, top=top, everything=everything, then=then)
        out.show()
        for path in written:
            click.echo(f"Wrote {path}.")
    return 0 if ranking.ranked else 3


def _ranked(
    asked: Outing,
    candidates: Candidates,
    sought: CandidatesAsked,
    shared: WorkShared,
    progress: Callable[[int, int], None] | None,
) -> Ranking:
    """Rank the candidates, on this machine or over a cluster."""
    common: dict[str, Any] = {
        "first_night": sought.first_night(asked),
        "nights": sought.nights,
        "chunk": shared.chunk,
        "keep": shared.keep,
        "progress": progress,
    }
    if shared.scheduler is None:
        return scout(asked, candidates, processes=shared.processes, **common)
    address = None if shared.scheduler == "local" else shared.scheduler
    return scout_region(asked, candidates, scheduler=address, workers=shared.processes, **common)


def _into_parts(
    asked: Outing,
    sought: CandidatesAsked,
    files: RankingFiles,
    shared: WorkShared,
    folder: Path,
    top: int,
    as_json: bool,
) -> int:
    """Rank into a folder, and show the first of what is there."""
    unfit = files.asked() + ["--keep"] * (shared.keep is not None)
    unfit += ["--forecast"] * (sought.forecast is not None)
    if unfit:
        raise click.UsageError(
            f"{unfit[0]} does not go with --into: it is there to be seen with "
            f"backbearing ranked {folder}, which writes files of the part that is wanted."
        )
    work = partial(
        scout_into,
        asked,
        sought.file(asked),
        folder,
        layer=sought.layer,
        first_night=sought.first_night(asked),
        nights=sought.nights,
        sharing=Sharing(shared.processes, shared.scheduler, shared.chunk),
    )
    watched(lambda told: work(progress=told), "Scouting", "candidates", keep=folder, quiet=as_json)
    return ranked_command.show(read_ranked(folder, Wanted(top)), as_json=as_json)


def _links(page: Path, pages: dict[str, Path]) -> dict[str, str]:
    """Addresses of the plans as seen from the map's folder."""
    import os
    from urllib.parse import quote

    home = page.resolve().parent
    return {
        key: quote(Path(os.path.relpath(path.resolve(), home)).as_posix())
        for key, path in pages.items()
    }


def _write(asked: Outing, ranking: Ranking, files: RankingFiles) -> list[Path]:
    """Write what was asked for beside the table."""
    pages: dict[str, Path] = {}
    elevation, overwrite = None, files.overwrite
    if files.page is not None or files.plans is not None:
        elevation = open_elevation(asked)
    if files.plans is not None:
        pages = write_shortlist(
            asked,
            ranking,
            files.plans,
            count=files.planned,
            elevation=elevation,
            overwrite=overwrite,
        )
    written = [
        write_ranking(ranking, path, overwrite=overwrite)
        for path in (files.gpkg, files.csv)
        if path is not None
    ]
    written += pages.values()
    if files.page is not None and elevation is not None:
        about = ScoutingAbout(
            title=asked.name,
            credit=asked.ground.credit or elevation.tags.get("credit", "") or "your raster",
            plans=_links(files.page, pages),
            command=f"backbearing scout {asked.path.name} --plans plans --plans-for {{rank}}",
            least_minutes=asked.scouting.least_minutes,
        )
        written.append(
            write_scouting_page(ranking, elevation, files.page, about=about, overwrite=overwrite)
        )
    return written
