"""Rows set down on disk by the tile in which they lie, to be taken up tile by tile.

Rows come in the order of the file. Up to 100,000 at a time are sorted by tile and written as one
file, each tile's rows a batch of it; a tile's rows are then a batch of each of those files.
"""

from __future__ import annotations

from collections import OrderedDict
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.geodesy import sphere_xyz_m
from backbearing.scouting.partitions.candidate_parts import tiles_of_places
from backbearing.scouting.ranking.raster_window import TILE

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

ROUND, ROUND_BYTES = 100_000, 16_000_000
"""Rows and bytes to one file, about."""

KEPT_BYTES: Final = 32_000_000
"""Rows of tiles that are kept in memory for their neighbours."""

OFF_DEG: Final = 0.5
"""Side of the squares by which what lies off the raster is parted further, degrees."""

_SQUARES: Final = round(360 / OFF_DEG) * (round(180 / OFF_DEG) + 1) + 1


class Place(NamedTuple):
    """A tile of the raster, and off it one of the squares into which it is parted further."""

    tile_row: int
    tile_col: int
    square: int


def numbers_of_places(grid: Grid, *, lat: Floats, lon: Floats) -> NDArray[np.int64]:
    """Number the `Place` of each row, shape (n,)."""
    tiles = tiles_of_places(grid, lat=lat, lon=lon)
    last = _last(grid)
    off = ((tiles < 0) | (tiles >= last)).any(axis=1)
    down, across = (np.floor((v + o) / OFF_DEG) for v, o in ((lat, 90.0), (lon, 180.0)))
    square = np.where(off, 1 + down * round(360 / OFF_DEG) + np.minimum(across, 719.0), 0.0)
    number = (tiles[:, 0] + 1) * (last[1] + 2) + tiles[:, 1] + 1
    return np.asarray(number * _SQUARES + square.astype(np.int64))


def place_of_number(grid: Grid, number: int) -> Place:
    """Give back the place of a number."""
    tile, square = divmod(number, _SQUARES)
    row, col = divmod(tile, int(_last(grid)[1]) + 2)
    return Place(row - 1, col - 1, square)


def _last(grid: Grid) -> NDArray[np.int64]:
    """How many tiles there are, down and across."""
    return np.asarray(np.ceil(np.array(grid.shape) / TILE).astype(np.int64))


class Boxes:
    """About the rows of each place the least box, on the sphere in metres."""

    def __init__(self) -> None:
        self._low: dict[int, Floats] = {}
        self._high: dict[int, Floats] = {}

    def add(self, numbers: list[int], starts: NDArray[np.intp], spots: Floats) -> None:
        """Note rows, those of each place together and beginning at its start."""
        low = np.minimum.reduceat(spots, starts)
        high = np.maximum.reduceat(spots, starts)
        for k, number in enumerate(numbers):
            self._low[number] = np.minimum(self._low.get(number, np.inf), low[k])
            self._high[number] = np.maximum(self._high.get(number, -np.inf), high[k])

    def near(self, low: Floats, high: Floats, reach_m: float) -> list[int]:
        """Places of which some row may lie so near a box."""
        numbers = list(self._low)
        lows = np.array([self._low[n] for n in numbers]).reshape(-1, 3)
        highs = np.array([self._high[n] for n in numbers]).reshape(-1, 3)
        meet = ((lows <= high + reach_m) & (highs >= low - reach_m)).all(axis=1)
        return [numbers[k] for k in np.flatnonzero(meet)]


class Spill:
    """Rows on disk by place.

    Parameters
    ----------
    folder : Path
    grid : Grid
        Of the raster.
    """

    def __init__(self, folder: Path, grid: Grid) -> None:
        self._folder, self._grid = folder, grid
        self._waiting: list[Any] = []
        self._count = self._bytes = 0
        self._files: list[Any] = []
        self._batches: dict[int, list[tuple[int, int]]] = {}
        self._taken: OrderedDict[int, Any] = OrderedDict()
        self._mend: Callable[[Any], Any] = lambda table: table
        self.boxes = Boxes()

    def mend_by(self, mend: Callable[[Any], Any]) -> None:
        """Have rows changed so whenever they are taken up."""
        self._taken.clear()
        self._mend = mend

    def add(self, table: Any) -> None:
        """Set rows down: a `pyarrow.Table` with ``lat`` and ``lon`` among its columns."""
        self._waiting.append(table)
        self._count += table.num_rows
        self._bytes += table.nbytes
        if self._count >= ROUND or self._bytes >= ROUND_BYTES:
            self.flush()

    def flush(self) -> None:
        """Write what waits."""
        import pyarrow as pa

        if not self._count:
            return
        table = pa.concat_tables(self._waiting)
        self._waiting, self._count, self._bytes = [], 0, 0
        lat, lon = (table[key].to_numpy() for key in ("lat", "lon"))
        numbers = numbers_of_places(self._grid, lat=lat, lon=lon)
        order = np.argsort(numbers, kind="stable")
        table = table.take(order).combine_chunks()
        found, starts = np.unique(numbers[order], return_index=True)
        ends = [*starts[1:].tolist(), table.num_rows]
        self.boxes.add(found.tolist(), starts, sphere_xyz_m(lat=lat[order], lon=lon[order]))
        path = self._folder / f"rows-{len(self._files):04d}"
        with pa.ipc.new_file(str(path), table.schema) as out:
            for start, end in zip(starts.tolist(), ends, strict=True):
                out.write_table(table.slice(start, end - start), max_chunksize=end - start)
        for k, number in enumerate(found.tolist()):
            self._batches.setdefault(number, []).append((len(self._files), k))
        self._files.append(pa.ipc.open_file(pa.OSFile(str(path))))

    def numbers(self) -> list[int]:
        """Numbers of the places that hold any row."""
        return sorted(self._batches)

    def rows_of(self, number: int) -> Any:
        """Take up all rows of a place, in the order in which they were set down."""
        import pyarrow as pa

        if number in self._taken:
            self._taken.move_to_end(number)
            return self._taken[number]
        batches = [self._files[file].get_batch(k) for file, k in self._batches[number]]
        table = self._mend(pa.Table.from_batches(batches))
        self._taken[number] = table
        while len(self._taken) > 1 and self._kept_bytes() > KEPT_BYTES:
            self._taken.popitem(last=False)
        return table

    def _kept_bytes(self) -> int:
        return sum(table.nbytes for table in self._taken.values())

    def close(self) -> None:
        """Let go of the files."""
        self._taken.clear()
        self._files.clear()
