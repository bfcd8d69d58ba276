"""Candidates out of files of any length, a batch of rows at a time.

The rows are those of `read_candidates` before doubles are joined. What is larger than it takes is
read here too: a feature at a time is held, and for an OpenStreetMap extract the few outlines that
may stand for a node.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.scouting.reading.osm_batches import batches as osm_batches
from backbearing.tables.limits import check_file, suffix_of
from backbearing.tables.raw_table import Batch

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from backbearing.tables.raw_table import Rough

LARGEST_BYTES: Final = 100 * 10**9
"""Of a file that is read in batches; one beyond is refused before it is opened."""

_READERS: Final = {
    ".csv": "csv_candidates",
    ".geojson": "geojson",
    ".json": "geojson",
    ".geojsonl": "geojson_sequence",
    ".geojsons": "geojson_sequence",
    ".gpkg": "geopackage",
    ".parquet": "geoparquet",
}


def in_batches(file: Path) -> bool:
    """Whether a file's format is read in batches; others are read whole."""
    return suffix_of(file) in (*_READERS, ".osm.pbf")


def batches_of(file: Path, layer: str | None, size: int, folder: Path) -> Iterator[Batch]:
    """Give a file's rows, so many at a time.

    Parameters
    ----------
    file : Path
    layer : str or None
        Which layer of a GeoPackage with several.
    size : int
        Rows of the file to a batch; of a wood each point on its edge is a row.
    folder : Path
        For what reading needs on disk meanwhile.

    Raises
    ------
    OutingError
        As for `read_candidates`; also while rows are asked for.
    """
    suffix = suffix_of(file)
    check_file(file, LARGEST_BYTES, "candidates")
    if suffix == ".osm.pbf":
        # The library takes a comma for the end of the name.
        index = None if "," in str(folder) else folder / "places-of-nodes"
        try:
            yield from osm_batches(file, size, index)
        finally:
            if index is not None:
                index.unlink(missing_ok=True)
        return
    read: Callable[[Path, str | None, int], Iterator[Rough]] = import_module(
        f"backbearing.scouting.reading.{_READERS[suffix]}"
    ).batches
    first = 0
    for rough in read(file, layer, size):
        yield Batch(rough, np.arange(first, first + len(rough), dtype=np.int64))
        first += len(rough)
