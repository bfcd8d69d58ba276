"""Compiled parts of the sweep: samples of the ground on each eye's own ray.

All eyes of a row look the same way, so their rays cross rows and columns at the same
shares: one list of samples serves a whole row, and only the cells differ. The surface is
linear along rows and columns, so that a crossing is a sample of two cells.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import uint64

from backbearing.terrain.skyline._sweep_strips import KNOWN, MARGIN, SPAN, WIDTH, apart, compiled

GROUP: Final = 32
"""Lanes that share the rows worth looking at."""

MOST_ASIDE: Final = np.float32(4.0)
"""Lanes by which far samples may leave the path: what the margins hold beside its own run."""

FLAT: Final = np.float32(3.5e-4)
"""Tangent below which the inside of a cell adds nothing worth its while: 0.02 degree."""

_F = np.float32
_I = np.int32
_NEVER: Final = np.float32(1e30)
_1, _2, _3 = np.uint64(1), np.uint64(2), np.uint64(3)


@apart
def raise_to(
    room: Any, best: Any, ground: Any, lane: Any, n: Any, one: Any, two: Any, share: Any,
    over: Any, drop: Any,
) -> None:  # fmt: skip
    """Raise what a group of eyes sees to samples, four at a time (n is a multiple of four).

    The tangent of a sample is ``(z - eye) over - drop``: one over its distance, and the
    fall of the level surface.
    """
    to = uint64(lane)
    for p in range(uint64(n) >> _2):
        q = p << _2
        a0, b0, u0, h0, d0 = uint64(one[q]), uint64(two[q]), share[q], over[q], drop[q]
        r = q + _1
        a1, b1, u1, h1, d1 = uint64(one[r]), uint64(two[r]), share[r], over[r], drop[r]
        r = q + _2
        a2, b2, u2, h2, d2 = uint64(one[r]), uint64(two[r]), share[r], over[r], drop[r]
        r = q + _3
        a3, b3, u3, h3, d3 = uint64(one[r]), uint64(two[r]), share[r], over[r], drop[r]
        for k in range(uint64(GROUP)):
            j = to + k
            g = ground[j]
            z0, z1, z2, z3 = room[a0 + j], room[a1 + j], room[a2 + j], room[a3 + j]
            z0 += (room[b0 + j] - z0) * u0
            z1 += (room[b1 + j] - z1) * u1
            z2 += (room[b2 + j] - z2) * u2
            z3 += (room[b3 + j] - z3) * u3
            z0, z1 = (z0 - g) * h0 - d0, (z1 - g) * h1 - d1
            z2, z3 = (z2 - g) * h2 - d2, (z3 - g) * h3 - d3
            z0 = z0 if z0 > z1 else z1
            z2 = z2 if z2 > z3 else z3
            z0 = z0 if z0 > z2 else z2
            old = best[j]
            best[j] = z0 if z0 > old else old


@compiled
def fill_up(n: Any, one: Any, two: Any, share: Any, over: Any, drop: Any) -> int:
    """Add samples that raise nothing until there is a multiple of four."""
    while n % 4 != 0:
        one[n], two[n] = one[0], two[0]
        share[n], over[n], drop[n] = _F(0), _F(0), _NEVER
        n += 1
    return n


@apart
def look_at_end(
    room: Any, best: Any, ground: Any, i: Any, lead: Any, share: Any, x: Any, c: Any, reach: Any
) -> None:
    """Raise what a row's eyes see to the ground where their reach ends, between two rows."""
    low, high = i, len(x)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if x[middle] - x[i] <= reach else (low, middle)
    r = low
    if r + 1 >= len(x):
        return
    lean = lead[r + 1] - lead[r]
    t = (x[i] + reach - x[r]) / (x[r + 1] - x[r])
    y = share[r] - share[i] + (share[r + 1] - share[r] + _F(lean)) * t
    col = np.floor(y)
    u = y - col
    a = uint64(r * SPAN + int(col))
    b = uint64((r + 1) * SPAN + int(col) - lean)
    for j in range(uint64(WIDTH)):
        m = j + uint64(MARGIN)
        z = room[a + m] + (room[a + m + _1] - room[a + m]) * u
        z += (room[b + m] + (room[b + m + _1] - room[b + m]) * u - z) * t
        z = (z - ground[m]) / reach - c * reach
        old = best[m]
        best[m] = z if z > old else old


@compiled
def side_ahead(
    room: Any, lead: Any, share: Any, x: Any, lanes: Any, n: Any, gap: Any
) -> tuple[Any, Any, Any, Any]:
    """Tell on which side of the raster a strip's rays end, if on any: 1, -1, or 0.

    ``gap`` is filled with how far to that side of the path the raster's last lane stands, in
    each row, negative once it is passed. Also the most that shrinks from row to row, the
    least length of a row, and the highest ground on the last lane within the strip.
    """
    side = 1 if share[n - 1] + lead[n - 1] > share[0] + lead[0] else -1
    last = lanes - 1 if side > 0 else 0
    for r in range(n):
        gap[r] = side * (last - lead[r] - share[r])
    steepest, least, high, met = _F(0), x[1] - x[0], KNOWN, 0
    for r in range(n - 1):
        steepest = max(steepest, _F(gap[r] - gap[r + 1]))
        least = min(least, x[r + 1] - x[r])
        j = last - lead[r] + MARGIN
        if 0 <= j < SPAN:
            met += 1
            high = max(high, room[r * SPAN + j])
    return (side if met > 0 and steepest > _F(0) else 0), steepest, least, high


@compiled
def look_at_side(
    room: Any, best: Any, ground: Any, i: Any, lead: Any, share: Any, x: Any, c: Any, reach: Any,
    bend: Any, lanes: Any, n: Any, ahead: Any, side: Any, steepest: Any, least: Any, high: Any,
    gap: Any, row_of: Any,
) -> None:  # fmt: skip
    """Raise what a row's eyes see to the ground where their rays leave the raster sideways.

    That is between two rows, on the outermost lane, and mostly in no row that was found.
    ``row_of`` (WIDTH) keeps the row before it from one row of eyes to the next.
    """
    last = lanes - 1 if side > 0 else 0
    for j in range(WIDTH):
        own = side * (_F(j) - share[i])
        rows = (gap[i] - own - MOST_ASIDE) / steepest
        near = max(rows, _F(ahead)) * least
        over = high - ground[j + MARGIN]
        if over <= _F(0) or over > (best[j + MARGIN] + c * near) * near:
            r = row_of[j]
            for _ in range(2):
                s = x[r] - x[i]
                at = own + side * max(min(bend * s * s, MOST_ASIDE), -MOST_ASIDE)
                while r + 2 < n and gap[r + 1] >= at:
                    r += 1
                while r > i and gap[r] < at:
                    r -= 1
            row_of[j] = r
            if r < i + ahead - 1 or gap[r] < at or gap[r + 1] >= at:
                continue
            t = (gap[r] - at) / (gap[r] - gap[r + 1])
            s = x[r] + (x[r + 1] - x[r]) * t - x[i]
            a = r * SPAN + last - lead[r] + MARGIN
            b = (r + 1) * SPAN + last - lead[r + 1] + MARGIN
            z = room[a] + (room[b] - room[a]) * t
            z = (z - ground[j + MARGIN]) / s - c * s
            if s <= reach and z > best[j + MARGIN]:
                best[j + MARGIN] = z


@apart
def lay_grid(
    lead: Any, share: Any, x: Any, at: Any, on: Any, run: Any, inverse: Any, step: Any
) -> None:
    """Note for each row where it and the next begin, and the path's run between the two.

    ``inverse`` is one over the run; where rays run along a column it is so large that no
    crossing is found.
    """
    for r in range(len(lead) - 1):
        lean = lead[r + 1] - lead[r]
        at[r] = r * _I(SPAN)
        on[r] = at[r] + _I(SPAN) - lean
        d = share[r + 1] - share[r] + _F(lean)
        run[r] = d
        inverse[r] = _F(1) / d if abs(d) > _F(0.01) else _NEVER
        step[r] = x[r + 1] - x[r]


@apart
def _solve(
    room: Any, best: Any, ground: Any, a: Any, d: Any, level: Any, u: Any, run: Any,
    near: Any, near2: Any, far2: Any, fall: Any, per_m: Any,
) -> None:  # fmt: skip
    """Raise what eyes see to the highest point within cells, where it is not on their edge.

    In units of a row's length, z along a ray is ``p0 + p1 t + p2 t^2`` from the cell's first
    row on, ``near`` away from the eye. The tangent ``A / s + B + C s`` has its maximum
    ``B - 2 sqrt(A C)`` at ``s^2 = A / C``, where both are negative.
    """
    for j in range(uint64(WIDTH)):
        m = j + uint64(MARGIN)
        z, right, ahead, both = room[a + m], room[a + m + _1], room[d + m], room[d + m + _1]
        least, less = right if right < z else z, both if both < ahead else ahead
        least = less if less < least else least
        right -= z
        ahead -= z
        twist = both - z - right - ahead
        p0 = z + right * u - ground[m]
        p1 = right * run + ahead + twist * u
        p2 = twist * run
        zero, square = p0 - near * (p1 - p2 * near), p2 - fall
        t = (p1 - _F(2) * p2 * near - _F(2) * np.sqrt(abs(zero * square))) * per_m
        within = (zero < square * near2) & (zero > square * far2) & (least > level)
        old = best[m]
        t = t if within else old
        best[m] = t if t > old else old


@apart
def find_twists(room: Any, lead: Any, twists: Any) -> None:
    """Note how far at most the ground of a strip's cells is bent between a row and the next."""
    for r in range(len(lead) - 1):
        a = uint64(r * SPAN)
        b = uint64((r + 1) * SPAN - (lead[r + 1] - lead[r]))
        most = _F(0)
        for j in range(uint64(1 + max(lead[r + 1] - lead[r], 0)),
                       uint64(SPAN - 2 + min(lead[r + 1] - lead[r], 0))):  # fmt: skip
            twist = abs(room[a + j] - room[a + j + _1] - room[b + j] + room[b + j + _1])
            twist = twist if twist < -KNOWN else _F(0)
            most = twist if twist > most else most
        twists[r] = most


@compiled
def solve_near(
    room: Any, best: Any, ground: Any, i: Any, rows: Any, lead: Any, share: Any, x: Any,
    c: Any, reach: Any, twists: Any,
) -> None:  # fmt: skip
    """Raise what a row's eyes see to the insides of the cells within some rows.

    Within a cell a ray rises over the line between its ends by a quarter of the cell's twist
    at most; rows in which that would be seen under less than `FLAT` are passed over.
    """
    for k in range(rows):
        lean = lead[i + k + 1] - lead[i + k]
        o, run = share[i + k] - share[i], share[i + k + 1] - share[i + k] + _F(lean)
        long = x[i + k + 1] - x[i + k]
        near = (x[i + k] - x[i]) / long
        if abs(run) < _F(1e-3):
            continue  # along a column the surface is linear
        if k > 1 and _F(0.25) * twists[i + k] * min(abs(run), _F(1)) < FLAT * near * long:
            continue
        t = _F(0)
        while t < _F(0.999):
            here = o + run * t
            col = np.floor(here + _F(1e-4)) if run > _F(0) else np.ceil(here - _F(1e-4)) - _F(1)
            edge = col + _F(1) if run > _F(0) else col
            past = min((edge - o) / run, _F(1))
            if (near + past) * long <= reach:
                a = uint64((i + k) * SPAN + int(col))
                d = uint64((i + k + 1) * SPAN + int(col) - lean)
                _solve(room, best, ground, a, d, KNOWN, o - col, run, near, (near + t) ** 2,
                       (near + past) ** 2, c * long * long, _F(1) / long)  # fmt: skip
            t = past


@compiled
def list_crossings(
    n: Any, rows: Any, share: Any, x: Any, at: Any, on: Any, run: Any, inverse: Any, step: Any,
    stamp: Any, mark: Any, found: Any, numbers: Any,
) -> int:  # fmt: skip
    """List the rows about each of some rows between which rays could cross a column.

    ``numbers`` (5, n) holds the path at the first row, its run to the next, one over it,
    and the same two distances along.
    """
    m = 0
    for q in range(n):
        for r in range(rows[q] - 1, rows[q] + 1):
            if stamp[r] == mark or inverse[r] == _NEVER:
                continue
            stamp[r] = mark
            found[0, m], found[1, m] = at[r], on[r]
            numbers[0, m], numbers[1, m], numbers[2, m] = share[r], run[r], inverse[r]
            numbers[3, m], numbers[4, m] = x[r], step[r]
            m += 1
    return m


@apart
def aim_at_rows(
    n: Any, here: Any, s0: Any, c: Any, reach: Any, at: Any, path: Any, far: Any,
    one: Any, two: Any, part: Any, over: Any, drop: Any,
) -> None:  # fmt: skip
    """Make samples where a row's rays cross some rows."""
    for q in range(n):
        # Next to a column none of its neighbour is taken: it may lie off the raster, and so
        # far below all ground that nothing would be left of the rest in single precision.
        o = path[q] - here
        col = np.floor(o + _F(1e-4))
        u = o - col
        part[q] = u if u > _F(1e-4) else _F(0)
        p = at[q] + _I(col)
        one[q] = p
        two[q] = p + _I(1)
        s = far[q] - s0
        over[q] = _F(1) / s if s <= reach else _F(0)
        drop[q] = c * s if s <= reach else _NEVER


@apart
def aim_at_columns(
    n: Any, here: Any, s0: Any, c: Any, reach: Any, at: Any, bt: Any, path: Any,
    run: Any, inverse: Any, far: Any, step: Any, one: Any, two: Any, part: Any, over: Any,
    drop: Any,
) -> None:  # fmt: skip
    """Make samples where a row's rays cross a column between some rows and the next."""
    for q in range(n):
        o = path[q] - here
        col = np.floor(o + _F(0.5) * run[q] + _F(0.5))
        t = (col - o) * inverse[q]
        s = far[q] + step[q] * t - s0
        use = (t > _F(0)) & (t < _F(1)) & (s <= reach)
        part[q] = t if use else _F(0)
        w = _I(col)
        one[q] = at[q] + w
        two[q] = bt[q] + w
        over[q] = _F(1) / s if use else _F(0)
        drop[q] = c * s if use else _NEVER


@apart
def bend_paths(n: Any, s0: Any, bend: Any, path: Any, far: Any, bent: Any) -> None:
    """Lay the path at some rows to where the eyes' geodesics are, ``bend s^2`` aside.

    As far as the strip's copy of the ground reaches.
    """
    for q in range(n):
        s = far[q] - s0
        bent[q] = path[q] + max(min(bend * s * s, MOST_ASIDE), -MOST_ASIDE)
