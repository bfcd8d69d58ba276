"""Compiled passes over an area's cells: how long and how far the target stands over the ridge.

What the target does varies smoothly over an area: it is given at a few nodes and carried
between them, bilinear in rows and columns. Arrays of cells are float32, changed in place; they
may be those of a part, whose first row and column in the area are given.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from backbearing.base.kept_code import kept

_FLAGS = {"contract", "reassoc", "nsz", "arcp"}  # never nnan: the tests for the unknown must stay
_compiled = kept(njit, nogil=True, error_model="numpy", fastmath=_FLAGS)


@_compiled
def _along_row(nodes: Any, node_rows: Any, row: int, out: Any) -> None:
    """Nodes carried to one row, shape (node columns,)."""
    k = 0
    while k < len(node_rows) - 2 and row >= node_rows[k + 1]:
        k += 1
    u = (row - node_rows[k]) / (node_rows[k + 1] - node_rows[k])
    for j in range(nodes.shape[1]):
        out[j] = nodes[k, j] + u * (nodes[k + 1, j] - nodes[k, j])


@_compiled
def spread(
    nodes: Any, node_rows: Any, node_cols: Any, row0: int, col0: int, out: Any
) -> None:  # fmt: skip
    """Carry node values to every cell."""
    along = np.empty(nodes.shape[1])
    for i in range(out.shape[0]):
        _along_row(nodes, node_rows, row0 + i, along)
        k = 0
        for j in range(out.shape[1]):
            while k < len(node_cols) - 2 and col0 + j >= node_cols[k + 1]:
                k += 1
            v = (col0 + j - node_cols[k]) / (node_cols[k + 1] - node_cols[k])
            out[i, j] = along[k] + v * (along[k + 1] - along[k])


@_compiled
def take_sample(
    skyline: Any,
    altitude: Any,
    now: Any,
    before: Any,
    fresh: bool,
    clear_by: float,
    node_rows: Any,
    node_cols: Any,
    row0: int,
    col0: int,
    was: Any,
    first: Any,
    last: Any,
    minutes: Any,
    margin: Any,
) -> None:
    """Add one bearing to every cell; between two bearings clearance runs straight.

    ``altitude``, ``now`` and ``before`` are nodes: the target's altitude on this bearing,
    the minute at which it stands there, and the minute of the bearing before. ``was`` is
    by how much each cell cleared at the bearing before; with ``fresh`` there was none.
    """
    columns = skyline.shape[1]
    n = len(node_cols)
    alt, at, then = np.empty(n), np.empty(n), np.empty(n)
    for i in range(skyline.shape[0]):
        _along_row(altitude, node_rows, row0 + i, alt)
        _along_row(now, node_rows, row0 + i, at)
        _along_row(before, node_rows, row0 + i, then)
        k = 0
        for j in range(columns):
            while k < len(node_cols) - 2 and col0 + j >= node_cols[k + 1]:
                k += 1
            v = (col0 + j - node_cols[k]) / (node_cols[k + 1] - node_cols[k])
            clearance = alt[k] + v * (alt[k + 1] - alt[k]) - skyline[i, j]
            over, had = clearance - clear_by, np.nan if fresh else was[i, j]
            was[i, j] = over
            if np.isnan(clearance):
                continue
            if not margin[i, j] >= clearance:
                margin[i, j] = clearance
            if over < 0.0 and not had >= 0.0:
                continue
            end = at[k] + v * (at[k + 1] - at[k])
            start = end
            if not np.isnan(had):
                start = then[k] + v * (then[k + 1] - then[k])
                cross = start + (end - start) * had / (had - over) if had != over else start
                if had < 0.0:
                    start = cross
                elif over < 0.0:
                    end = cross
                minutes[i, j] += max(end - start, 0.0)
            if not first[i, j] <= start:
                first[i, j] = start
            if not last[i, j] >= end:
                last[i, j] = end


@_compiled
def add_bearing(
    skyline: Any,
    azimuth: Any,
    bearing: float,
    step: float,
    node_rows: Any,
    node_cols: Any,
    row0: int,
    col0: int,
    out: Any,
) -> None:
    """Add a bearing's share to every cell's skyline on its own azimuth (shares run linearly).

    ``azimuth`` (nodes) and ``bearing`` are degrees from a common bearing.
    """
    along = np.empty(azimuth.shape[1])
    for i in range(out.shape[0]):
        _along_row(azimuth, node_rows, row0 + i, along)
        k = 0
        for j in range(out.shape[1]):
            while k < len(node_cols) - 2 and col0 + j >= node_cols[k + 1]:
                k += 1
            v = (col0 + j - node_cols[k]) / (node_cols[k + 1] - node_cols[k])
            share = 1.0 - abs(along[k] + v * (along[k + 1] - along[k]) - bearing) / step
            if share > 0.0:
                out[i, j] += share * skyline[i, j]
