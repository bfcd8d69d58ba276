"""Pieces of a large raster, unpacked once for all processes of a machine and shared by files.

Processes that work side by side on one raster want the same pieces, and unpacking a file's blocks
is most of what reading costs. Here the first that wants a piece writes it into a folder, and all
map it from there: the same memory serves them all. Beside each piece lies its maximum pyramid,
so that far ground that cannot rise above a skyline is passed over without a look at the raster.

A **patch** is a square of the raster that no other shares cells with; a **piece** is a patch with
the first row and column of its neighbours. Raster files are read by the patch, or by several side
by side where their blocks are wider, so that no block of a file is unpacked twice.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.terrain.reading.sources import TerrainWarning

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid, Pixels
    from backbearing.terrain.piece_folder import PieceFolder
    from backbearing.terrain.reading.sources import Heights, Source

    Singles = NDArray[np.float32]

CELLS_AT_ONCE: Final = 4_000_000
"""Cells of several patches side by side that are read at a time."""

STEP: Final = 64
"""Rows of them that are read at a time, or a multiple."""


class Kept(NamedTuple):
    """What is known of a piece without its heights: see :class:`.chunks.Summary`."""

    highest_m: float
    has_void: bool
    fine: Singles
    coarse: Singles


class PieceStore:
    """The pieces of one raster, in a folder while that works.

    Parameters
    ----------
    source : Source
        The raster, in single precision.
    folder : PieceFolder
        Of this raster alone.
    side : int
        Cells along a patch.
    together : int
        Patches side by side that are read at once.
    """

    def __init__(
        self, source: Source, folder: PieceFolder, *, side: int, together: int = 1
    ) -> None:
        self._source = source
        self.folder = folder
        self._side = side
        self._together = together
        for one in folder.noted():
            warnings.warn(one, TerrainWarning, stacklevel=3)

    def piece(self, down: int, across: int) -> Heights:
        """Give a piece's heights in metres, mapped or read; not to be written."""
        found = self._mapped("piece", down, across)
        return self._made(down, across) if found is None else found

    def _made(self, down: int, across: int) -> Heights:
        """Put a piece together from its patch and the edges of its neighbours."""
        side = self._side
        rows, cols = self._shape("piece", down, across)
        if not self.folder.works:
            first = down * side, across * side
            return self._read(slice(first[0], first[0] + rows), slice(first[1], first[1] + cols))
        heights = np.empty((rows, cols), dtype=np.float32)
        # Neighbours first, so that no more than one patch is held beside the piece.
        if rows > side and cols > side:
            heights[side:, side:] = self._patch(down + 1, across + 1)[:1, :1]
        if rows > side:
            heights[side:, :side] = self._patch(down + 1, across)[:1, :side]
        if cols > side:
            heights[:side, side:] = self._patch(down, across + 1)[:side, :1]
        heights[:side, :side] = self._patch(down, across)
        if self.folder.write(_name("piece", down, across), [heights]):
            self.folder.remove(_name("patch", down, across))
            found = self._mapped("piece", down, across)
            if found is not None:
                return found
        return heights

    def _patch(self, down: int, across: int) -> Heights:
        """Give a patch's heights; read from the raster by one process, where it is nowhere."""
        found = self._patch_at_hand(down, across)
        if found is not None:
            return found
        count = -(-self._source.grid.shape[1] // self._side)
        first = across // self._together * self._together
        with self.folder.claimed(down * count + first):
            # Another may have read it meanwhile.
            found = self._patch_at_hand(down, across)
            if found is None and self._together > 1:
                self._set_down(down, range(first, min(first + self._together, count)))
                found = self._patch_at_hand(down, across)
            if found is None:
                found = self._read(*self._cells_of(down, across))
                self.folder.write(_name("patch", down, across), [found])
            return found

    def _set_down(self, down: int, some: Sequence[int]) -> None:
        """Read patches side by side, some rows at a time, and write those that are nowhere."""
        missing = [one for one in some if self._patch_at_hand(down, one) is None]
        rows, first = self._cells_of(down, some[0])
        last = self._cells_of(down, some[-1])[1]
        # Files pack some rows together, mostly a power of two.
        step = max(1, CELLS_AT_ONCE // (last.stop - first.start) // STEP) * STEP

        def parts() -> Iterator[list[Singles]]:
            for start in range(rows.start, rows.stop, step):
                part = slice(start, min(start + step, rows.stop))
                heights = self._read(part, slice(first.start, last.stop))
                ends = [self._cells_of(down, one)[1] for one in missing]
                yield [heights[:, c.start - first.start : c.stop - first.start] for c in ends]

        shapes = [self._shape("patch", down, one) for one in missing]
        nbytes = sum(4 * high * wide for high, wide in shapes)
        self.folder.write_rows([_name("patch", down, one) for one in missing], parts(), nbytes)

    def _patch_at_hand(self, down: int, across: int) -> Heights | None:
        found = self._mapped("patch", down, across)
        if found is None:
            found = self._mapped("piece", down, across)
        return None if found is None else found[: self._side, : self._side]

    def window(self, rows: slice, cols: slice) -> Heights:
        """Give the heights of a window in metres."""
        if not self.folder.works:
            return self._source.read(rows, cols)
        heights = np.empty((rows.stop - rows.start, cols.stop - cols.start), dtype=np.float32)
        side = self._side
        for down in range(rows.start // side, -(-rows.stop // side)):
            for across in range(cols.start // side, -(-cols.stop // side)):
                r0, r1 = max(rows.start, down * side), min(rows.stop, (down + 1) * side)
                c0, c1 = max(cols.start, across * side), min(cols.stop, (across + 1) * side)
                heights[r0 - rows.start : r1 - rows.start, c0 - cols.start : c1 - cols.start] = (
                    self._patch(down, across)[
                        r0 - down * side : r1 - down * side,
                        c0 - across * side : c1 - across * side,
                    ]
                )
        return heights

    def summary(self, down: int, across: int, shapes: list[tuple[int, int]]) -> Kept | None:
        """Take up what was kept of a piece; ``shapes`` are those of its pyramid's two levels."""
        sizes = [rows * cols for rows, cols in shapes]
        found = self.folder.read(_name("summary", down, across), 2 + sum(sizes))
        if found is None:
            return None
        fine, coarse = found[2 : 2 + sizes[0]], found[2 + sizes[0] :]
        return Kept(
            float(found[0]), bool(found[1]), fine.reshape(shapes[0]), coarse.reshape(shapes[1])
        )

    def keep_summary(self, down: int, across: int, kept: Kept) -> None:
        """Keep what was worked out about a piece."""
        head = np.array([kept.highest_m, kept.has_void], dtype=np.float32)
        self.folder.write(_name("summary", down, across), [head, kept.fine, kept.coarse])

    def _shape(self, what: str, down: int, across: int) -> tuple[int, int]:
        rows, cols = self._source.grid.shape
        side, edge = self._side, what == "piece"
        return min(side + edge, rows - down * side), min(side + edge, cols - across * side)

    def _cells_of(self, down: int, across: int) -> tuple[slice, slice]:
        """Rows and columns of a patch."""
        rows, cols = self._shape("patch", down, across)
        first = down * self._side, across * self._side
        return slice(first[0], first[0] + rows), slice(first[1], first[1] + cols)

    def _mapped(self, what: str, down: int, across: int) -> Heights | None:
        return self.folder.mapped(_name(what, down, across), self._shape(what, down, across))

    def _read(self, rows: slice, cols: slice) -> Heights:
        """Read from the raster itself, and note what it gives cause to warn of."""
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            heights = self._source.read(rows, cols)
        for one in said:
            warnings.warn(one.message, stacklevel=4)
        self.folder.note([str(one.message) for one in said if one.category is TerrainWarning])
        return heights


def _name(what: str, down: int, across: int) -> str:
    return f"{what}-{down:04d}-{across:04d}"


@dataclass(frozen=True)
class StoredSource:
    """A raster whose pieces are shared: heights as those of ``source``, to the last bit."""

    source: Source
    store: PieceStore

    @property
    def grid(self) -> Grid:
        """Shape, transform and CRS of the whole."""
        return self.source.grid

    @property
    def name(self) -> str:
        """The path, as given."""
        return self.source.name

    @property
    def tags(self) -> Mapping[str, str]:
        """What the file says of itself."""
        return self.source.tags

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def read(self, rows: slice, cols: slice) -> Heights:
        """Give a window in metres."""
        return self.store.window(rows, cols)

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell where a tile was given, void or not."""
        return self.source.covered(pixels)
