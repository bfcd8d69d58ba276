"""How large a file may be, and whether it is one to read at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.base.input_files import MB as _MB
from backbearing.base.input_files import check_readable

if TYPE_CHECKING:
    from pathlib import Path


LARGEST_BYTES: Final = {
    ".csv": 200 * _MB,
    ".geojson": 100 * _MB,
    ".json": 100 * _MB,
    ".geojsonl": 100 * _MB,
    ".geojsons": 100 * _MB,
    ".parquet": 1_000 * _MB,
    ".gpkg": 2_000 * _MB,
    ".gpx": 200 * _MB,
    ".kml": 200 * _MB,
    ".osm.pbf": 1_000 * _MB,
}
"""What is read of each format, bytes; a larger file is refused before it is opened."""


def suffix_of(file: Path) -> str:
    """Take the suffix that says the format, in small letters."""
    name = file.name.lower()
    return ".osm.pbf" if name.endswith(".osm.pbf") else file.suffix.lower()


def check_file(file: Path, largest: int, what: str) -> None:
    """Refuse what is missing, no regular file, empty or too large, before anything is read.

    Raises
    ------
    OutingError
        Names the file.
    """
    check_readable(file, what, largest_bytes=largest)
