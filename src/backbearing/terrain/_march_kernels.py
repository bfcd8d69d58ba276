"""The skyline along sight lines, compiled; the same answer as ``march``, faster.

Each ray walks the cells that it crosses. Before a block of 64 x 64 or 8 x 8 cells its
highest pixel is held against the skyline found so far, and the block is passed over
when even that pixel, at the end of the way through the block where it would look
highest, could not rise above it. Blocks with voids count as infinitely high, so the
way over unknown ground is always measured. No fast-math: NaN must stay NaN.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

from numba import njit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Heights: TypeAlias = NDArray[np.floating]
    Floats: TypeAlias = NDArray[np.float64]

Seen: TypeAlias = tuple[float, float, float, float]
"""Highest tangent, where it stands, length of unknown way, where that begins."""

Line: TypeAlias = tuple[float, float, float, float, float, float, float, float]
"""A straight segment: s, row and col at its start, their runs, first and last share."""

_inlined = njit(cache=True, nogil=True, error_model="numpy", inline="always")
_compiled = njit(cache=True, nogil=True, error_model="numpy")

FINE = 3
COARSE = 6


@_inlined
def _hides_nothing(
    high: float, best: float, eye: float, drop: float, near: float, far: float
) -> bool:
    """Tell that ground no higher than ``high`` between two distances stays below ``best``."""
    rise = high - eye
    return rise <= (best + drop * near) * (near if rise >= 0.0 else far)


@_inlined
def _nothing_beyond(
    rise: float, best: float, drop: float, near: float, crest: float, crest_tangent: float
) -> bool:
    """Tell that ground rising no higher over the eye stays below ``best`` from here on.

    Ground below the eye looks highest at the distance ``crest``, where it appears at
    ``crest_tangent``; ground above it, where it is nearest.
    """
    if near < crest:
        return crest_tangent <= best
    return rise <= (best + drop * near) * near


@_inlined
def _way_out(first: int, size: int, start: float, run: float, inverse: float) -> float:
    """Share of the segment at which it leaves a block of rows (or columns)."""
    if run > 0.0:
        return (first + size - start) * inverse
    if run < 0.0:
        return (first - start) * inverse
    return math.inf


@_inlined
def _clip(start: float, run: float, last: float, low: float, high: float) -> tuple[float, float]:
    """Narrow the share of a segment to where it lies between 0 and ``last``."""
    if run == 0.0:
        return (low, high) if 0.0 <= start <= last else (1.0, 0.0)
    a, b = (0.0 - start) / run, (last - start) / run
    return max(low, min(a, b)), min(high, max(a, b))


@_inlined
def _first_cell(at: float, run: float, cells: int) -> int:
    """Index of the cell into which a path leads."""
    index = math.ceil(at) - 1 if run < 0.0 else math.floor(at)
    return min(max(index, 0), cells - 1)


@_inlined
def _rise_in_cell(
    z: Heights, i: int, j: int, r: float, c: float, dr: float, dc: float, eye: float
) -> tuple[float, float, float]:
    """Height above the eye on the way through a cell: ``rise + slope x + curve x^2``."""
    z00 = float(z[i, j])
    down, across = z[i + 1, j] - z00, z[i, j + 1] - z00
    twist = z[i + 1, j + 1] - z00 - down - across
    u, v = r - i, c - j
    rise = z00 + down * u + across * v + twist * u * v - eye
    slope = down * dr + across * dc + twist * (u * dc + v * dr)
    return rise, slope, twist * dr * dc


@_inlined
def _stays_below(
    rise: float,
    slope: float,
    curve: float,
    near: float,
    length: float,
    best: float,
    drop: float,
) -> bool:
    """Tell without a division that the way through a cell stays below the skyline."""
    start = rise - (best + drop * near) * near
    tilt = slope - best - 2.0 * drop * near
    bend = curve - drop
    if start > 0.0 or start + (tilt + bend * length) * length > 0.0:
        return False
    arched = bend < 0.0 and tilt > 0.0 and tilt + 2.0 * bend * length < 0.0
    return not (arched and tilt * tilt > 4.0 * bend * start)


@_inlined
def _highest_in_cell(
    rise: float, slope: float, curve: float, near: float, length: float, drop: float
) -> tuple[float, float]:
    """Highest tangent on the way through a cell, and where it stands."""
    far = near + length
    tangent, at = rise / near - drop * near, near
    end = (rise + (slope + curve * length) * length) / far - drop * far
    if end > tangent:
        tangent, at = end, far
    a, k = rise - (slope - curve * near) * near, curve - drop
    if a < 0.0 and k < 0.0:
        top = math.sqrt(a / k)
        if near < top < far:
            peak = slope - 2.0 * curve * near + a / top + k * top
            if peak > tangent:
                tangent, at = peak, top
    return tangent, at


@_compiled
def _cells(
    z: Heights,
    cell: tuple[int, int],
    t: float,
    line: Line,
    inverse: tuple[float, float],
    eye: float,
    drop: float,
    seen: Seen,
) -> tuple[int, int, float, Seen]:
    """Walk the cells of one fine block; gives the cell and share at which it is left."""
    s0, r0, c0, ds, dr, dc, _, t_end = line
    best, where, unknown, unknown_from = seen
    i, j = cell
    block_i, block_j = i >> FINE, j >> FINE
    t_row = _way_out(i, 1, r0, dr, inverse[0])
    t_col = _way_out(j, 1, c0, dc, inverse[1])
    near = s0 + t * ds
    while t < t_end:
        out = max(t, min(t_row, t_col, t_end))
        far = s0 + out * ds
        if math.isnan(z[i, j] + z[i + 1, j] + z[i, j + 1] + z[i + 1, j + 1]):
            if far > near:
                unknown += far - near
                unknown_from = min(unknown_from, near)
        elif far > near:
            high = max(z[i, j], z[i + 1, j], z[i, j + 1], z[i + 1, j + 1])
            if not _hides_nothing(high, best, eye, drop, near, far):
                rise, slope, curve = _rise_in_cell(
                    z, i, j, r0 + t * dr, c0 + t * dc, dr / ds, dc / ds, eye
                )
                if not _stays_below(rise, slope, curve, near, far - near, best, drop):
                    tangent, at = _highest_in_cell(rise, slope, curve, near, far - near, drop)
                    if tangent > best:
                        best, where = tangent, at
        t, near = out, far
        if t_row <= t_col:
            i += 1 if dr > 0.0 else -1
            t_row += abs(inverse[0])
        else:
            j += 1 if dc > 0.0 else -1
            t_col += abs(inverse[1])
        if (i >> FINE) != block_i or (j >> FINE) != block_j:
            break
        if i >= z.shape[0] - 1 or j >= z.shape[1] - 1:
            break
    return i, j, t, (best, where, unknown, unknown_from)


@_compiled
def _walk(
    z: Heights, fine: Heights, coarse: Heights, line: Line, eye: float, drop: float, seen: Seen
) -> Seen:
    """Walk one straight segment, passing over blocks that cannot matter."""
    s0, r0, c0, ds, dr, dc, t, t_end = line
    cells_down, cells_across = z.shape[0] - 1, z.shape[1] - 1
    inverse = (1.0 / dr if dr != 0.0 else math.inf), (1.0 / dc if dc != 0.0 else math.inf)
    i = _first_cell(r0 + t * dr, dr, cells_down)
    j = _first_cell(c0 + t * dc, dc, cells_across)
    level = COARSE
    while t < t_end:
        bi, bj, size = (i >> level) << level, (j >> level) << level, 1 << level
        t_row = _way_out(bi, size, r0, dr, inverse[0])
        t_col = _way_out(bj, size, c0, dc, inverse[1])
        out = max(t, min(t_row, t_col, t_end))
        high = coarse[i >> COARSE, j >> COARSE] if level == COARSE else fine[i >> FINE, j >> FINE]
        was_i, was_j = i >> COARSE, j >> COARSE
        if not _hides_nothing(high, seen[0], eye, drop, s0 + t * ds, s0 + out * ds):
            if level == COARSE:
                level = FINE
                continue
            i, j, t, seen = _cells(z, (i, j), t, line, inverse, eye, drop, seen)
        else:
            t = out
            if t_row <= t_col:
                i = bi + size if dr > 0.0 else bi - 1
                j = min(max(math.floor(c0 + t * dc), bj), bj + size - 1)
            else:
                j = bj + size if dc > 0.0 else bj - 1
                i = min(max(math.floor(r0 + t * dr), bi), bi + size - 1)
        if i < 0 or j < 0 or i >= cells_down or j >= cells_across:
            break
        if (i >> COARSE) != was_i or (j >> COARSE) != was_j:
            level = COARSE
    return seen


@_inlined
def _path(
    rows: Floats, cols: Floats, n: int, t: float, corner: tuple[float, float]
) -> tuple[float, float]:
    """Row and column of a ray at a share of its reach, counted from the piece's corner."""
    degree = rows.shape[1] - 1
    r, c = rows[n, degree], cols[n, degree]
    for k in range(degree - 1, -1, -1):
        r = r * t + rows[n, k]
        c = c * t + cols[n, k]
    return r - corner[0], c - corner[1]


@_compiled
def _look_along(
    z: Heights,
    fine: Heights,
    coarse: Heights,
    start: tuple[float, float, float],
    end: tuple[float, float, float],
    eye: float,
    drop: float,
    seen: Seen,
) -> Seen:
    """Walk straight between two places (s, row, col), as far as the piece goes."""
    a, r0, c0 = start
    b, r1, c1 = end
    last_row, last_col = float(z.shape[0] - 1), float(z.shape[1] - 1)
    low, high = 0.0, 1.0
    if min(r0, r1) < 0.0 or max(r0, r1) > last_row:
        low, high = _clip(r0, r1 - r0, last_row, low, high)
    if min(c0, c1) < 0.0 or max(c0, c1) > last_col:
        low, high = _clip(c0, c1 - c0, last_col, low, high)
    if low >= high:
        return seen
    line = (a, r0, c0, b - a, r1 - r0, c1 - c0, low, high)
    return _walk(z, fine, coarse, line, eye, drop, seen)


@_compiled
def march_rays(
    z: Heights,
    fine: Heights,
    coarse: Heights,
    corner: tuple[float, float],
    highest: float,
    has_void: bool,
    rows: Floats,
    cols: Floats,
    reach: float,
    nodes: Floats,
    ends: Floats,
    eye: float,
    drop: float,
    tangent: Floats,
    distance: Floats,
    unknown: Floats,
    unknown_from: Floats,
) -> None:
    """Look along every ray over one piece of a raster; see ``march.march``.

    The stretch that held the previous ray's skyline comes first: it mostly holds this
    one's too, and with a high skyline in hand most blocks can be passed over.
    """
    rise = highest - eye
    crest = math.sqrt(max(-rise, 0.0) / drop)
    crest_tangent = -2.0 * math.sqrt(max(-rise, 0.0) * drop)
    likely = 1
    for n in range(rows.shape[0]):
        seen = (tangent[n], distance[n], unknown[n], unknown_from[n])
        first, before = likely, -1
        r1, c1 = 0.0, 0.0
        for turn in range(nodes.shape[0]):
            m = first if turn == 0 else turn
            if (turn > 0 and m == first) or nodes[m - 1] >= ends[n]:
                continue
            a, b = nodes[m - 1], min(nodes[m], ends[n])
            if not has_void and _nothing_beyond(rise, seen[0], drop, a, crest, crest_tangent):
                if turn == 0:
                    continue
                break
            if before == m - 1:
                r0, c0 = r1, c1
            else:
                r0, c0 = _path(rows, cols, n, a / reach, corner)
            r1, c1 = _path(rows, cols, n, b / reach, corner)
            before, was = m, seen[0]
            seen = _look_along(z, fine, coarse, (a, r0, c0), (b, r1, c1), eye, drop, seen)
            if seen[0] > was:
                likely = m
        tangent[n], distance[n], unknown[n], unknown_from[n] = seen
