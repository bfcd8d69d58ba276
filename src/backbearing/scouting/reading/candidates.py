"""Candidates for the frame, read from the file formats that people keep places in."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Final

from backbearing.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Callable
    from os import PathLike

    import geopandas

    from backbearing.scouting.rough import Rough

COLUMNS: Final = (
    *("id", "name", "kind", "height_m", "width_m", "height_is_guess", "width_is_guess"),
    *("access", "note"),
)
"""Columns of both frames, before the geometry."""

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


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that was left out or joined with another, and why.

    Attributes
    ----------
    row : int
        As the file counts: the line of a CSV file where the row begins, the number of the
        feature, waypoint or placemark from 1, the ``fid`` of a GeoPackage, or the
        OpenStreetMap element's number.
    reason : str
        A sentence that names the row.
    """

    row: int
    reason: str


@dataclass(frozen=True, eq=False)
class Candidates:
    """Possible subjects, and what else stands about them.

    Attributes
    ----------
    frame : geopandas.GeoDataFrame
        Points in EPSG:4326, index 0 to n - 1, with the columns ``id`` (``row 12``,
        ``node 123``), ``name``, ``kind`` (one of ``KINDS``, or ``other``), ``height_m`` and
        ``width_m`` in metres, ``height_is_guess`` and ``width_is_guess``, ``access`` (open,
        ask first, closed or unknown) and ``note``.
    others : geopandas.GeoDataFrame
        The same columns for whatever is no candidate itself and can clutter a frame.
    rejected : tuple of Rejected
        Rows left out, or joined with another, in the order of the file.
    source : str
        The file's name.
    notes : tuple of str
        What was settled for the whole file, in sentences.
    """

    frame: geopandas.GeoDataFrame
    others: geopandas.GeoDataFrame
    rejected: tuple[Rejected, ...]
    source: str
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.frame)

    def _repr_html_(self) -> str:
        """Show the first rows as a table, for a notebook."""
        from backbearing.notebook import told

        names = ["id", "name", "kind", "height_m", "width_m", "access"]
        rows = self.frame[names].head(10).to_numpy().tolist()
        said = f"{len(self)} candidates from {self.source}, {len(self.others)} things beside them."
        heads = [name.removesuffix("_m") for name in names]
        return told(said, heads, rows, [*(r.reason for r in self.rejected), *self.notes])


def read_candidates(path: str | PathLike[str], *, layer: str | None = None) -> Candidates:
    """Read candidates from GeoJSON, GeoPackage, CSV, GPX, KML or an OpenStreetMap extract.

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
        .csv [RFC4180]_, .geojson or .json [RFC7946]_, .gpkg [GPKG]_, .gpx [GPX11]_,
        .kml [KML2008]_ or .osm.pbf [OSMTags]_.
    layer : str, optional
        Which layer of a GeoPackage with several.

    Raises
    ------
    OutingError
        For a file that is missing, too large, of another kind, or without a single column
        of use; the sentence names the file.
    """
    file = Path(path)
    suffix = suffix_of(file)
    reader = _reader(file, suffix)
    check_file(file, LARGEST_BYTES[suffix], "candidates")
    if layer is not None and suffix != ".gpkg":
        raise OutingError(
            f"{file.name} has no layers; leave layer out, only a GeoPackage has them.",
            file=str(file),
        )
    from backbearing.scouting.settling import settle

    return settle(reader(file, layer), file)


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
        raise OutingError(f"{file} is a folder; name a file of {what}.", file=str(file))
    if not file.is_file():
        raise OutingError(f"There is no file of {what} at {file}.", file=str(file))
    size = file.stat().st_size
    if size == 0:
        raise OutingError(f"{file.name} is empty; write {what} into it.", file=str(file))
    if size > largest:
        raise OutingError(
            f"{file.name} is larger than {largest // _MB:,} MB, the most that is read of its "
            "format; cut out the part that you can drive to.",
            file=str(file),
        )


_READERS: Final = {
    ".csv": "reading_csv",
    ".geojson": "reading_geojson",
    ".json": "reading_geojson",
    ".gpkg": "reading_geopackage",
    ".gpx": "reading_gpx",
    ".kml": "reading_kml",
    ".osm.pbf": "reading_osm",
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
            f"{file.name}: candidates are read from .csv, .geojson, .gpkg, .gpx, .kml or "
            f".osm.pbf, not {suffix or 'a bare name'}; {hint}.",
            file=str(file),
        )
    read: Callable[[Path, str | None], Rough] = import_module(f"backbearing.scouting.{module}").read
    return read
