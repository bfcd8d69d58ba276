"""The ground for a place: tell what it takes, bring it, cut it out, write it into the outing."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import BackbearingError, FetchError
from backbearing.base.geodesy import line_between
from backbearing.base.place_notation import read_place
from backbearing.base.units import METRIC
from backbearing.fetching.by_hand import Taken, take
from backbearing.fetching.cache import TileCache, ground_folder
from backbearing.fetching.fetch import Progress, TileState, fetch, looked_up
from backbearing.fetching.outing_ground import (
    files_to_write,
    said_of_another,
    write_ground,
)
from backbearing.fetching.reach import LOW_DEG, Highest, SkylineReach, highest_land
from backbearing.fetching.report import GroundReport
from backbearing.fetching.source import source_named
from backbearing.fetching.source_settings import tile_sources
from backbearing.fetching.tile_scheme import tiles_about
from backbearing.fetching.window import Piece, window_name, write_window
from backbearing.outing.load import load_outing
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.fetching.download import Manner
    from backbearing.outing.request import Outing

LEAST_WITHIN_M: Final = 1_000.0


@dataclass(frozen=True, slots=True)
class GroundAsked:
    """What is asked of the ground.

    Attributes
    ----------
    outing : Path or None
        Whose subject is the place, and where the ground is written.
    at : str or None
        The place as typed, where it is not the subject.
    within_m : float or None
        How far ground is wanted; as far as the skyline must reach when left out.
    highest_m : float or None
        The highest land about the place, where one knows it.
    source : str
        Name of the source; the first there is when empty.
    """

    outing: Path | None = None
    at: str | None = None
    within_m: float | None = None
    highest_m: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class GroundFolders:
    """Where tiles are kept and settings are read; the user's own when left out."""

    cache: Path | None = None
    config: Path | None = None

    @property
    def tiles(self) -> TileCache:
        """The cache of tiles."""
        return TileCache(self.cache or ground_folder())


@dataclass(frozen=True, slots=True)
class GroundDone:
    """What was found, taken and written.

    Attributes
    ----------
    report : GroundReport
    taken : Taken or None
        What came of ``--from``.
    piece : Piece or None
        The window.
    written : Path or None
        The outing that names the ground now.
    stays : tuple of str
        Keys in it that were written for another raster.
    """

    report: GroundReport
    taken: Taken | None = None
    piece: Piece | None = None
    written: Path | None = None
    stays: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GroundWork:
    """What to do besides telling.

    Attributes
    ----------
    fetch : bool
        Whether servers may be asked.
    from_path : Path or None
        A folder or archive with tiles brought by hand.
    window : bool
        Whether only the piece within reach is wanted, as a file of its own.
    write : bool
        Whether the outing is to name the ground.
    overwrite : bool
        Whether a piece that is in the way may be replaced.
    """

    fetch: bool = False
    from_path: Path | None = None
    window: bool = False
    write: bool = False
    overwrite: bool = False


def survey(asked: GroundAsked, folders: GroundFolders) -> GroundReport:
    """Say what the ground about a place takes; asks no server.

    Raises
    ------
    BackbearingError
        For a place, length, source or file that is none.
    """
    sources = tile_sources(folders.config)
    source = source_named(asked.source, sources)
    outing = None if asked.outing is None else load_outing(asked.outing)
    lat, lon = _place(asked, outing)
    cache = folders.tiles
    reach = SkylineReach(0.0, _highest(asked, lat, lon), _refraction_k(outing))
    within_m = asked.within_m
    if within_m is None:
        usual = DEFAULT_REACH_M if outing is None else outing.ground.reach_m
        within_m = max(LEAST_WITHIN_M, min(reach.distance_m(LOW_DEG), usual))
    degrees = source.scheme.degrees
    corners = tiles_about(lat=lat, lon=lon, within_m=within_m, degrees=degrees)
    report = GroundReport(
        lat, lon, within_m, reach, source, looked_up(corners, source, cache), cache
    )
    return _with_eye(report)


def do(
    asked: GroundAsked,
    work: GroundWork,
    folders: GroundFolders,
    *,
    told: Callable[[Progress], None] = lambda _: None,
    manner: Manner | None = None,
) -> GroundDone:
    """Tell, and do what is asked besides.

    Raises
    ------
    BackbearingError
        In one sentence, what cannot be done.
    """
    if work.write and asked.outing is None:
        raise FetchError(
            "--write needs an outing to write to", hint="name its file before the options"
        )
    taken = None
    if work.from_path is not None:
        # A place that is none is said before anything is copied.
        survey(asked, folders)
        asked, taken = _take(asked, work.from_path, folders)
    report = survey(asked, folders)
    if work.fetch and not work.window:
        corners = tuple(one.corner for one in report.tiles)
        found = fetch(corners, report.source, report.cache, told=told, manner=manner)
        report = _with_eye(replace(report, tiles=found))
    if work.write and asked.outing is not None:
        _check_subject(asked.outing, report)
    piece = _piece(asked, work, report, told, manner) if work.window else None
    written: Path | None = None
    stays: tuple[str, ...] = ()
    if work.write and asked.outing is not None:
        stays = said_of_another(asked.outing)
        files = [piece.path] if piece else files_to_write(report)
        written = write_ground(asked.outing, files, report.source)
    return GroundDone(report, taken, piece, written, stays)


def _check_subject(outing: Path, report: GroundReport) -> None:
    """Refuse to write ground about another place than the outing's."""
    subject = load_outing(outing).subject
    away = line_between(lat1=report.lat, lon1=report.lon, lat2=subject.lat, lon2=subject.lon)
    if float(away.distance_m) > report.within_m:
        raise FetchError(
            f"The subject of {outing.name} lies {METRIC.length(float(away.distance_m))} from the "
            "place of --at",
            hint="leave --at out to bring the ground about the subject",
        )


def _take(asked: GroundAsked, named: Path, folders: GroundFolders) -> tuple[GroundAsked, Taken]:
    """Take tiles brought by hand; what is asked is then of their source."""
    sources = tile_sources(folders.config)
    wanted = (source_named(asked.source, sources),) if asked.source else sources
    source, taken = take(named, wanted, folders.tiles)
    if source is None:
        why = f": {taken.refused[0]}" if taken.refused else ""
        raise FetchError(
            f"{named.name} holds no tile that can be taken{why}",
            hint="see docs/ground.md for the names and layouts that are known",
        )
    return replace(asked, source=source.name), taken


def _piece(
    asked: GroundAsked,
    work: GroundWork,
    report: GroundReport,
    told: Callable[[Progress], None],
    manner: Manner | None,
) -> Piece:
    """Cut the piece out, beside the outing or here."""
    folder = Path() if asked.outing is None else asked.outing.parent
    return write_window(
        report,
        folder / window_name(report),
        from_server=work.fetch,
        overwrite=work.overwrite,
        told=lambda done, of: told(Progress(done, of, 0, 0)),
        manner=manner,
    )


def _place(asked: GroundAsked, outing: Outing | None) -> tuple[float, float]:
    if asked.at is not None:
        return read_place(asked.at)
    if outing is not None:
        return outing.subject.lat, outing.subject.lon
    raise FetchError(
        "No place is given", hint="write --at PLACE, or name an outing for its subject"
    )


def _highest(asked: GroundAsked, lat: float, lon: float) -> Highest:
    if asked.highest_m is not None:
        return Highest(asked.highest_m, "as you say")
    return highest_land(lat=lat, lon=lon)


def _refraction_k(outing: Outing | None) -> float:
    return DEFAULT_REFRACTION_K if outing is None else outing.ground.refraction_k


def _with_eye(report: GroundReport) -> GroundReport:
    """Put the eye on the ground where its tile is here; at the sea's level, most cautious, else."""
    return replace(report, reach=replace(report.reach, eye_m=_eye_m(report)))


def _eye_m(report: GroundReport) -> float:
    here = [one.path for one in report.of(TileState.HERE) if one.path is not None]
    for path in here:
        try:
            height = float(Elevation.open(path).height_at(lat=report.lat, lon=report.lon))
        except BackbearingError:
            continue
        if math.isfinite(height):
            return height
    return 0.0
