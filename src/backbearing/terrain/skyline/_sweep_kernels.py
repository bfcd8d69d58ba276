"""The compiled sweep of one strip, from its far end back, a block of rows at a time.

Ground next ahead is looked at on each eye's own ray, row by row and column by column.
Farther ground lies in upper hulls along the strip's lines; what they say is only *where*
skylines stand: each eye of a group then looks, on its own ray, at all the rows that the
lines beside it found. So no figure is ever higher than the ground on the ray itself.

numba keeps the compiled sweep for as long as this file stays the same; touch it after a
change in the files it is made of.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import njit

from backbearing.base.kept_code import kept
from backbearing.terrain.skyline._sweep_hulls import (
    LINES,
    WINDOW,
    find_crests,
    gather,
    push_block,
    read_lines,
    seek,
    seek_onward,
)
from backbearing.terrain.skyline._sweep_samples import (
    GROUP,
    aim_at_columns,
    aim_at_rows,
    bend_paths,
    fill_up,
    find_twists,
    lay_grid,
    list_crossings,
    look_at_end,
    look_at_side,
    raise_to,
    side_ahead,
    solve_near,
)
from backbearing.terrain.skyline._sweep_strips import (
    AHEAD,
    BLOCK,
    MARGIN,
    PAD,
    SHORT,
    SPAN,
    VOID,
    WIDTH,
    altitudes,
    compiled,
    copy_strip,
    doubt,
    find_asked,
    lay_path,
    put,
)

EYES: Final = (2, 5)
"""Rows of a block from which the hulls are asked: one even, one odd."""
ENDS: Final = (1, 7)
"""Rows of a block from which the hulls towards the end of a short reach are asked."""
SOLVED: Final = 12
"""Rows ahead of each eye within which the insides of cells are solved."""
SOLVED_QUICKLY: Final = 2
MOST: Final = 1024
"""Samples listed at a time, at most."""

_F = np.float32
_NONE: Any = np.int64(0)
"""Where counting begins: a bare 0 would have each function it is given to compiled twice."""
_FLAGS = {"contract", "reassoc", "nsz", "arcp"}  # never nnan: the tests for voids must stay


def room_needed(rows: Any) -> tuple[int, int]:
    """Tell how many floats and how many whole numbers a strip of so many rows needs."""
    total = rows + PAD
    return total * (SPAN + 2 + 2 * LINES), total * (LINES + 2)


@compiled
def _stretches(along: Any, n: Any, reach_m: Any, ends: Any) -> bool:
    """Mark the last block of each stretch of eyes within which ground is within reach.

    Returns whether there is more than one, so that ground beyond a stretch must be sought.
    """
    blocks = (n + BLOCK - 1) // BLOCK
    ends[:] = 0
    ends[blocks - 1] = 1
    many, start = False, 0
    for b in range(blocks):
        past = min(b * BLOCK + 2 * BLOCK + AHEAD - 1, len(along) - 1)
        if b < blocks - 1 and along[past] - along[start * BLOCK] > reach_m:
            ends[b] = 1
            many, start = True, b + 1
    return many


@compiled
def _look_near(
    room: Any, best: Any, ground: Any, i0: Any, rows: Any, solved: Any, lead: Any, share: Any,
    x: Any, eye: Any, c: Any, reach: Any, starts: Any, grid: Any, twists: Any, one: Any, two: Any,
    part: Any, over: Any, drop: Any,
) -> None:  # fmt: skip
    """Raise what a block's eyes see to the ground next ahead."""
    straight = abs(grid[0, i0]) < _F(0.01)
    for k in range(BLOCK):
        i = i0 + k
        mine, high = ground[k * SPAN : (k + 1) * SPAN], best[k * SPAN : (k + 1) * SPAN]
        row = room[i * SPAN : (i + 1) * SPAN]
        for j in range(SPAN):
            mine[j] = row[j] + eye
        past = i + rows
        aim_at_rows(rows, share[i], x[i], c, reach, starts[0, i + 1 :], share[i + 1 :],
                    x[i + 1 :], one, two, part, over, drop)  # fmt: skip
        n = rows
        if not straight:
            aim_at_columns(
                rows, share[i], x[i], c, reach, starts[0, i:past], starts[1, i:past],
                share[i:past], grid[0, i:past], grid[1, i:past], x[i:past], grid[2, i:past],
                one[rows:], two[rows:], part[rows:], over[rows:], drop[rows:],
            )  # fmt: skip
            n += rows
        for lane in range(MARGIN, MARGIN + WIDTH, GROUP):
            raise_to(room, high, mine, lane, n, one, two, part, over, drop)
        solve_near(room, high, mine, i, solved, lead, share, x, c, reach, twists)
        if reach < np.inf:
            look_at_end(room, high, mine, i, lead, share, x, c, reach)


@compiled
def _look_far(
    room: Any, best: Any, ground: Any, i0: Any, found: Any, onward: Any, fine: Any, bend: Any,
    share: Any, x: Any, c: Any, reach: Any, starts: Any, grid: Any, stamps: Any, mark: Any,
    rows: Any, lists: Any, numbers: Any, one: Any, two: Any, part: Any, over: Any, drop: Any,
) -> Any:  # fmt: skip
    """Raise what a block's eyes see to the ground in the rows that the lines found."""
    at, path, far, bent = lists[0], numbers[0], numbers[1], numbers[7]
    for g in range(0, WIDTH, GROUP):
        mark += 1
        n = _NONE
        for k in range(len(found) // LINES):
            low = k * LINES + g
            n = gather(found, low, low + GROUP + 1, stamps[0], mark, rows, n)
        for k in range(len(onward) // LINES):
            low = k * LINES + g
            n = gather(onward, low, low + GROUP + 1, stamps[0], mark, rows, n)
        if n == 0:
            continue
        for q in range(n):
            at[q], path[q], far[q] = rows[q] * SPAN, share[rows[q]], x[rows[q]]
        m = _NONE
        if fine:
            m = list_crossings(n, rows, share, x, starts[0], starts[1], grid[0], grid[1], grid[2],
                               stamps[1], mark, lists[1:], numbers[2:])  # fmt: skip
        for k in range(BLOCK):
            i = i0 + k
            mine, high = ground[k * SPAN : (k + 1) * SPAN], best[k * SPAN : (k + 1) * SPAN]
            bend_paths(n, x[i], bend, path, far, bent)
            aim_at_rows(n, share[i], x[i], c, reach, at, bent, far, one, two, part, over, drop)
            if m > 0:
                bend_paths(m, x[i], bend, numbers[2], numbers[5], bent)
                aim_at_columns(
                    m, share[i], x[i], c, reach, lists[1], lists[2], bent, numbers[3],
                    numbers[4], numbers[5], numbers[6], one[n:], two[n:], part[n:], over[n:],
                    drop[n:],
                )  # fmt: skip
            all_of_them = fill_up(n + m, one, two, part, over, drop)
            raise_to(room, high, mine, MARGIN + g, all_of_them, one, two, part, over, drop)
    return mark


_compiled = kept(njit, nogil=True, error_model="numpy", fastmath=_FLAGS)


@_compiled
def sweep_strip(  # noqa: PLR0912, PLR0915  # the order of the sweep, kept in one place
    heights: Any, out: Any, field: Any, path: Any, next_path: Any, spacing: Any, x0: Any,
    n: Any, asked: Any, to: Any, eye_m: Any, c: Any, reach_m: Any, base_m: Any, highest_m: Any,
    fine: Any, bend: Any, top_bit: Any, floats: Any, wholes: Any,
) -> None:  # fmt: skip
    """Find the skyline of every cell between a strip's path and the next strip's.

    ``field`` is first, ahead, aside, lanes: cell (x, y) of the turned raster is number
    ``first + x ahead + y aside`` of ``heights`` and ``out``. ``path`` (4, knots) holds lane,
    lanes a row, metres and metres a row. Heights of ground are less ``base_m`` within.
    Only eyes in rows and lanes that are ``asked`` for (first row, past the last one, first lane,
    past the last one; rows count from x0) are answered, ``to`` where they stand in ``out``
    (first, ahead, aside, from row x0). The rest is ground ahead of them. Hulls keep their places
    in the room from strip to strip, so that no more of it is ever touched than one strip needs.
    """
    first, ahead, aside, lanes = field
    first += x0 * ahead
    total = n + PAD
    held = len(wholes) // (LINES + 2)
    room, rest = floats[: total * SPAN], floats[held * SPAN :]
    share, x, hulls = rest[:total], rest[held : held + total], rest[2 * held :]
    lead, past, hull_row = wholes[:total], wholes[held : held + total], wholes[2 * held :]
    hull_x, hull_w = hulls[: held * LINES], hulls[held * LINES : 2 * held * LINES]
    along = np.empty(total)
    y, run, m, step = next_path
    lay_path(y, run, m, step, spacing, x0, past, share, along)
    y, run, m, step = path
    lay_path(y, run, m, step, spacing, x0, lead, share, along)
    start_m = along[0]
    for i in range(total):
        along[i] -= start_m
        x[i] = along[i]
    voids = copy_strip(heights, first, ahead, aside, lanes, lead, n, room, base_m)

    eye, c4, reach = _F(eye_m), _F(c), _F(reach_m)
    # What a void could hide is judged on the path itself, so beside voids rays stay on it.
    aside_m2 = _F(0) if voids else _F(bend)
    has_far = reach_m >= along[SHORT] - along[0]
    rows_near = AHEAD if has_far else SHORT
    blocks = (n + BLOCK - 1) // BLOCK
    ends = np.zeros(blocks, np.int32)
    many = _stretches(along, n, reach_m, ends) if has_far else False
    onward = np.empty(blocks * len(ENDS) * LINES if many else 0, np.int32)
    if many:
        start = _NONE
        for b in range(blocks):
            if ends[b] == 1:
                stop = (b + 1) * BLOCK
                seek_onward(start, stop, stop + AHEAD, ENDS, room, share, x, eye, c4, reach,
                            hull_x, hull_w, hull_row, onward)  # fmt: skip
                start = stop
    size, at = np.zeros(LINES, np.uint64), np.zeros(LINES, np.uint64)
    crests = np.zeros(LINES, np.int32)
    lines = np.empty((BLOCK + 2 * WINDOW) * SPAN, np.float32)
    best, ground = np.empty(BLOCK * SPAN, np.float32), np.empty(BLOCK * SPAN, np.float32)
    found = np.empty(len(EYES) * LINES, np.int32)
    stamps = np.zeros((2, total), np.int32)
    rows, lists = np.empty(MOST, np.int32), np.empty((3, MOST), np.int32)
    numbers = np.empty((8, MOST), np.float32)
    one, two = np.empty(MOST, np.int32), np.empty(MOST, np.int32)
    part, over = np.empty(MOST, np.float32), np.empty(MOST, np.float32)
    drop = np.empty(MOST, np.float32)
    next_void = np.empty(SPAN)
    next_void[:] = np.inf
    starts, grid = np.zeros((2, total), np.int32), np.zeros((3, total), np.float32)
    lay_grid(lead, share, x, starts[0], starts[1], grid[0], grid[1], grid[2])
    mark, solved = _NONE, SOLVED if fine else SOLVED_QUICKLY
    twists = np.zeros(total, np.float32)
    find_twists(room, lead, twists)
    gap, row_of = np.empty(n, np.float32), np.zeros(WIDTH, np.int32)
    side, steepest, least, high = side_ahead(room, lead, share, x, lanes, n, gap)
    row_of[:] = n - 2
    looked_at = np.zeros(blocks, np.int32)
    nearest = find_asked(lead, past, asked, looked_at)
    if side != 0:
        # What eyes see there hangs on where those before them looked: all of them do.
        looked_at[nearest:] = 1
    for b in range(blocks - 1, nearest - 1, -1):
        i0 = b * BLOCK
        looks = looked_at[b] == 1
        best[:] = VOID
        if looks:
            _look_near(room, best, ground, i0, rows_near, solved, lead, share, x, eye, c4, reach,
                       starts, grid, twists, one, two, part, over, drop)  # fmt: skip
        if has_far:
            r = i0 + AHEAD
            if ends[b] == 1:
                size[:] = 0
            read_lines(room, r - WINDOW, BLOCK + 2 * WINDOW, share, x, c4, lines)
            find_crests(lines, 1 << (BLOCK - 1) if ends[b] == 1 else 0, crests)
            push_block(r, lines, crests, top_bit, x, hull_x, hull_w, hull_row, size)
            # Also where nothing is asked: each search begins where the one before it ended.
            for k in range(len(EYES)):
                seek(i0 + EYES[len(EYES) - 1 - k], room, share, x, eye, c4, hull_x, hull_w,
                     hull_row, size, at, found[k * LINES : (k + 1) * LINES])  # fmt: skip
        if has_far and looks:
            some = len(ENDS) * LINES if many else 0
            mark = _look_far(room, best, ground, i0, found, onward[b * some : (b + 1) * some],
                             fine, aside_m2, share, x, c4, reach, starts, grid, stamps, mark, rows,
                             lists, numbers, one, two, part, over, drop)  # fmt: skip
        if side != 0 and looks:
            for k in range(min(BLOCK, n - 1 - i0)):
                at_k = slice(k * SPAN, (k + 1) * SPAN)
                look_at_side(room, best[at_k], ground[at_k], i0 + k, lead, share, x, c4, reach,
                             aside_m2, lanes, n, rows_near, side, steepest, least, high, gap,
                             row_of)  # fmt: skip
        if voids:
            beside = 1 + int(np.ceil(abs(grid[0, i0]) - _F(1e-3)))
            for k in range(BLOCK - 1, -1, -1):
                doubt(room, i0 + k, along, eye_m, c, reach_m, highest_m - base_m, beside,
                      next_void, best[k * SPAN : (k + 1) * SPAN])  # fmt: skip
        if not looks:
            continue
        altitudes(best, room[i0 * SPAN : (i0 + BLOCK) * SPAN])
        put(best, i0, lead, past, asked, to, out)
