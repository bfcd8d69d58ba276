"""Candidates for the frame, read from the file formats that people keep places in."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import OutingError
from backbearing.base.input_files import checked_path
from backbearing.scouting.reading.cleaning import settle
from backbearing.tables.limits import LARGEST_BYTES, check_file, suffix_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from os import PathLike
    from pathlib import Path

    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.tables.raw_table import Rough


def read_candidates(path: str | PathLike[str], *, layer: str | None = None) -> Candidates:
    """Read candidates from GeoJSON, GeoPackage, GeoParquet, CSV, GPX, KML or OpenStreetMap.

    Each suffix is read as its one format, whatever the file holds. A table's columns (or a
    feature's properties) are ``name``, ``lat``, ``lon``, ``height_m``, ``width_m`` and
    ``kind``, and where wanted ``access``, ``note`` and ``role`` (``candidate``, or
    ``clutter`` for what only stands in the way; kinds that are no lone subject, such as
    houses, are clutter by themselves). A missing height is the kind's usual one, a missing
    width follows from its proportions, and both are marked as guesses. Rows that fail are
    reported and the rest go on; names are cleaned of what steers a terminal or a page.

    Parameters
    ----------
    path : path
        .csv [RFC4180]_, .geojson or .json [RFC7946]_, .geojsonl or .geojsons (a feature on each
        line), .gpkg [GPKG]_, .parquet (GeoParquet), .gpx [GPX11]_, .kml [KML2008]_ or .osm.pbf
        [OSMTags]_.
    layer : str, optional
        Which layer of a GeoPackage with several.

    Raises
    ------
    OutingError
        For a file that is missing, too large, of another kind, or without a single column
        of use; the sentence names the file.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import read_candidates
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> f"candidates: {len(candidates.frame)}, rows left out: {len(candidates.rejected)}"
    'candidates: 39, rows left out: 1'
    """
    file = checked_path(path)
    suffix = suffix_of(file)
    reader = _reader(file, suffix)
    check_file(file, LARGEST_BYTES[suffix], "candidates")
    if layer is not None and suffix != ".gpkg":
        raise OutingError(
            f"{file.name} has no layers",
            hint="leave layer out, only a GeoPackage has them",
            file=str(file),
        )

    return settle(reader(file, layer), file)


_READERS: Final = {
    ".csv": "csv_candidates",
    ".geojson": "geojson",
    ".json": "geojson",
    ".geojsonl": "geojson_sequence",
    ".geojsons": "geojson_sequence",
    ".parquet": "geoparquet",
    ".gpkg": "geopackage",
    ".gpx": "gpx",
    ".kml": "kml",
    ".osm.pbf": "osm",
}


def _reader(file: Path, suffix: str) -> Callable[[Path, str | None], Rough]:
    """Find the one reader of a suffix; what is loaded is no more than that."""
    module = _READERS.get(suffix)
    if module is None:
        hint = {
            ".kmz": "unpack it and name the .kml inside",
            ".pbf": "end the name of an OpenStreetMap extract with .osm.pbf",
        }.get(suffix, "save it as one of them")
        raise OutingError(
            f"{file.name}: candidates are read from .csv, .geojson, .geojsonl, .gpkg, .parquet, "
            f".gpx, .kml or .osm.pbf, not {suffix or 'a bare name'}",
            hint=hint,
            file=str(file),
        )
    read: Callable[[Path, str | None], Rough] = import_module(
        f"backbearing.scouting.reading.{module}"
    ).read
    return read
