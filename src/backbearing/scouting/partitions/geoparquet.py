"""Tables of points as the bytes of GeoParquet files, and back."""

from __future__ import annotations

import io
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError
from backbearing.base.files import write_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import geopandas

ROWS_A_GROUP: Final = 1000
"""Rows that share one set of least and greatest values, so that a reader can leave them out."""

SCHEMA: Final = "1.1.0"

POINT: Final = 0
"""What shapely calls a point."""


class DamagedPartError(BackbearingError):
    """A part that cannot be read back as it was written."""


def with_arrow() -> Any:
    """Give the module ``pyarrow.parquet``.

    Raises
    ------
    BackbearingError
        When it is not installed.
    """
    try:
        import pyarrow.parquet
    except ImportError as problem:
        raise BackbearingError(
            "Candidates and rankings in parts need the package pyarrow",
            hint='install backbearing with "pip install backbearing[region]"',
        ) from problem
    return pyarrow.parquet


def parquet_bytes(frame: geopandas.GeoDataFrame) -> bytes:
    """Give points as a GeoParquet 1.1 file, with a box of every row to search by.

    See https://geoparquet.org/releases/v1.1.0/ (OGC).

    Parameters
    ----------
    frame : geopandas.GeoDataFrame
        Points in EPSG:4326; the index is not kept.

    Raises
    ------
    BackbearingError
        When pyarrow is not installed.
    """
    with_arrow()
    buffer = io.BytesIO()
    frame.to_parquet(
        buffer,
        index=False,
        compression="zstd",
        schema_version=SCHEMA,
        write_covering_bbox=True,
        row_group_size=ROWS_A_GROUP,
        write_page_checksum=True,
    )
    return buffer.getvalue()


def write_parquet(frame: geopandas.GeoDataFrame, path: Path) -> Path:
    """Write points to a GeoParquet file at once, over what is there.

    Raises
    ------
    BackbearingError
        When pyarrow is not installed.
    WriteRefusedError
        When the disk refuses.
    """
    return write_file(path, parquet_bytes(frame), overwrite=True)


def read_parquet(path: Path) -> geopandas.GeoDataFrame:
    """Read points back.

    Raises
    ------
    DamagedPartError
        For a file that is missing, cut short, or something else.
    """
    with opened(path) as file:
        return points_of(file.read())


@contextmanager
def opened(path: Path) -> Iterator[Any]:
    """Open a file to read some of it: a ``pyarrow.parquet.ParquetFile``.

    Raises
    ------
    DamagedPartError
        For a file that is missing, cut short, or something else, also while it is read.
    """
    parquet = with_arrow()
    try:
        with parquet.ParquetFile(path, page_checksum_verification=True) as file:
            yield file
    except BackbearingError:
        raise
    except Exception as problem:  # a damaged file fails in every way there is
        raise damaged(path, problem) from problem


def points_of(table: Any) -> geopandas.GeoDataFrame:
    """Make a frame of an Arrow table with points as WKB; the boxes to search by are left out."""
    import geopandas
    import shapely

    points = shapely.from_wkb(table["geometry"].to_numpy(zero_copy_only=False))
    if not (shapely.get_type_id(points) == POINT).all():
        raise ValueError("its geometry holds other things than points")
    names = [name for name in table.column_names if name != "bbox"]
    frame = table.select([name for name in names if name != "geometry"]).to_pandas()
    made = geopandas.GeoDataFrame(frame, geometry=points, crs="EPSG:4326")
    return made[names]


def damaged(path: Path, problem: Exception | str) -> DamagedPartError:
    """Say of a file that it is not what was written."""
    said = str(problem).splitlines()[0][:200] if str(problem) else type(problem).__name__
    return DamagedPartError(
        f"{path} is damaged ({said})",
        hint="delete it, and the same scout --into makes it again",
        path=str(path),
    )
