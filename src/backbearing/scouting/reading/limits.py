"""How large a file may be, and whether it is one to read at all."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from pathlib import Path


_MB: Final = 1_000_000


LARGEST_BYTES: Final = {
    ".csv": 200 * _MB,
    ".geojson": 100 * _MB,
    ".json": 100 * _MB,
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
    """Refuse what is missing, a folder, empty or too large, before anything is read.

    Raises
    ------
    OutingError
        Names the file.
    """
    if file.is_dir():
        raise OutingError(f"{file} is a folder", hint=f"name a file of {what}", file=str(file))
    if not file.is_file():
        raise OutingError(f"There is no file of {what} at {file}.", file=str(file))
    size = file.stat().st_size
    if size == 0:
        raise OutingError(f"{file.name} is empty", hint=f"write {what} into it", file=str(file))
    if size > largest:
        raise OutingError(
            f"{file.name} is larger than {largest // _MB:,} MB, the most that is read of its "
            "format",
            hint="cut out the part that you can drive to",
            file=str(file),
        )
