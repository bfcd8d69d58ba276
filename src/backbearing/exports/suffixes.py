"""Which suffixes name a format, and refusing the others before anything is computed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.errors import WriteRefusedError
from backbearing.base.files import check_all_free

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

SUFFIXES = (".gpx", ".kml", ".gpkg", ".csv", ".geojson", ".ics", ".json")
"""Suffixes that name a format."""


def check_exports(paths: Sequence[Path], *, overwrite: bool = False) -> None:
    """Refuse, before anything is computed or written, what could not be written.

    Raises
    ------
    WriteRefusedError
        For a suffix that names no format, a path given twice, a file in the way, or no folder.
    """
    for path in paths:
        if path.suffix.lower() not in SUFFIXES:
            raise WriteRefusedError(
                f"{path} cannot be written: {path.suffix or 'a name without a suffix'} names no "
                "format here",
                hint=f"end the name in one of {', '.join(SUFFIXES)}",
                path=str(path),
            )
    check_all_free(paths, overwrite=overwrite)
