"""Points, lines and areas in GeoParquet files 1.0 and 1.1, with pyarrow.

Geometries are WKB; other encodings are refused. Columns are those of a CSV file's header.
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.datum_shift import WGS84, Spread, is_wgs84, to_wgs84
from backbearing.base.errors import OutingError
from backbearing.base.text import crs_name
from backbearing.scouting.reading.features import rough_of
from backbearing.tables.json_stream import refuse
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pyproj import CRS

    from backbearing.tables.raw_table import Rough

KEYS: Final = ("name", "kind", "height_m", "width_m", "access", "role", "note")

MOST_GROUP_BYTES: Final = 2**31
"""Of one group of rows, unpacked; a file of larger ones is damaged or malicious."""


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a GeoParquet file.

    Raises
    ------
    OutingError
        Without the `pyarrow` package, or for a file that is no GeoParquet.
    """
    del layer
    cells: dict[str, list[Any]] = {}
    shapes: list[Any] = []
    said: list[str] = []
    for more, some, notes in _parts(file, 100_000):
        said = notes
        for key, column in more.items():
            cells.setdefault(key, []).extend(column)
        shapes += some
        if len(shapes) > MOST_ROWS:
            raise refuse(file, f"has more than {MOST_ROWS:,} rows; split it")
    return _rough(cells, shapes, 1, said)


def batches(file: Path, layer: str | None, size: int) -> Iterator[Rough]:
    """Read candidates from a GeoParquet file of any length, so many rows at a time.

    One that is not in WGS84 is gone through twice: one operation serves all its places.
    """
    del layer
    first = 1
    for cells, shapes, notes in _parts(file, size):
        yield _rough(cells, shapes, first, notes)
        first += len(shapes)


def _rough(cells: dict[str, list[Any]], shapes: list[Any], first: int, notes: list[str]) -> Rough:
    rows = [dict(zip(cells, row, strict=True)) for row in zip(*cells.values(), strict=True)]
    number = list(range(first, first + len(shapes)))
    rough = rough_of(rows or [{}] * len(shapes), shapes, "row", number, {})
    rough.notes.said.extend(notes)
    return rough


def _parts(file: Path, size: int) -> Iterator[tuple[dict[str, list[Any]], list[Any], list[str]]]:
    """Give cells by column, WGS84 geometries and what to say, some rows at a time."""
    import shapely

    with _opened(file) as data:
        geometry, crs = _geometry(file, data)
        notes, shift = [], None
        if not is_wgs84(crs):
            notes = [f"The file is in {crs_name(crs)}; its places were taken to WGS84."]
            spread = Spread(crs)
            for table in data.iter_batches(size, columns=[geometry]):
                corners = shapely.get_coordinates(_shapes(file, table, geometry))
                spread.add(corners[:, 0], corners[:, 1])
            shift = spread.shift()
        named = {name.lower(): name for name in data.schema_arrow.names}
        columns = [named[key] for key in KEYS if key in named]
        for table in data.iter_batches(size, columns=[*columns, geometry]):
            cells = {name.lower(): table[name].to_pylist() for name in columns}
            shapes = _shapes(file, table, geometry)
            if shift is not None:
                shapes = to_wgs84(list(shapes), crs, shift)
            yield cells, list(shapes), notes


def _shapes(file: Path, table: Any, geometry: str) -> Any:
    import shapely

    try:
        found = shapely.from_wkb(table[geometry].to_pylist(), on_invalid="ignore")
    except TypeError as problem:
        raise refuse(file, f"holds no WKB in its column {geometry!r}") from problem
    return shapely.force_2d(np.asarray(found, dtype=object))


@contextmanager
def _opened(file: Path) -> Iterator[Any]:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as problem:
        raise OutingError(
            "GeoParquet files need the package pyarrow",
            hint='install backbearing with "pip install backbearing[region]", or save as GeoJSON',
            package="pyarrow",
        ) from problem
    try:
        with pyarrow.parquet.ParquetFile(file) as data:
            groups = range(data.metadata.num_row_groups)
            if any(data.metadata.row_group(i).total_byte_size > MOST_GROUP_BYTES for i in groups):
                raise refuse(file, "holds a group of rows of more than 2 GB; write smaller ones")
            yield data
    except (pyarrow.ArrowException, OSError, ValueError) as problem:
        said = str(problem).splitlines()[0][:120] if str(problem) else type(problem).__name__
        raise refuse(file, f"cannot be read as GeoParquet ({said})") from problem


def _geometry(file: Path, data: Any) -> tuple[str, CRS]:
    """Name the column of geometries and find its coordinate system."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    told = (data.schema_arrow.metadata or {}).get(b"geo")
    if told is None:
        raise refuse(file, "is a Parquet file without geometries; save it as GeoParquet")
    try:
        geo = json.loads(told)
        name = str(geo["primary_column"])
        column = geo["columns"][name]
        encoding = str(column["encoding"])
    except (ValueError, KeyError, TypeError, RecursionError) as problem:
        raise refuse(file, "does not say where its geometries are; save it anew") from problem
    if encoding != "WKB" or name not in data.schema_arrow.names:
        raise refuse(file, f"holds geometries as {encoding[:40]!r}; save them as WKB")
    if "crs" not in column:
        return name, CRS.from_user_input(WGS84)
    if column["crs"] is None:
        raise refuse(file, "names no coordinate system; set one, such as EPSG:4326")
    try:
        return name, CRS.from_user_input(column["crs"])
    except (CRSError, TypeError) as problem:
        raise refuse(file, "names a coordinate system that is not known") from problem
