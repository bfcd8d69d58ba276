"""The bilinear surface between pixel centres: its height, and what is known of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.grid import Pixels
from backbearing.terrain.sources import Ground

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.sources import Source

    Floats = NDArray[np.float64]


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
    i = np.clip(np.floor(row), 0, rows - 2).astype(np.int64)
    j = np.clip(np.floor(col), 0, cols - 2).astype(np.int64)
    u, v = np.clip(row - i, 0.0, 1.0), np.clip(col - j, 0.0, 1.0)
    corners = _corner_heights(chunks, i, j)
    heights = np.zeros(row.shape)
    missing = np.zeros(row.shape, dtype=np.bool_)
    for (down, across), z in corners.items():
        weight = np.where(down, u, 1.0 - u) * np.where(across, v, 1.0 - v)
        counts = weight > 0.0
        heights += np.where(counts, weight * z, 0.0)
        covered = source.covered(Pixels(i + np.float64(down), j + np.float64(across)))
        missing |= counts & ~covered
    nearest = np.choose(
        2 * (u > 0.5) + (v > 0.5), [corners[k] for k in ((0, 0), (0, 1), (1, 0), (1, 1))]
    )
    state = np.full(row.shape, Ground.KNOWN, dtype=np.int8)
    state[(nearest == 0.0) & np.signbit(nearest)] = Ground.SEA
    state[np.isnan(heights)] = Ground.VOID
    state[missing] = Ground.MISSING_TILE
    return heights, state


def _corner_heights(
    chunks: Chunks, i: NDArray[np.int64], j: NDArray[np.int64]
) -> dict[tuple[int, int], Floats]:
    """Heights of the four pixels around each cell, by (down, across)."""
    corners = {(d, a): np.empty(i.shape) for d in (0, 1) for a in (0, 1)}
    for chunk, here in chunks.of_cells(i, j):
        r, c = i[here] - chunk.row0, j[here] - chunk.col0
        for (down, across), z in corners.items():
            z[here] = chunk.heights_m[r + down, c + across]
    return corners
