"""Compiled parts of the sweep: upper hulls along a strip's lines tell where skylines stand.

Line k runs along the strip's path between lanes k - 1 and k. Its ground lies in an upper
hull of ``w = z - c x^2``, in which curvature and refraction leave the order of tangents as
it is, because the term they add is the same for all points seen from one eye.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import uint64

from backbearing.terrain.skyline._sweep_strips import (
    BETWEEN_M,
    BLOCK,
    KNOWN,
    MARGIN,
    SPAN,
    WIDTH,
    apart,
    compiled,
)

LINES: Final = WIDTH + 1
WINDOW: Final = 4
"""Rows on both sides over which a corner of a hull must rise above all chords."""

_F = np.float32
_0, _1, _2 = np.uint64(0), np.uint64(1), np.uint64(2)


@apart
def read_lines(room: Any, i0: Any, n: Any, share: Any, x: Any, c: Any, lines: Any) -> None:
    """Read ``w`` along the lines in rows from i0 on.

    Half a lane off the raster the outermost lane counts: a line only tells where to look.
    """
    for k in range(n):
        o = uint64((i0 + k) * SPAN + MARGIN - 1)
        q = uint64(k * SPAN)
        u, fall = share[i0 + k], c * x[i0 + k] * x[i0 + k]
        for j in range(uint64(LINES)):
            a, b = room[o + j], room[o + j + _1]
            a, b = a if a > BETWEEN_M else b, b if b > BETWEEN_M else a
            lines[q + j] = a + (b - a) * u - fall


@apart
def find_crests(lines: Any, kept: Any, crests: Any) -> None:
    """Tell which of a block's rows could be corners of a hull, a bit for each row.

    A row below a chord over it within the window cannot be. ``kept`` are bits set anyway.
    """
    span = uint64(SPAN)
    crests[:] = kept
    for k in range(BLOCK):
        o = uint64((k + WINDOW) * SPAN)
        bit = np.int32(1 << k)
        for j in range(uint64(LINES)):
            w = lines[o + j]
            before, after = lines[o - span + j] - w, lines[o + span + j] - w
            two, on = (lines[o - _2 * span + j] - w) / _F(2), (lines[o + _2 * span + j] - w) / _F(2)
            before, after = two if two > before else before, on if on > after else after
            at = uint64(3) * span
            two, on = (lines[o - at + j] - w) / _F(3), (lines[o + at + j] - w) / _F(3)
            before, after = two if two > before else before, on if on > after else after
            at = uint64(4) * span
            two, on = (lines[o - at + j] - w) / _F(4), (lines[o + at + j] - w) / _F(4)
            before, after = two if two > before else before, on if on > after else after
            crests[j] |= bit if before + after < _F(0) else np.int32(0)


@compiled
def push_block(
    row: Any, lines: Any, crests: Any, top_bit: Any, x: Any, hull_x: Any, hull_w: Any,
    hull_row: Any, size: Any,
) -> None:  # fmt: skip
    """Push a block's crests on the hulls of all lines, which grow towards the eye."""
    room = uint64(len(hull_x) // LINES)
    for a in range(uint64(LINES)):
        bits = crests[a]
        if bits == 0:
            continue
        o, n = a * room + _2, size[a]
        last_x, last_w = hull_x[o + n - _1], hull_w[o + n - _1]
        while bits != 0:
            k = uint64(top_bit[bits])
            bits ^= 1 << k
            w = lines[(k + uint64(WINDOW)) * uint64(SPAN) + a]
            if w < KNOWN:
                continue
            r = uint64(row) + k
            s = x[r]
            while n >= _2:
                p = o + n - _2
                if (last_w - w) * (hull_x[p] - s) > (hull_w[p] - w) * (last_x - s):
                    break
                n -= _1
                last_x, last_w = hull_x[p], hull_w[p]
            hull_x[o + n], hull_w[o + n], hull_row[o + n] = s, w, r
            n += _1
            last_x, last_w = s, w
        size[a] = n


@compiled
def _climb(hull_x: Any, hull_w: Any, o: Any, n: Any, p: Any, x: Any, w: Any) -> int:
    """Go along a hull to the corner that a point sees highest, from a corner p."""
    up, far = hull_w[o + p] - w, hull_x[o + p] - x
    start = p
    while p + _1 < n:
        up2, far2 = hull_w[o + p + _1] - w, hull_x[o + p + _1] - x
        if not up2 * far > up * far2:
            break
        p += _1
        up, far = up2, far2
    if p != start:
        return p
    while p > _0:
        up2, far2 = hull_w[o + p - _1] - w, hull_x[o + p - _1] - x
        if not up2 * far > up * far2:
            break
        p -= _1
        up, far = up2, far2
    return p


@compiled
def seek(
    i: Any, room: Any, share: Any, x: Any, eye: Any, c: Any, hull_x: Any, hull_w: Any,
    hull_row: Any, size: Any, at: Any, found: Any,
) -> None:  # fmt: skip
    """Find in which row the skyline of every other line stands, for the eyes of a row.

    Even lines in even rows, odd ones in odd rows: neighbours mostly share a skyline. Beside
    the raster's edge, where a ray has one neighbour only, lines of both kinds. -1 stands for
    none.
    """
    long = uint64(len(hull_x) // LINES)
    lift = eye - c * x[i] * x[i]
    e = uint64(i * SPAN + MARGIN - 1) + (_1 if share[i] >= _F(0.5) else _0)
    found[:] = -1
    row = uint64(i * SPAN)
    edge = room[row] < BETWEEN_M or room[row + uint64(SPAN - 1)] < BETWEEN_M
    own = uint64(i) & _1
    for a in range(_0 if edge else own, uint64(LINES), _1 if edge else _2):
        if (a & _1) != own and min(room[e + a - _1], room[e + a + _1]) > BETWEEN_M:
            continue
        n = size[a]
        if n == _0:
            continue
        o = a * long + _2
        p = at[a] if at[a] < n else n - _1
        z = room[e + a]
        if z < BETWEEN_M:  # off the raster: the eye beside it
            z = max(room[e + a - _1], room[e + a + _1])
        if z < BETWEEN_M:
            continue
        p = _climb(hull_x, hull_w, o, n, p, x[i], z + lift)
        at[a] = p
        found[a] = hull_row[o + p]


@compiled
def seek_onward(
    start: Any, stop: Any, middle: Any, eyes: Any, room: Any, share: Any, x: Any, eye: Any,
    c: Any, reach: Any, hull_x: Any, hull_w: Any, hull_row: Any, found: Any,
) -> None:  # fmt: skip
    """Do the same over the ground from a row ``middle`` on, as far as the reach of each eye.

    For eyes between rows ``start`` and ``stop``; these hulls grow away from the eye.
    ``found`` has a row for each of a block's eyes that seek.
    """
    last = len(x) - 1
    for a in range(LINES):
        n, p, r = _0, _0, middle
        for i0 in range(start, stop, BLOCK):
            for k in range(len(eyes)):
                i = i0 + eyes[k]
                while r < last and x[r] - x[i] <= reach:
                    q = uint64(r * SPAN + MARGIN - 1 + a)
                    s, w = x[r], room[q] + (room[q + _1] - room[q]) * share[r] - c * x[r] * x[r]
                    while w > KNOWN and n >= _2:
                        one, two = hull_x[n - _1], hull_x[n - _2]
                        if (hull_w[n - _1] - w) * (s - two) > (hull_w[n - _2] - w) * (s - one):
                            break
                        n -= _1
                    if w > KNOWN:
                        hull_x[n], hull_w[n], hull_row[n] = s, w, r
                        n += _1
                    r += 1
                to = (i0 // BLOCK * len(eyes) + k) * LINES + a
                found[to] = -1
                if n > _0:
                    cell = uint64(i * SPAN + MARGIN - 1 + a) + (_1 if share[i] >= _F(0.5) else _0)
                    p = p if p < n else n - _1
                    w = room[cell] + eye - c * x[i] * x[i]
                    p = _climb(hull_x, hull_w, _0, n, p, x[i], w)
                    found[to] = hull_row[p]


@compiled
def gather(found: Any, low: Any, high: Any, stamp: Any, mark: Any, rows: Any, n: Any) -> int:
    """List the rows, each once, that some lines found."""
    for a in range(low, high):
        r = found[a]
        if r >= 0 and stamp[r] != mark:
            stamp[r] = mark
            rows[n] = r
            n += 1
    return n
