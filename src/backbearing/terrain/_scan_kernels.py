"""Compiled parts of the sweep: hulls along scan lines, and the exact ground near each eye.

The grid arrives turned so that the bearing runs towards higher rows and no more than one
column a row. Line k stands at column ``k + shift[row]``; the ground ahead of it lies in an
upper hull of ``w = z - c x^2``, in which curvature and refraction leave the order of
tangents as it is, because the term they add is the same for all points seen from one eye.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

_FLAGS = {"contract", "reassoc", "nsz", "arcp"}  # never nnan: the tests for voids must stay
_compiled = njit(cache=True, nogil=True, error_model="numpy", fastmath=_FLAGS)


@_compiled
def _between(z: Any, row: int, below: float, col: float) -> float:
    """Height at ``row + below`` rows and ``col`` columns, bilinear; NaN off the known grid."""
    j = int(np.floor(col))
    u = col - j
    if u < 1e-9:
        u = 0.0
    rows, cols = z.shape
    if j < 0 or j >= cols or (u > 0.0 and j + 1 >= cols) or (below > 0.0 and row + 1 >= rows):
        return np.nan
    top: float = z[row, j] if u == 0.0 else z[row, j] * (1.0 - u) + z[row, j + 1] * u
    if below == 0.0:
        return float(top)
    foot: float = z[row + 1, j] if u == 0.0 else z[row + 1, j] * (1.0 - u) + z[row + 1, j + 1] * u
    return float(top * (1.0 - below) + foot * below)


@_compiled
def _tangent(hull_x: Any, hull_w: Any, size: int, x: float, w: float) -> float:
    """Largest slope from a point to the hull ahead of it; the top of the stack is nearest."""
    low, high = 0, size - 1
    while low < high:
        middle = (low + high) // 2
        near = (hull_w[middle + 1] - w) * (hull_x[middle] - x)
        far = (hull_w[middle] - w) * (hull_x[middle + 1] - x)
        if near > far:
            low = middle + 1
        else:
            high = middle
    return float((hull_w[low] - w) / (hull_x[low] - x))


@_compiled
def _push(hull_x: Any, hull_w: Any, size: int, x: float, w: float, sense: float) -> int:
    """Add a point at one end of an upper hull; ``sense`` is -1 towards the eye, 1 away."""
    while size >= 2:
        one, two = sense * (x - hull_x[size - 1]), sense * (x - hull_x[size - 2])
        if (hull_w[size - 1] - w) * two > (hull_w[size - 2] - w) * one:
            break
        size -= 1
    hull_x[size] = x
    hull_w[size] = w
    return size + 1


@_compiled
def _points(z: Any, shift: Any, x_m: Any, line: int, c: float, x: Any, w: Any, void: Any) -> None:
    """Read a line's ground every half row; w is NaN off the raster and on voids."""
    rows, cols = z.shape
    for i in range(2 * rows - 1):
        r, below = i // 2, 0.5 * (i % 2)
        col = line + shift[r] + (below * (shift[r + 1] - shift[r]) if below > 0.0 else 0.0)
        x[i] = x_m[r] + (below * (x_m[r + 1] - x_m[r]) if below > 0.0 else 0.0)
        w[i] = np.nan
        void[i] = False
        if 0.0 <= col <= cols - 1.0:
            w[i] = _between(z, r, below, col) - c * x[i] * x[i]
            void[i] = np.isnan(w[i])


@_compiled
def scan_line(
    z: Any,
    shift: Any,
    x_m: Any,
    line: int,
    near_rows: int,
    reach_m: float,
    eye_m: float,
    c: float,
    highest_m: float,
    left: Any,
    right: Any,
) -> None:
    """Sweep one line; give each cell beside it the tangent over the ground beyond the near.

    ``left`` holds what a line says to the cell on its left, ``right`` to the one on its
    right; NaN where nothing is known ahead, +inf where a void ahead could hide more.

    Ground out to the reach is the rest of the eye's own stretch (a hull built towards the
    eye) and the beginning of the next one (a hull built away from it), where stretches are
    as long as the reach: so each point enters two hulls at most.
    """
    n = 2 * z.shape[0] - 1
    x, w, void = np.empty(n), np.empty(n), np.empty(n, dtype=np.bool_)
    _points(z, shift, x_m, line, c, x, w, void)
    hull_x, hull_w = np.empty(n + 1), np.empty(n + 1)
    start = 0
    while start < n:
        stop = start
        while stop < n and x[stop] - x[start] < reach_m:
            stop += 1
        stop = max(stop, start + 2)
        stop += stop % 2  # stretches begin on whole rows
        stop = min(stop, n)
        size, void_x = 0, np.inf
        ahead = stop - 1
        for i in range(stop - 1 - (stop - 1) % 2, start - 1, -2):
            while ahead >= max(i + 2 * near_rows, start):
                if void[ahead]:
                    void_x = x[ahead]
                elif not np.isnan(w[ahead]):
                    size = _push(hull_x, hull_w, size, x[ahead], w[ahead], -1.0)
                ahead -= 1
            _look(z, line + shift[i // 2], i // 2, x[i], hull_x, hull_w, size, void_x,
                  eye_m, c, highest_m, left, right)  # fmt: skip
        size, void_x = 0, np.inf
        ahead = stop
        for i in range(start, stop, 2):
            while ahead < n and x[ahead] - x[i] <= reach_m:
                if void[ahead]:
                    void_x = min(void_x, x[ahead])
                elif not np.isnan(w[ahead]):
                    size = _push(hull_x, hull_w, size, x[ahead], w[ahead], 1.0)
                ahead += 1
            if ahead > stop:
                _look(z, line + shift[i // 2], i // 2, x[i], hull_x, hull_w, size, void_x,
                      eye_m, c, highest_m, left, right)  # fmt: skip
        start = stop


@_compiled
def _look(
    z: Any,
    here: float,
    row: int,
    x: float,
    hull_x: Any,
    hull_w: Any,
    size: int,
    void_x: float,
    eye_m: float,
    c: float,
    highest_m: float,
    left: Any,
    right: Any,
) -> None:
    """Raise what the two cells beside a line see to the tangent over one hull."""
    cols = z.shape[1]
    whole = int(np.floor(here))
    for side in range(2):
        j = whole + side
        if (side == 1 and here == whole) or j < 0 or j >= cols or np.isnan(z[row, j]):
            continue
        eye = z[row, j] + eye_m
        found = np.nan
        if size > 0:
            found = _tangent(hull_x, hull_w, size, x, eye - c * x * x) + 2.0 * c * x
        if void_x < np.inf:
            could = (highest_m - eye) / (void_x - x) - c * (void_x - x)
            if np.isnan(found) or could > found:
                found = np.inf
        into = left if side == 0 else right
        if np.isnan(into[row, j]) or found > into[row, j]:
            into[row, j] = found


@_compiled
def near_ground(  # noqa: PLR0912, PLR0915  # one loop, kept whole for the compiler
    z: Any,
    slope: Any,
    step_m: Any,
    row: int,
    near_rows: int,
    reach_m: float,
    eye_m: float,
    c: float,
    highest_m: float,
    out: Any,
) -> None:
    """Solve the ground within so many rows of each eye of a row exactly, cell by cell.

    Along a straight ray the bilinear surface is a quadratic in each cell it crosses, so
    ``(A + B s + C s^2) / s`` is greatest at an end or at ``s = sqrt(A / C)``.
    """
    rows, cols = z.shape
    last = min(row + near_rows, rows - 1)
    for col in range(cols):
        ground = z[row, col]
        if np.isnan(ground):
            continue
        eye = ground + eye_m
        best, unknown = np.nan, np.inf
        at = float(col)
        s0 = 0.0
        for r in range(row, last):
            lean, length = slope[r], step_m[r]
            end = at + lean
            t = 0.0
            while t < 1.0:
                here = at + lean * t
                j = int(np.floor(here + (1e-12 if lean >= 0.0 else -1e-12)))
                edge = float(j + 1) if lean > 0.0 else float(j)
                t1 = 1.0
                if lean != 0.0:
                    t1 = min(1.0, (edge - at) / lean)
                    if t1 <= t:
                        t1 = min(1.0, t + 1e-9)
                if lean == 0.0 and j == cols - 1:
                    j -= 1
                if j < 0 or j + 1 >= cols:
                    break
                a, b = z[r, j], z[r, j + 1]
                d, e = z[r + 1, j], z[r + 1, j + 1]
                sa, sb = s0 + t * length, s0 + t1 * length
                if sb > reach_m:
                    break
                # No point of the cell stands higher than its highest corner: most are passed.
                over = max(a, b, d, e) - eye
                if not np.isnan(a + b + d + e) and (
                    over < best * sa if over > 0.0 else over < best * sb
                ):
                    t = t1
                    continue
                u0, u1 = at + lean * t - j, at + lean * t1 - j
                z0 = (a * (1 - u0) + b * u0) * (1 - t) + (d * (1 - u0) + e * u0) * t
                z1 = (a * (1 - u1) + b * u1) * (1 - t1) + (d * (1 - u1) + e * u1) * t1
                if np.isnan(z0) or np.isnan(z1):
                    unknown = min(unknown, max(s0 + t * length, 0.5 * length))
                    t = t1
                    continue
                # z(s) = z0 + p (s - sa) + q (s - sa)(s - sb), with q from the cell's twist.
                q = lean * (a - b - d + e) / (length * length)
                p = (z1 - z0) / (sb - sa) if sb > sa else 0.0
                zero = z0 - eye - p * sa + q * sa * sb
                square = q - c
                tangent = zero / sb + p - q * (sa + sb) + square * sb
                if sa > 0.0:
                    tangent = max(tangent, zero / sa + p - q * (sa + sb) + square * sa)
                if square != 0.0 and zero / square > 0.0 and square < 0.0:
                    peak = np.sqrt(zero / square)
                    if sa < peak < sb:
                        value = zero / peak + p - q * (sa + sb) + square * peak
                        tangent = max(tangent, value)
                if np.isnan(best) or tangent > best:
                    best = tangent
                t = t1
            at = end
            s0 += length
            if s0 > reach_m:
                break
        if unknown < np.inf:
            could = (highest_m - eye) / unknown
            if np.isnan(best) or could > best:
                best = np.inf
        out[row, col] = best
