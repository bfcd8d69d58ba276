"""The bilinear surface between pixel centres: its height, and what is known of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.grid import EDGE_SNAP, Pixels
from backbearing.terrain.reading.sources import Ground

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.reading.sources import Heights, Source

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

CORNERS = ((0, 0), (0, 1), (1, 0), (1, 1))
"""Pixels around a cell: how far down and across from its first one."""


def heights_in(window: Heights, row: Floats, col: Floats) -> Floats:
    """Give the surface's height at fractional pixels of a window, NaN where it is unknown.

    Unknown is what lies outside the window, next to a void that counts, or on open water.

    Parameters
    ----------
    window : ndarray, shape (rows, cols)
        Metres, at least two rows and columns, contiguous (or it is copied); NaN at voids,
        ``WATER_LEVEL_M`` on open water.
    row, col : ndarray
        Counted from the centre of the window's first pixel, of one shape.
    """
    rows, cols = window.shape
    inside = _all_inside(row, rows) and _all_inside(col, cols)
    if not inside:
        known = (row >= -EDGE_SNAP) & (row <= rows - 1 + EDGE_SNAP)
        known &= (col >= -EDGE_SNAP) & (col <= cols - 1 + EDGE_SNAP)
        row, col = np.where(known, row, 0.0), np.where(known, col, 0.0)
    (i, u), (j, v) = _cell_and_share(row, rows), _cell_and_share(col, cols)
    flat, first = window.reshape(-1), i * cols + j
    corners = [flat.take(first + (down * cols + across)) for down, across in CORNERS]
    weights = _weights(u, v)
    one, two, three, four = (w * z for w, z in zip(weights, corners, strict=True))
    heights: Floats = one + two + three + four
    if np.isnan(heights).any() or not all(z.all() for z in corners):
        z, w = np.stack(corners), np.stack(weights)
        one, two, three, four = np.where(w > 0.0, w * z, 0.0)
        heights = np.where(_on_water(z, u, v), np.nan, one + two + three + four)
    return heights if inside else np.where(known, heights, np.nan)


def _all_inside(at: Floats, count: int) -> bool:
    """Whether all rows (or columns) lie on the surface; not so where some are NaN."""
    if not at.size:
        return True
    return bool(at.min() >= -EDGE_SNAP and at.max() <= count - 1 + EDGE_SNAP)


def _settled(corners: Floats, weights: Floats, u: Floats, v: Floats) -> Floats:
    """Heights between corners of which some are unknown, of no weight, or water."""
    one, two, three, four = np.where(weights > 0.0, weights * corners, 0.0)
    return np.where(_on_water(corners, u, v), np.nan, one + two + three + four)


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
    (i, u), (j, v) = _cell_and_share(row, rows), _cell_and_share(col, cols)
    corners = corner_heights(chunks, i, j)
    weights = np.stack(_weights(u, v))
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
    (i, j), (u, v) = (v[doubtful] for v in cell), (v[doubtful] for v in share)
    corners, weights = (values[:, doubtful] for values in around)
    counts = weights > 0.0
    one, two, three, four = np.where(counts, weights * corners, 0.0)
    heights = one + two + three + four
    missing = np.zeros(doubtful.shape, dtype=np.bool_)
    for counted, (down, across) in zip(counts, CORNERS, strict=True):
        missing |= counted & ~source.covered(Pixels(i + np.float64(down), j + np.float64(across)))
    state = np.full(doubtful.shape, Ground.KNOWN, dtype=np.int8)
    state[_on_water(corners, u, v)] = Ground.SEA
    state[np.isnan(heights)] = Ground.VOID
    state[missing] = Ground.MISSING_TILE
    found[0][doubtful], found[1][doubtful] = heights, state


def _cell_and_share(at: Floats, count: int) -> tuple[Ints, Floats]:
    """First row (or column) of the cells around places, and how far through them these lie."""
    # Places are no farther out than rounding: cutting their fraction off is flooring them.
    first = np.minimum(at.astype(np.int64), count - 2)
    return first, np.clip(at - first, 0.0, 1.0)


def _weights(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """What each of the four pixels counts, as in `CORNERS`."""
    before, left = 1.0 - u, 1.0 - v
    return before * left, before * v, u * left, u * v


def _on_water(corners: Floats, u: Floats, v: Floats) -> NDArray[np.bool_]:
    """Whether the nearest of four pixels is open water."""
    nearest = np.choose(2 * (u > 0.5) + (v > 0.5), corners)
    return np.asarray((nearest == 0.0) & np.signbit(nearest))


def corner_heights(chunks: Chunks, i: Ints, j: Ints) -> Floats:
    """Heights of the four pixels around each cell, shape (4, n), as in `CORNERS`."""
    corners = np.empty((4, *i.shape))
    if chunks.count == (1, 1):
        whole = chunks.at(0, 0).heights_m
        if whole.flags.c_contiguous:
            cols = whole.shape[1]
            flat, first = whole.reshape(-1), i * cols + j
            for z, (down, across) in zip(corners, CORNERS, strict=True):
                z[:] = flat.take(first + (down * cols + across))
            return corners
        for z, (down, across) in zip(corners, CORNERS, strict=True):
            z[:] = whole[i + down, j + across]
        return corners
    for chunk, here in chunks.of_cells(i, j):
        r, c = i[here] - chunk.row0, j[here] - chunk.col0
        for z, (down, across) in zip(corners, CORNERS, strict=True):
            z[here] = chunk.heights_m[r + down, c + across]
    return corners
