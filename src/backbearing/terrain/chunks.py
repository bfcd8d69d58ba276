"""Pieces of a raster, read when needed and kept while they are in use.

A raster of ordinary size is one piece. A larger one is cut into pieces that share
one row and one column of pixels with the next, so that every cell of the surface
(the patch between four pixel centres) lies whole in exactly one piece.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.paged import give_back, paged_zeros
from backbearing.terrain.piece_store import Kept, StoredSource
from backbearing.terrain.reading.sources import extremes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import DTypeLike, NDArray

    from backbearing.terrain.reading.sources import Heights, Source

WHOLE_UP_TO = 4096 * 4096
"""Cells up to which a raster is one piece."""

PIECE = 2048
"""Cells along the side of a piece of a larger raster."""

STRIP = 512
"""Rows read at a time when the whole raster is wanted, or a large window of it."""

ACROSS = 4 * STRIP
"""Columns of a large window read at a time: unpacking and sorting out voids take several times
their room."""

SQUARE = 64
"""Side of the squares of a large window that are held or left out, cells; `STRIP` holds a whole
number of them."""

KEEP_BYTES = 128 * 2**20
"""Heights kept in memory for the next question, bytes."""

BLOCK = 8
"""Cells along the side of a block of the first level of the maximum pyramid."""


@dataclass(slots=True)
class Summary:
    """What was worked out about a piece; small, so that it outlives the piece's heights."""

    blocks: tuple[NDArray[np.float32], NDArray[np.float32]] | None = None
    highest_m: float | None = None
    has_void: bool | None = None


@dataclass(frozen=True)
class Chunk:
    """A window of heights and where it starts in the raster."""

    heights_m: Heights = field(repr=False)
    row0: int
    col0: int
    summary: Summary = field(default_factory=Summary, repr=False, compare=False)

    def __post_init__(self) -> None:
        self.heights_m.setflags(write=False)

    @property
    def blocks(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Highest ground of each block of 8 x 8 cells, then of each 8 x 8 blocks.

        A block counts the pixels on all its four edges, so that no ridge is lowered;
        a block that holds a void is infinitely high, so that it is never passed over.
        """
        if self.summary.blocks is None:
            fine = block_maximum(self.heights_m, BLOCK, shared_edge=True)
            self.summary.blocks = fine, block_maximum(fine, BLOCK, shared_edge=False)
        return self.summary.blocks

    @property
    def highest_m(self) -> float:
        """Highest known pixel, metres; -inf where all are void."""
        if self.summary.highest_m is None:
            self.summary.highest_m = extremes(self.heights_m)[1]
        return self.summary.highest_m

    @property
    def has_void(self) -> bool:
        """Whether any pixel is void."""
        if self.summary.has_void is None:
            self.summary.has_void = bool(np.isnan(self.heights_m.max(initial=-np.inf)))
        return self.summary.has_void


def block_maximum(values: Heights, block: int, *, shared_edge: bool) -> NDArray[np.float32]:
    """Take the highest value of each block, never rounded down.

    Parameters
    ----------
    values : ndarray, shape (rows, cols)
        Heights, or a finer level; NaN counts as infinitely high.
    block : int
        Rows and columns to a block.
    shared_edge : bool
        Whether a block reaches one row and column into the next one.

    Returns
    -------
    ndarray, shape (ceil(rows / block), ceil(cols / block))
    """
    high: NDArray[np.floating] = values
    for axis in (0, 1):
        # Whole rows at a time: many times faster than reducing block by block.
        lines = high if axis == 0 else high.T
        top = lines[::block].copy()
        for k in range(1, block + 1 if shared_edge else block):
            line = lines[k::block]
            np.maximum(top[: len(line)], line, out=top[: len(line)])
        high = top if axis == 0 else top.T
    up = np.asarray(high, dtype=np.float32)
    if high.dtype != np.float32:
        up = np.nextafter(up, np.float32(np.inf))
    return np.where(np.isnan(up), np.float32(np.inf), up)


def _runs(wanted: NDArray[np.bool_], cells: int) -> list[tuple[int, int]]:
    """First and past the last of the cells of each stretch of wanted squares on end."""
    change = np.flatnonzero(np.diff(np.concatenate([[False], wanted, [False]]).astype(np.int8)))
    ends = np.minimum(change * SQUARE, cells).tolist()
    return list(zip(ends[::2], ends[1::2], strict=True))


def _put_squares(heights: Heights, read: Heights, wanted: NDArray[np.bool_]) -> None:
    """Write those squares of what was read that are wanted, and touch no others."""
    for down, across in enumerate(wanted):
        own = slice(down * SQUARE, (down + 1) * SQUARE)
        for begin, end in _runs(across, heights.shape[1]):
            heights[own, begin:end] = read[own, begin:end]


def _cut(runs: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Cut runs of columns at multiples of `ACROSS`."""
    for begin, end in runs:
        stops = [*range(begin // ACROSS * ACROSS + ACROSS, end, ACROSS), end]
        yield from zip([begin, *stops[:-1]], stops, strict=True)


class Chunks:
    """The pieces of one raster, with the latest used ones kept.

    Parameters
    ----------
    source : Source
    piece : int, optional
        Cells along the side of a piece, also of a raster that would be one.
    """

    def __init__(self, source: Source, piece: int | None = None) -> None:
        self._source = source
        rows, cols = source.grid.shape
        whole = piece is None and (source.array is not None or rows * cols <= WHOLE_UP_TO)
        side = PIECE if piece is None else piece
        self.step: tuple[int, int] = (max(rows, 2), max(cols, 2)) if whole else (side, side)
        self.cells_crossed = 0.0
        self._summaries: dict[tuple[int, int], Summary] = {}
        # Pieces that other processes share.
        self._store = source.store if isinstance(source, StoredSource) and not whole else None
        self._kept: OrderedDict[tuple[int, int], Chunk] = OrderedDict()

    @property
    def count(self) -> tuple[int, int]:
        """How many pieces down and across."""
        rows, cols = self._source.grid.shape
        return (
            max(1, -(-(rows - 1) // self.step[0])),
            max(1, -(-(cols - 1) // self.step[1])),
        )

    def ceiling_m(self, down: int, across: int) -> float:
        """Highest ground that a piece can hold, as far as it was read before.

        Infinite for a piece not yet read, and for one with voids, which must be read again
        wherever the way over unknown ground is measured.
        """
        known = self._summaries.get((down, across))
        if known is None:
            known = self._taken_up(down, across)
        if known is None or known.has_void is not False or known.highest_m is None:
            return math.inf
        return known.highest_m

    def at(self, down: int, across: int) -> Chunk:
        """Give one piece, reading it when it is not at hand."""
        key = (down, across)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        row0, col0 = down * self.step[0], across * self.step[1]
        if self._store is None:
            heights = self._source.read(*self._window_of(down, across))
            summary = self._summaries.setdefault(key, Summary())
        else:
            heights = self._store.piece(down, across)
            summary = self._taken_up(down, across) or self._summaries.setdefault(key, Summary())
        known = summary.blocks is not None
        chunk = Chunk(heights, row0, col0, summary)
        self._kept[key] = chunk
        if self.count != (1, 1) and not chunk.has_void:
            _ = chunk.highest_m
        if self._store is not None and not known:
            kept = Kept(chunk.highest_m, chunk.has_void, *chunk.blocks)
            self._store.keep_summary(down, across, kept)
        while len(self._kept) > 1 and self._bytes() > KEEP_BYTES:
            self._kept.popitem(last=False)
        return chunk

    def forget(self) -> None:
        """Let go of the pieces at hand."""
        self._kept.clear()

    def _window_of(self, down: int, across: int) -> tuple[slice, slice]:
        """Rows and columns of a piece, those that it shares with the next among them."""
        row0, col0 = down * self.step[0], across * self.step[1]
        rows, cols = self._source.grid.shape
        return (
            slice(row0, min(row0 + self.step[0] + 1, rows)),
            slice(col0, min(col0 + self.step[1] + 1, cols)),
        )

    def _taken_up(self, down: int, across: int) -> Summary | None:
        """What is known of a piece here, or was worked out by any who share the raster's."""
        known = self._summaries.get((down, across))
        if self._store is None or (known is not None and known.blocks is not None):
            return known
        shape = [part.stop - part.start for part in self._window_of(down, across)]
        fine = tuple(-(-cells // BLOCK) for cells in shape)
        coarse = tuple(-(-blocks // BLOCK) for blocks in fine)
        kept = self._store.summary(down, across, [fine, coarse])
        if kept is None:
            return known
        summary = Summary((kept.fine, kept.coarse), kept.highest_m, kept.has_void)
        self._summaries[down, across] = summary
        return summary

    def whole(self) -> Heights:
        """Give the whole raster, read strip by strip so that little else is held."""
        if self.count == (1, 1):
            return self.at(0, 0).heights_m
        rows, cols = self._source.grid.shape
        heights = np.empty((rows, cols), dtype=np.float32)
        for start in range(0, rows, STRIP):
            part = slice(start, min(start + STRIP, rows))
            heights[part] = self._source.read(part, slice(0, cols))
        heights.setflags(write=False)
        return heights

    @property
    def single(self) -> bool:
        """Whether heights are held in single precision, as those of all files are."""
        array = self._source.array
        return array is None or array.dtype == np.float32

    def window(self, rows: slice, cols: slice, dtype: DTypeLike = np.float64) -> Heights:
        """Give the heights of a window, put together from the pieces that hold it."""
        shape = (rows.stop - rows.start, cols.stop - cols.start)
        heights: Heights = np.full(shape, np.nan, dtype=dtype)
        last = (max(rows.stop - 2, rows.start), max(cols.stop - 2, cols.start))
        count = self.count
        for down in range(
            rows.start // self.step[0], min(last[0] // self.step[0], count[0] - 1) + 1
        ):
            for across in range(
                cols.start // self.step[1], min(last[1] // self.step[1], count[1] - 1) + 1
            ):
                chunk = self.at(down, across)
                high, wide = chunk.heights_m.shape
                r0, r1 = max(rows.start, chunk.row0), min(rows.stop, chunk.row0 + high)
                c0, c1 = max(cols.start, chunk.col0), min(cols.stop, chunk.col0 + wide)
                heights[r0 - rows.start : r1 - rows.start, c0 - cols.start : c1 - cols.start] = (
                    chunk.heights_m[
                        r0 - chunk.row0 : r1 - chunk.row0, c0 - chunk.col0 : c1 - chunk.col0
                    ]
                )
        return heights

    def read(self, rows: slice, cols: slice, wanted: NDArray[np.bool_] | None = None) -> Heights:
        """Give the heights of a window that may be large, keeping no pieces; not to be written.

        Parameters
        ----------
        rows, cols : slice
            Of a raster of several pieces: beginning at multiples of `STRIP`.
        wanted : ndarray of bool, optional
            Which squares of `SQUARE` by `SQUARE` cells are held, counted from the window's first
            row and column; all when None. The others hold zeros, which mean nothing, and take
            no memory. Of a strip all columns that hold some of them are read at once: a file
            is unpacked by blocks larger than the squares.
        """
        if self.count == (1, 1):
            return self.at(0, 0).heights_m[rows, cols]
        # What was kept goes before more is read.
        self.forget()
        give_back()
        shape = (rows.stop - rows.start, cols.stop - cols.start)
        heights: Heights = paged_zeros(shape, np.float32)
        for first in range(0, shape[0], STRIP):
            own = slice(first, min(first + STRIP, shape[0]))
            some = slice(own.start // SQUARE, -(-own.stop // SQUARE))
            held = np.ones((1, -(-shape[1] // SQUARE)), bool) if wanted is None else wanted[some]
            for begin, end in _cut(_runs(np.asarray(held.any(axis=0)), shape[1])):
                read = self._source.read(
                    slice(rows.start + own.start, rows.start + own.stop),
                    slice(cols.start + begin, cols.start + end),
                )
                if wanted is None:
                    heights[own, begin:end] = read
                    continue
                columns = slice(begin // SQUARE, -(-end // SQUARE))
                _put_squares(heights[own, begin:end], read, held[:, columns])
        # What was read on the way goes too, before more is asked for.
        give_back()
        return heights

    def _bytes(self) -> int:
        return sum(chunk.heights_m.nbytes for chunk in self._kept.values())

    def of_cells(
        self, row: NDArray[np.int64], col: NDArray[np.int64]
    ) -> Iterator[tuple[Chunk, NDArray[np.bool_]]]:
        """Give each piece that holds some of the cells, with a mask of which ones.

        Those at hand come first: were they read in the same order every time, each would be
        dropped just before it is wanted again.
        """
        pieces = sorted(self._pieces(row, col), key=lambda piece: piece[0] not in self._kept)
        for place, here in pieces:
            yield self.at(*place), here

    def tops_of_cells(self, row: NDArray[np.int64], col: NDArray[np.int64]) -> NDArray[np.float32]:
        """Highest pixel of the block that holds each cell, as in `Chunk.blocks`, shape (n,).

        Pieces that were read before are not read again.
        """
        tops = np.empty(row.shape, dtype=np.float32)
        for (down, across), here in self._pieces(row, col):
            known = self._summaries.get((down, across))
            blocks = None if known is None else known.blocks
            fine = (self.at(down, across).blocks if blocks is None else blocks)[0]
            first = down * self.step[0], across * self.step[1]
            tops[here] = fine[(row[here] - first[0]) // BLOCK, (col[here] - first[1]) // BLOCK]
        return tops

    def _pieces(
        self, row: NDArray[np.int64], col: NDArray[np.int64]
    ) -> list[tuple[tuple[int, int], NDArray[np.bool_]]]:
        """Places of the pieces that hold some of the cells, and masks of which ones."""
        if row.size == 0:
            return []
        across = self.count[1]
        number = (row // self.step[0]) * across + col // self.step[1]
        return [(divmod(one, across), number == one) for one in np.unique(number).tolist()]
