"""The skyline along sight lines, compiled; the same answer as ``march``, faster.

Each ray walks the cells that it crosses. Before a block of 64 x 64 or 8 x 8 cells its
highest pixel is held against the skyline found so far, and the block is passed over
when even that pixel, at the end of the way through the block where it would look
highest, could not rise above it. Blocks with voids count as infinitely high, so the
way over unknown ground is always measured. No fast-math: NaN must stay NaN.

A compiled function that is kept on disk does not notice when a function of another file has
changed. So all of it is in one file but for ``crossing``, and what ``crossing`` says becomes
part of the names under which these are kept.
"""

from __future__ import annotations

import math
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar, cast

import numpy as np
from numba import njit

from backbearing.base.kept_code import inner, kept
from backbearing.terrain.skyline import crossing

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Heights: TypeAlias = NDArray[np.floating]
    Floats: TypeAlias = NDArray[np.float64]
    Ints: TypeAlias = NDArray[np.int64]

Function = TypeVar("Function", bound="Callable[..., Any]")

Seen: TypeAlias = tuple[float, float, float, float]
"""Highest tangent, where it stands, length of unknown way, where that begins."""

Line: TypeAlias = tuple[float, float, float, float, float, float, float, float]
"""A straight segment: s, row and col at its start, their runs, first and last share."""

_inner = inner(njit, nogil=True, error_model="numpy")
_rise_in_cell = _inner(crossing.rise_in_cell)
_tangents_in_cell = _inner(crossing.tangents_in_cell)
_CROSSING = zlib.crc32(Path(crossing.__file__).read_bytes())


def _compiled(function: Function) -> Function:
    function.__qualname__ += f"_{_CROSSING:08x}"
    return cast("Function", kept(njit, nogil=True, error_model="numpy")(function))


FINE = 3
COARSE = 6

MOST_CHORDS = 4096
"""Chords to a ray; a ray of 1,000 km at a latitude of 89 degrees needs 1,000."""

SPACING_CELLS = 32.0
"""How densely a ray is searched for the ground that promises its skyline."""

SEARCH_FROM_CELLS = 16.0
"""Where that search begins: nearer blocks are too coarse to promise anything."""

PROMISED_CELLS = 8.0
"""How much ground before and behind the promising place is looked at first."""

MARGIN = 1e-9
"""Tangent by which the skyline of other pieces is lowered before ground is passed over.

It is far above rounding, so that a ray's answer does not depend on the order of pieces.
"""


@_inner
def _hides_nothing(
    high: float, best: float, eye: float, drop: float, near: float, far: float
) -> bool:
    """Tell that ground no higher than ``high`` between two distances stays below ``best``."""
    rise = high - eye
    return rise <= (best + drop * near) * (near if rise >= 0.0 else far)


@_inner
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


@_inner
def _way_out(first: int, size: int, start: float, run: float, inverse: float) -> float:
    """Share of the segment at which it leaves a block of rows (or columns)."""
    if run > 0.0:
        return (first + size - start) * inverse
    if run < 0.0:
        return (first - start) * inverse
    return math.inf


@_inner
def _clip(start: float, run: float, last: float, low: float, high: float) -> tuple[float, float]:
    """Narrow the share of a segment to where it lies between 0 and ``last``."""
    if run == 0.0:
        return (low, high) if 0.0 <= start <= last else (1.0, 0.0)
    a, b = (0.0 - start) / run, (last - start) / run
    return max(low, min(a, b)), min(high, max(a, b))


@_inner
def _first_cell(at: float, run: float, cells: int) -> int:
    """Index of the cell into which a path leads."""
    index = math.ceil(at) - 1 if run < 0.0 else math.floor(at)
    return min(max(index, 0), cells - 1)


@_inner
def _corners(z: Heights, i: int, j: int) -> tuple[float, float, float, float]:
    return float(z[i, j]), float(z[i + 1, j]), float(z[i, j + 1]), float(z[i + 1, j + 1])


@_inner
def _stays_below(
    way: tuple[float, float, float], near: float, length: float, best: float, drop: float
) -> bool:
    """Tell without a division that the way through a cell stays below the skyline."""
    rise, slope, curve = way
    start = rise - (best + drop * near) * near
    tilt = slope - best - 2.0 * drop * near
    bend = curve - drop
    if start > 0.0 or start + (tilt + bend * length) * length > 0.0:
        return False
    arched = bend < 0.0 and tilt > 0.0 and tilt + 2.0 * bend * length < 0.0
    return not (arched and tilt * tilt > 4.0 * bend * start)


@_inner
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
                begin = r0 + t * dr - i, c0 + t * dc - j
                way = _rise_in_cell(_corners(z, i, j), begin, (dr / ds, dc / ds), eye)
                if not _stays_below(way, near, far - near, best, drop):
                    enters, leaves, highest, top = _tangents_in_cell(way, near, far - near, drop)
                    tangent = max(enters, leaves, highest)
                    if tangent > best:
                        best = tangent
                        where = near if enters == best else far if leaves == best else top
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


@_inner
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


@_inner
def _path(rows: Floats, cols: Floats, n: int, t: float) -> tuple[float, float]:
    """Row and column of a ray at a share of its reach."""
    degree = rows.shape[1] - 1
    r, c = rows[n, degree], cols[n, degree]
    for k in range(degree - 1, -1, -1):
        r = r * t + rows[n, k]
        c = c * t + cols[n, k]
    return r, c


@_inner
def _curve(rows: Floats, cols: Floats, n: int, reach: float, cell_m: float) -> float:
    """Bound on half the second derivative of a ray, per metre."""
    down, across = 0.0, 0.0
    for k in range(2, rows.shape[1]):
        down += 0.5 * k * (k - 1) * abs(rows[n, k])
        across += 0.5 * k * (k - 1) * abs(cols[n, k])
    return math.hypot(down, across) * cell_m / (reach * reach)


@_inner
def _chords(
    rows: Floats,
    cols: Floats,
    n: int,
    reach: float,
    bends: tuple[float, float, float],
    corner: tuple[float, float],
    between: tuple[float, float],
    chords: Floats,
) -> int:
    """Cut a ray into straight chords: s, row, col at the start of each, and their runs.

    As ``Rays.chords`` does; ``bends`` holds the cell, the stray and the least curve.
    """
    cell_m, stray, least_curve = bends
    curve = max(_curve(rows, cols, n, reach, cell_m), least_curve)
    step = math.sqrt(2.0 * stray / curve)
    start, end = between
    root = math.sqrt(start)
    count: int = min(int((math.sqrt(end) - root) / step) + 1, chords.shape[0])
    step = (math.sqrt(end) - root) / count
    a = start
    r0, c0 = _path(rows, cols, n, a / reach)
    for m in range(count):
        b = end if m == count - 1 else (root + (m + 1) * step) ** 2
        r1, c1 = _path(rows, cols, n, b / reach)
        rm, cm = _path(rows, cols, n, 0.5 * (a + b) / reach)
        down, across = 0.5 * (rm - 0.5 * (r0 + r1)), 0.5 * (cm - 0.5 * (c0 + c1))
        # The first chord begins on the ray itself: beside a near eye a millimetre is an angle.
        early = 0.0 if m == 0 else 1.0
        chords[m, 0] = a
        chords[m, 1] = r0 + early * down - corner[0]
        chords[m, 2] = c0 + early * across - corner[1]
        chords[m, 3] = b - a
        chords[m, 4] = r1 - r0 + (1.0 - early) * down
        chords[m, 5] = c1 - c0 + (1.0 - early) * across
        a, r0, c0 = b, r1, c1
    return count


@_inner
def _likeliest(
    fine: Heights, chords: Floats, count: int, eye: float, drop: float, from_m: float
) -> tuple[int, float]:
    """Chord and share along it where the highest ground nearby promises the skyline."""
    best, chord, share = -math.inf, 0, 0.5
    for m in range(count):
        a, r0, c0 = chords[m, 0], chords[m, 1], chords[m, 2]
        ds, dr, dc = chords[m, 3], chords[m, 4], chords[m, 5]
        looks = int((abs(dr) + abs(dc)) / SPACING_CELLS) + 1
        for k in range(looks):
            t = (k + 0.5) / looks
            i, j = math.floor(r0 + t * dr) >> FINE, math.floor(c0 + t * dc) >> FINE
            if i < 0 or j < 0 or i >= fine.shape[0] or j >= fine.shape[1]:
                continue
            s = a + t * ds
            high = fine[i, j]
            if s < from_m or high == math.inf:
                continue
            tangent = (high - eye) / s - drop * s
            if tangent > best:
                best, chord, share = tangent, m, t
    return chord, share


@_inner
def _look_along(
    z: Heights,
    fine: Heights,
    coarse: Heights,
    chord: Floats,
    between: tuple[float, float],
    eye: float,
    drop: float,
    seen: Seen,
) -> Seen:
    """Walk along a share of one chord, as far as the piece goes."""
    a, r0, c0, ds, dr, dc = chord[0], chord[1], chord[2], chord[3], chord[4], chord[5]
    last_row, last_col = float(z.shape[0] - 1), float(z.shape[1] - 1)
    low, high = between
    if min(r0, r0 + dr) < 0.0 or max(r0, r0 + dr) > last_row:
        low, high = _clip(r0, dr, last_row, low, high)
    if min(c0, c0 + dc) < 0.0 or max(c0, c0 + dc) > last_col:
        low, high = _clip(c0, dc, last_col, low, high)
    if low >= high:
        return seen
    return _walk(z, fine, coarse, (a, r0, c0, ds, dr, dc, low, high), eye, drop, seen)


@_compiled
def march_rays(
    z: Heights,
    fine: Heights,
    coarse: Heights,
    corner: tuple[float, float],
    highest: float,
    has_void: bool,
    bends: tuple[float, float, float],
    which: Ints,
    rows: Floats,
    cols: Floats,
    reaches: Floats,
    starts: Floats,
    ends: Floats,
    eyes: Floats,
    drop: float,
    tangent: Floats,
    distance: Floats,
    unknown: Floats,
    unknown_from: Floats,
) -> None:
    """Look along rays over one piece of a raster; see ``march.march``.

    The place that promises the skyline comes first: with a high skyline in hand most blocks
    can be passed over. A ray's answer depends on nothing but the ray.
    """
    chords = np.empty((MOST_CHORDS, 6))
    search_from = SEARCH_FROM_CELLS * bends[0]
    for n in which:
        eye = eyes[n]
        if not starts[n] < ends[n]:
            continue
        count = _chords(rows, cols, n, reaches[n], bends, corner, (starts[n], ends[n]), chords)
        rise = highest - eye
        crest = math.sqrt(max(-rise, 0.0) / drop)
        crest_tangent = -2.0 * math.sqrt(max(-rise, 0.0) * drop)
        m, t = _likeliest(fine, chords, count, eye, drop, search_from)
        around = PROMISED_CELLS / max(abs(chords[m, 4]) + abs(chords[m, 5]), 1e-9)
        between = (max(t - around, 0.0), min(t + around, 1.0))
        seen = (tangent[n] - MARGIN, math.nan, 0.0, math.inf)
        seen = _look_along(z, fine, coarse, chords[m], between, eye, drop, seen)
        seen = (seen[0], seen[1], 0.0, math.inf)
        for m in range(count):
            near = chords[m, 0]
            if not has_void and _nothing_beyond(rise, seen[0], drop, near, crest, crest_tangent):
                break
            seen = _look_along(z, fine, coarse, chords[m], (0.0, 1.0), eye, drop, seen)
        same = seen[0] == tangent[n] and seen[1] < distance[n]
        if seen[0] > tangent[n] or same:
            tangent[n], distance[n] = seen[0], seen[1]
        unknown[n] += seen[2]
        unknown_from[n] = min(unknown_from[n], seen[3])
