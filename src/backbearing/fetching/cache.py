"""The folder in which tiles are kept, shared by all outings of one person.

It is the user's *data* folder, not the cache one: outings name the tiles in it, and what tidies
caches away must not take the ground from under them. A folder a source, a file a tile. Beside a
tile that is being fetched lie ``.part`` (what came so far), ``.part.json`` (which version of the
file that was) and ``.lock`` (who is at it).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

from backbearing.base.files import made_folder, process_is_alive

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.fetching.source import TileSource
    from backbearing.fetching.tile_scheme import Corner

SEA_SUFFIX: Final = ".sea.tif"


def ground_folder() -> Path:
    """Where tiles are kept when nothing else is said."""
    from platformdirs import user_data_path

    return user_data_path("backbearing", appauthor=False) / "ground"


class Held(NamedTuple):
    """What a cache holds: tiles of land, tiles of open sea, bytes of both."""

    tiles: int
    seas: int
    size_bytes: int


@dataclass(frozen=True, slots=True)
class TileCache:
    """A folder of tiles.

    Parameters
    ----------
    folder : Path
        It need not exist.
    """

    folder: Path

    def place(self, source: TileSource, corner: Corner) -> Path:
        """Where a tile is or would be."""
        return self.home(source) / source.file_name(corner)

    def sea_place(self, source: TileSource, corner: Corner) -> Path:
        """Where the stand-in for a tile of open sea is or would be."""
        return self.home(source) / f"{corner.name}{SEA_SUFFIX}"

    def home(self, source: TileSource) -> Path:
        """The folder of a source."""
        return self.folder / re.sub(r"[^a-z0-9]+", "-", source.name).strip("-")

    def made_home(self, source: TileSource) -> Path:
        """Make the folder of a source where it is missing."""
        return made_folder(self.home(source))

    def found(self, source: TileSource, corner: Corner) -> Path | None:
        """Give a tile's file, or its stand-in where it is open sea; None when neither is here."""
        for path in (self.place(source, corner), self.sea_place(source, corner)):
            if path.is_file():
                return path
        return None

    def held(self) -> Held:
        """Count what is here."""
        tiles = seas = size = 0
        for home in self.folder.iterdir() if self.folder.is_dir() else ():
            for path in _rasters(home):
                size += path.stat().st_size
                seas += is_sea(path)
                tiles += not is_sea(path)
        return Held(tiles, seas, size)

    def land(self, source: TileSource) -> list[Path]:
        """Files of the source's tiles of land that are here."""
        return [path for path in _rasters(self.home(source)) if not is_sea(path)]

    def mean_bytes(self, source: TileSource) -> float | None:
        """Mean size of the source's tiles of land that are here; None without any."""
        sizes = [path.stat().st_size for path in self.land(source)]
        return sum(sizes) / len(sizes) if sizes else None

    def tidy(self, source: TileSource) -> None:
        """Take away what runs that were killed left half written."""
        for path in self.made_home(source).glob(".*-*"):
            owner = path.name[1:].partition("-")[0]
            if owner.isascii() and owner.isdigit() and not process_is_alive(int(owner)):
                path.unlink(missing_ok=True)


def _rasters(home: Path) -> list[Path]:
    """Files of a folder that are tiles, none that is half written."""
    if not home.is_dir() or home.name.startswith("."):
        return []
    return [
        path
        for path in sorted(home.iterdir())
        if path.suffix.lower() in (".tif", ".tiff", ".hgt") and not path.name.startswith(".")
    ]


def is_sea(path: Path) -> bool:
    """Whether a file of the cache stands in for open sea."""
    return path.name.endswith(SEA_SUFFIX)
