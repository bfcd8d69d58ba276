"""The bilinear surface between pixel centres: its height, and what is known of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.grid import Pixels
from backbearing.terrain.reading.sources import Ground

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.reading.sources import Source

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

CORNERS = ((0, 0), (0, 1), (1, 0), (1, 1))
"""Pixels around a cell: how far down and across from its first one."""


def look(source: Source, chunks: Chunks, pixels: Pixels) -> tuple[Floats, NDArray[np.int8]]:
    """Give the surface's height and the state of the ground at fractional pixels.

    Returns
    -------
    tuple of ndarray
        Heights in metres (water level on open water, NaN where unknown) and values of
        :class:`Ground`, both of the pixels' shape.
    """
    shape = np.shape(pixels.row)
    row, col = np.ravel(pixels.row), np.ravel(pixels.col)
    heights = np.full(row.shape, np.nan)
    state = np.full(row.shape, Ground.OUTSIDE, dtype=np.int8)
    inside = np.flatnonzero(np.ravel(source.grid.holds(pixels)))
    if inside.size and min(source.grid.shape) > 1:
        heights[inside], state[inside] = _look_inside(source, chunks, row[inside], col[inside])
    return heights.reshape(shape), state.reshape(shape)


def _look_inside(
    source: Source, chunks: Chunks, row: Floats, col: Floats
) -> tuple[Floats, NDArray[np.int8]]:
    rows, cols = source.grid.shape
    i = np.maximum(np.minimum(np.floor(row), rows - 2), 0).astype(np.int64)
    j = np.maximum(np.minimum(np.floor(col), cols - 2), 0).astype(np.int64)
    u, v = np.maximum(np.minimum(row - i, 1.0), 0.0), np.maximum(np.minimum(col - j, 1.0), 0.0)
    corners = _corner_heights(chunks, i, j)
    weights = np.stack([(1.0 - u) * (1.0 - v), (1.0 - u) * v, u * (1.0 - v), u * v])
    one, two, three, four = weights * corners
    heights: Floats = one + two + three + four
    state = np.full(row.shape, Ground.KNOWN, dtype=np.int8)
    doubtful = np.flatnonzero((np.isnan(corners) | (corners == 0.0)).any(axis=0))
    if doubtful.size:
        _settle_doubts(source, (i, j), (u, v), (corners, weights), doubtful, (heights, state))
    return heights, state


def _settle_doubts(
    source: Source,
    cell: tuple[Ints, Ints],
    share: tuple[Floats, Floats],
    around: tuple[Floats, Floats],
    doubtful: Ints,
    found: tuple[Floats, NDArray[np.int8]],
) -> None:
    """Tell voids, missing tiles and water apart, and leave out corners of no weight."""
    i, j, u, v = (values[doubtful] for values in (*cell, *share))
    corners, weights = (values[:, doubtful] for values in around)
    counts = weights > 0.0
    one, two, three, four = np.where(counts, weights * corners, 0.0)
    heights = one + two + three + four
    missing = np.zeros(doubtful.shape, dtype=np.bool_)
    for counted, (down, across) in zip(counts, CORNERS, strict=True):
        missing |= counted & ~source.covered(Pixels(i + np.float64(down), j + np.float64(across)))
    nearest = np.choose(2 * (u > 0.5) + (v > 0.5), corners)
    state = np.full(doubtful.shape, Ground.KNOWN, dtype=np.int8)
    state[(nearest == 0.0) & np.signbit(nearest)] = Ground.SEA
    state[np.isnan(heights)] = Ground.VOID
    state[missing] = Ground.MISSING_TILE
    found[0][doubtful], found[1][doubtful] = heights, state


def _corner_heights(chunks: Chunks, i: Ints, j: Ints) -> Floats:
    """Heights of the four pixels around each cell, shape (4, n), as in `CORNERS`."""
    corners = np.empty((4, *i.shape))
    if chunks.count == (1, 1):
        whole = chunks.at(0, 0).heights_m
        for z, (down, across) in zip(corners, CORNERS, strict=True):
            z[:] = whole[i + down, j + across]
        return corners
    for chunk, here in chunks.of_cells(i, j):
        r, c = i[here] - chunk.row0, j[here] - chunk.col0
        for z, (down, across) in zip(corners, CORNERS, strict=True):
            z[here] = chunk.heights_m[r + down, c + across]
    return corners
