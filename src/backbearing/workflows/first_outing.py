"""A first outing from five answers: its ground found, its night chosen, its file written short."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.alignment.night.best_night import best_night
from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.constants import DEFAULT_REACH_M
from backbearing.base.errors import BackbearingError, NothingFoundError, TerrainError
from backbearing.base.limits import shown
from backbearing.base.numbers import num
from backbearing.fetching.cache import TileCache, ground_folder
from backbearing.fetching.fetch import TileState, common_layout, looked_up
from backbearing.fetching.source_settings import tile_sources
from backbearing.fetching.tile_scheme import Corner, tiles_about
from backbearing.outing.load import outing_of
from backbearing.outing.request import GroundRequest
from backbearing.outing.toml_edit import toml_value
from backbearing.outing.toml_text import parse_outing_text
from backbearing.workflows.first_answers import BestOf, plain_words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    from backbearing.base.place_notation import Place
    from backbearing.fetching.source import TileSource
    from backbearing.outing.request import Outing
    from backbearing.terrain.elevation import Elevation
    from backbearing.workflows.first_answers import NamedThing

RASTERS: Final = (".tif", ".tiff")
MOST_RASTERS: Final = 60
"""Files of a folder that are looked into for ground."""


@dataclass(frozen=True, slots=True)
class Ground:
    """A raster that holds the place: its keys under [ground], and opened."""

    keys: Mapping[str, Any]
    elevation: Elevation


@dataclass(frozen=True, slots=True)
class FirstAnswers:
    """Everything that a first outing is made of.

    Parameters
    ----------
    place : Place
    typed : str
        The place as it was typed, for a comment.
    subject : NamedThing
    kind : str
    night : date or BestOf
    lenses : sequence of mappings
        For each its keys in the file.
    camera : mapping
        Its keys in the file.
    ground : Ground
    position_sigma_m : float, optional
        Written where the place says how well it is known.
    """

    place: Place
    typed: str
    subject: NamedThing
    kind: str
    night: dt.date | BestOf
    lenses: Sequence[Mapping[str, Any]]
    camera: Mapping[str, Any]
    ground: Ground
    position_sigma_m: float | None = None


def opened_ground(path: Path, folder: Path, place: Place) -> Ground:
    """Open a raster and hold it to the place.

    Raises
    ------
    TerrainError
        When it cannot be read, or its height at the place is not known.
    """
    if not str(path.absolute()).isprintable():
        raise TerrainError(
            f"The path {shown(str(path))} fits into no outing file", hint="give it a plain name"
        )
    elevation = GroundRequest((path.absolute(),)).open()
    _check_holds(elevation, path.name, place)
    inside = path.absolute().is_relative_to(folder.absolute())
    named = path.absolute().relative_to(folder.absolute()) if inside else path.absolute()
    return Ground({"elevation": named.as_posix()}, elevation)


def opened_tiles(tiles: KeptTiles, place: Place) -> Ground:
    """Open the tiles that are kept on this computer, with their product and credit.

    Raises
    ------
    TerrainError
        When they cannot be read, or their height at the place is not known.
    """
    elevation = GroundRequest(tiles.files).open()
    _check_holds(elevation, tiles.source.title, place)
    names = [path.as_posix() for path in tiles.files]
    keys: dict[str, Any] = {"elevation": names[0] if len(names) == 1 else names}
    if tiles.source.known:
        keys["product"] = tiles.source.product
    if tiles.source.licence:
        keys["credit"] = tiles.source.licence
    return Ground(keys, elevation)


def _check_holds(elevation: Elevation, name: str, place: Place) -> None:
    height = elevation.height_at(lat=place.lat_deg, lon=place.lon_deg)
    if not np.isfinite(height):
        held = elevation.bounds
        raise TerrainError(
            f"{name} has no ground at the place; it reaches from {num(held.south, 3)} to "
            f"{num(held.north, 3)} degrees of latitude and {num(held.west, 3)} to "
            f"{num(held.east, 3)} of longitude",
            hint="name a raster that holds the subject and the ridges round it",
        )


class KeptTiles(NamedTuple):
    """Tiles of one source that `backbearing ground` brought to this computer."""

    source: TileSource
    files: tuple[Path, ...]


def kept_tiles(place: Place) -> KeptTiles | None:
    """Find the tiles about a place among those kept here; None where its own is not.

    Of tiles that differ in width those as wide as the place's own.
    """
    cache = TileCache(ground_folder())
    if not cache.folder.is_dir():
        return None
    own = Corner(math.floor(place.lat_deg), math.floor(place.lon_deg))
    corners = tiles_about(lat=place.lat_deg, lon=place.lon_deg, within_m=DEFAULT_REACH_M)
    for source in tile_sources():
        found = [one for one in looked_up(corners, source, cache) if one.path is not None]
        mine = [one for one in found if one.corner == own and one.state is TileState.HERE]
        if not mine or source.role == "canopy":
            continue
        alike = [one for one in found if len(common_layout([one, *mine], source)) == 1]
        return KeptTiles(source, tuple(one.path for one in alike if one.path is not None))
    return None


def found_ground(folders: Iterable[Path], place: Place) -> Path | None:
    """Find the raster of some folders that reaches farthest round the place; None without any."""
    best, reach = None, 0.0
    for path in _rasters(folders):
        try:
            bounds = opened_ground(path, path.parent, place).elevation.bounds
        except BackbearingError:
            continue
        margin = min(
            place.lat_deg - bounds.south, bounds.north - place.lat_deg,
            place.lon_deg - bounds.west, bounds.east - place.lon_deg,
        )  # fmt: skip
        if margin > reach:
            best, reach = path, margin
    return best


def _rasters(folders: Iterable[Path]) -> list[Path]:
    found = [
        path
        for folder in folders
        if folder.is_dir()
        for path in sorted(folder.iterdir())
        if path.suffix.lower() in RASTERS and path.is_file()
    ]
    return found[:MOST_RASTERS]


def settled(answers: FirstAnswers, file: Path, first_night: dt.date) -> tuple[str, Outing, str]:
    """Choose the night where that was left open, and give the file's text, the outing and why.

    Parameters
    ----------
    answers : FirstAnswers
    file : Path
        Where the outing will be written; nothing is written here.
    first_night : date
        The first of the nights to choose from.

    Returns
    -------
    tuple
        Text of the file, the outing it makes, and why this night, or nothing.

    Raises
    ------
    NothingFoundError
        When none of the nights is dark with the target clear of the ridge.
    BackbearingError
        For what the outing does not take.
    """
    if not isinstance(answers.night, BestOf):
        text = outing_text(answers, answers.night)
        return text, _outing(text, file), ""
    outing = _outing(outing_text(answers, first_night), file)
    nights = answers.night.nights
    season = plan_season(
        outing, first_night=first_night, nights=nights, elevation=answers.ground.elevation
    )
    best = best_night(season)
    if best is None:
        last = season.nights[-1]
        raise NothingFoundError(
            f"None of the {nights} nights from {first_night} to {last.evening} is dark with "
            f"{season.target_name} clear of the ridge; of the last one: {last.why_not}",
            hint='name a date, or more nights, such as "best of 300"',
        )
    text = outing_text(answers, best.night.evening, best.why)
    return text, _outing(text, file), best.why


def _outing(text: str, file: Path) -> Outing:
    return outing_of(parse_outing_text(text, file), file)


def outing_text(answers: FirstAnswers, evening: dt.date, why: str = "") -> str:
    """Write the outing file: what was answered, and nothing that has a default."""
    subject, place = answers.subject, answers.place
    lines = [
        "# Every other key has a default: docs/outing.md, or backbearing new --starter.",
        "format = 1",
        f"name = {toml_value(subject.name)}",
        "",
        "[ground]",
        *(f"{key} = {toml_value(value)}" for key, value in answers.ground.keys.items()),
        "",
        "[subject]",
        f"name = {toml_value(subject.name)}",
        *([f"kind = {toml_value(answers.kind)}"] if answers.kind else []),
        f"lat = {toml_value(round(place.lat_deg, 7))}{_comment(answers.typed)}",
        f"lon = {toml_value(round(place.lon_deg, 7))}",
        f"height_m = {toml_value(round(subject.height_m, 3))}",
    ]
    if subject.width_m is not None:
        lines.append(f"width_m = {toml_value(round(subject.width_m, 3))}")
    if answers.position_sigma_m is not None:
        lines.append(f"position_sigma_m = {toml_value(round(answers.position_sigma_m, 1))}")
    lines += [
        "",
        "[night]",
        *([f"# {evening}: {why}"] if why else []),
        f"evening = {evening.isoformat()}",
    ]
    lines += ["", "[camera]", *(f"{key} = {toml_value(v)}" for key, v in answers.camera.items())]
    lines.append("")
    for lens in answers.lenses:
        lines += ["[[lens]]", *(f"{key} = {toml_value(value)}" for key, value in lens.items())]
    return "\n".join(lines) + "\n"


def _comment(typed: str) -> str:
    """Give the place as typed behind its latitude, without what ends a line or steers one."""
    said = plain_words(typed)[:60]
    return f"  # {said}" if said else ""
