"""A file of candidates of any length cut into a parts folder, never held whole.

In a first pass rows are checked each by itself, set down on disk by tile, and noted where they
may be doubles. Then doubles are joined, wherever they lie, and each tile is taken up with its
neighbours and written as a part. The rows are those of `read_candidates`, to the last field.
"""

from __future__ import annotations

import tempfile
from array import array
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError, WriteRefusedError
from backbearing.base.files import made_folder
from backbearing.scouting.partitions.candidate_parts import (
    INDEX,
    MOST_TOLD,
    PartsAbout,
    seal_parts,
    write_candidate_parts,
)
from backbearing.scouting.partitions.far_doubles import FarDoubles
from backbearing.scouting.partitions.geoparquet import with_arrow
from backbearing.scouting.partitions.settled_parts import Joined, write_parts
from backbearing.scouting.partitions.spill import Spill, numbers_of_places
from backbearing.scouting.reading.batches import batches_of, in_batches
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.scouting.reading.cleaning import (
    LONGEST_NOTE,
    check_rows,
    notes_of_file,
    nothing_in,
    rejected,
    said_of_double,
)
from backbearing.tables.cleaned import LONGEST_NAME, clean
from backbearing.tables.raw_table import Notes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from backbearing.plan.ranking import Rejected
    from backbearing.scouting.partitions.candidate_parts import CandidateParts
    from backbearing.scouting.reading.cleaning import Checked
    from backbearing.tables.raw_table import Batch, LeftOut
    from backbearing.terrain.grid import Grid

BATCH: Final = 2_000
"""Rows read at a time."""

MOST_ROWS: Final = 50_000_000
"""Of one file; more is malice, or more than one disk should hold."""


def split_candidates(
    file: Path, grid: Grid, folder: Path, *, digest: str, layer: str | None = None
) -> CandidateParts:
    """Cut a file of candidates into a parts folder, without holding all its rows.

    CSV, GeoJSON and sequences of it, GeoPackage, GeoParquet and OpenStreetMap extracts are read a
    batch at a time; GPX and KML whole.

    Parameters
    ----------
    file : Path
    grid : Grid
        Of the raster that they are ranked on.
    folder : Path
        Made when missing; parts that are there give way.
    digest : str
        By which the folder is known again: see `PartsAbout`.
    layer : str, optional
        Which layer of a GeoPackage with several.

    Raises
    ------
    OutingError
        As `read_candidates`, but for what it says of size; also for more than 50 million rows.
    WriteRefusedError
        When the folder cannot be made, or the disk is full.
    BackbearingError
        When pyarrow is not installed.
    """
    with_arrow()
    if not in_batches(file):
        found = read_candidates(file, layer=layer)
        return write_candidate_parts(found, grid, folder, digest=digest)
    with _cleared(folder) as beside:
        told = _Told()
        spill, doubles = Spill(beside, grid), FarDoubles(beside)
        try:
            for batch in batches_of(file, layer, BATCH, beside):
                told.add(_set_down(batch, spill, doubles), batch)
                if told.rows > MOST_ROWS:
                    raise OutingError(
                        f"{file.name} has more than {MOST_ROWS:,} rows",
                        hint="split it",
                        file=str(file),
                    )
            if not told.rows:
                raise nothing_in(file)
            spill.flush()
            spill.mend_by(_joined(grid, spill, doubles, told).mend)
            parts = write_parts(grid, spill, folder)
        finally:
            doubles.close()
            spill.close()
        about = PartsAbout(file.name, digest, told.notes(), told.first_rejected(), told.left_out)
        return seal_parts(folder, parts, about)


@contextmanager
def _cleared(folder: Path) -> Iterator[Path]:
    """Make the folder, without parts of old, and one in it for what is needed meanwhile."""
    made_folder(folder)
    try:
        for old in (folder / INDEX, *folder.glob("part-*.parquet")):
            old.unlink(missing_ok=True)
        with tempfile.TemporaryDirectory(prefix=".reading-", dir=folder) as beside:
            yield Path(beside)
    except OSError as problem:
        raise WriteRefusedError(
            f"{folder} cannot take the candidates in parts ({problem.strerror or problem})",
            hint="make room, or name a folder on another disk",
            path=str(folder),
        ) from problem


@dataclass
class _Told:
    """What is to be said of the whole file.

    ``left_out`` counts rows that are not used; ``late`` holds why some that were set down are
    not.
    """

    rows: int = 0
    left_out: int = 0
    late: dict[int, LeftOut] = field(default_factory=dict)
    _said: dict[str, None] = field(default_factory=dict)
    _rejected: dict[int, Rejected] = field(default_factory=dict)
    _drawn: int = 0
    _by_kind: int = 0
    _kinds: set[str] = field(default_factory=set)
    _faulty: array[int] = field(default_factory=lambda: array("q"))

    def add(self, checked: Checked, batch: Batch) -> None:
        rough = batch.rough
        self.rows += len(rough)
        self.left_out += len(rough.faults)
        self._said.update(dict.fromkeys(rough.notes.said))
        self._drawn += rough.notes.drawn
        self._by_kind += int(checked.by_kind.sum())
        self._kinds.update(checked.kinds[i].plural for i in np.flatnonzero(checked.by_kind))
        for i in sorted(rough.faults):
            self.reject(int(batch.rows[i]), rough.number[i], rough.ids[i], rough.faults[i])
            self._faulty.append(int(batch.rows[i]))
        if batch.late:
            self.late.update(batch.late)
            self.left_out += len(set(batch.late).difference(self._faulty))
            for row, why in batch.late.items():
                self.reject(row, why.number, why.id, why.reason)

    def reject(self, row: int, number: int, name: str, reason: str) -> None:
        """Note a row that is left out; those that come first in the file are told."""
        self._rejected[row] = rejected(number, name, reason)
        if len(self._rejected) > 2 * MOST_TOLD:
            for late in sorted(self._rejected)[MOST_TOLD:]:
                del self._rejected[late]

    def first_rejected(self) -> tuple[Rejected, ...]:
        return tuple(self._rejected[row] for row in sorted(self._rejected)[:MOST_TOLD])

    def notes(self) -> tuple[str, ...]:
        return notes_of_file(Notes(list(self._said), self._drawn), self._by_kind, self._kinds)


def _set_down(batch: Batch, spill: Spill, doubles: FarDoubles) -> Checked:
    """Check a batch of rows and set those that pass down by tile."""
    import pyarrow as pa

    rough, checked = batch.rough, check_rows(batch.rough)
    kept = np.flatnonzero(checked.kept)
    rows, lat, lon = batch.rows[kept], rough.lat[kept], rough.lon[kept]
    doubles.add(rows, lat=lat, lon=lon, group=checked.groups[kept])
    if not len(kept):
        return checked
    columns: dict[str, Any] = {
        "id": pa.array([rough.ids[i] for i in kept], pa.string()),
        "number": np.array([rough.number[i] for i in kept], dtype=np.int64),
        "name": pa.array([clean(rough.name[i], LONGEST_NAME) for i in kept], pa.string()),
        "named": np.array([bool(rough.name[i]) for i in kept], dtype=np.bool_),
        "kind": pa.array([checked.kinds[i].name for i in kept], pa.string()),
        "access": pa.array([checked.access[i] for i in kept], pa.string()),
        "note": pa.array([clean(rough.note[i], LONGEST_NOTE) for i in kept], pa.string()),
        "candidate": ~checked.clutter[kept],
        "row": rows,
        "lat": lat,
        "lon": lon,
    }
    for key in ("height_m", "width_m", "height_is_guess", "width_is_guess"):
        columns[key] = getattr(rough, key)[kept]
    spill.add(pa.table(columns))
    return checked


def _joined(grid: Grid, spill: Spill, doubles: FarDoubles, told: _Told) -> Joined:
    """Join doubles: which rows go, and what those that stay learn from them."""
    of, company = doubles.found(set(told.late))
    wanted = np.array(sorted({*of, *(first for first, _ in of.values())}), dtype=np.int64)
    records = _records(grid, spill, company[np.isin(company["row"], wanted)])
    learned: dict[int, dict[str, Any]] = {}
    for row, (first, metres) in sorted(of.items()):
        one, other = records[first], records[row]
        for key, mark in (("height_m", "height_is_guess"), ("width_m", "width_is_guess")):
            if one[mark] and not other[mark]:
                one[key], one[mark] = other[key], False
        if not one["named"]:
            one["name"], one["named"] = other["name"], other["named"]
        learned[first] = one
        told.reject(row, other["number"], other["id"], said_of_double(one["id"], metres))
    told.left_out += len(of)
    return Joined(np.array(sorted({*of, *told.late}), dtype=np.int64), learned)


def _records(grid: Grid, spill: Spill, some: NDArray[Any]) -> dict[int, dict[str, Any]]:
    """Take up some rows by themselves."""
    numbers = numbers_of_places(grid, lat=some["lat"], lon=some["lon"])
    found = {}
    for number in np.unique(numbers).tolist():
        table = spill.rows_of(number)
        here = np.isin(table["row"].to_numpy(), some["row"][numbers == number])
        for record in table.take(np.flatnonzero(here)).to_pylist():
            found[record["row"]] = record
    return found
