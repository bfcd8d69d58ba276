"""Compiled: dark minutes with the target clear and framed, night by night, and the best one."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from backbearing.base.kept_code import kept

_compiled = kept(njit, nogil=True, error_model="numpy")


@_compiled
def _measure(total: Any, low: Any, high: Any, at: float) -> Any:
    """Good hour angle from node 0 up to a place, in nodes; the circle repeats."""
    count = len(low)
    turns = math.floor(at / count)
    at -= turns * count
    k = min(int(at), count - 1)
    part = at - k
    inside = max(0.0, min(part, high[k]) - low[k])
    return turns * total[count] + total[k] + inside


@_compiled
def _between(values: Any, k: int, part: float) -> Any:
    """Linear between two nodes; the known one where the other is not."""
    first, second = values[k], values[(k + 1) % len(values)]
    if math.isnan(first):
        return second
    if math.isnan(second):
        return first
    return first + part * (second - first)


@_compiled
def _best_within(
    low: Any, high: Any, worth: Any, start: float, end: float, room: float
) -> tuple[float, float]:
    """Best minute of a dark stretch, given in nodes: its worth (-1 when none) and place.

    At the very ends of the dark a minute is worth half, in full from ``room`` nodes on.
    """
    count = len(low)
    best, where = -1.0, math.nan
    k = math.floor(start)
    while k < end:
        node = k % count
        a, b = max(k + low[node], start), min(k + high[node], end)
        if b > a:
            middle = 0.5 * (a + b)
            inside = min(middle - start, end - middle)
            value = _between(worth, node, middle - k) * (0.5 + 0.5 * min(inside / room, 1.0))
            if value > best:
                best, where = value, middle
        k += 1
    return best, where


@_compiled
def tally(
    low: Any, high: Any, worth: Any, fit: Any, first: Any, night: Any, start: Any, end: Any,
    minutes_per_node: float, enough: float, room: float, minutes: Any, best: Any, best_fit: Any,
) -> None:  # fmt: skip
    """Count the minutes of n candidates with l lenses, and find each lens's best minute.

    Parameters
    ----------
    low, high : (n, l, nodes)
        Good part of the way from each node to the next, 0 to 1; none where low >= high.
    worth, fit : (n, l, nodes)
        Worth of a minute there, and how well the target sits in the frame.
    first : (n + 1,)
        Where each candidate's dark stretches begin among the following.
    night, start, end : (k,)
        Night of each stretch, and its ends in nodes; the start within one turn.
    minutes_per_node, enough : float
        Of the turning sky; minutes that make a night as good as any.
    room : float
        Nodes from the ends of the dark at which a minute is worth its whole.
    minutes : (n, nights, l) float32, filled
    best : (n, l, 4), filled
        Value (-1 when none), worth, which stretch, place in nodes.
    best_fit : (n, l), filled
        Best fit in any good minute; NaN when none.
    """
    count = low.shape[2]
    total = np.empty(count + 1)
    for i in range(low.shape[0]):
        for lens in range(low.shape[1]):
            a, b, w, f = low[i, lens], high[i, lens], worth[i, lens], fit[i, lens]
            total[0] = 0.0
            for k in range(count):
                total[k + 1] = total[k] + max(0.0, b[k] - a[k])
            best[i, lens, 0] = -1.0
            best_fit[i, lens] = math.nan
            if total[count] == 0.0:
                continue
            for s in range(first[i], first[i + 1]):
                good = _measure(total, a, b, end[s]) - _measure(total, a, b, start[s])
                minutes[i, night[s], lens] += good * minutes_per_node
            for s in range(first[i], first[i + 1]):
                has = minutes[i, night[s], lens]
                if has <= 0.0:
                    continue
                value, where = _best_within(a, b, w, start[s], end[s], room)
                if value < 0.0:
                    continue
                k = math.floor(where)
                sits = _between(f, k % count, where - k)
                if not sits <= best_fit[i, lens]:
                    best_fit[i, lens] = sits
                value_of_night = min(has / enough, 1.0) * value
                if value_of_night > best[i, lens, 0]:
                    best[i, lens, 0], best[i, lens, 1] = value_of_night, value
                    best[i, lens, 2], best[i, lens, 3] = s, where


@_compiled
def spell_about(low: Any, high: Any, where: float, start: float, end: float) -> tuple[float, float]:
    """Ends of the unbroken good stretch about a place, all in nodes, within a dark stretch."""
    count = len(low)
    k = math.floor(where)
    begin, finish = k + low[k % count], k + high[k % count]
    i = k
    while begin <= i and i > start and high[(i - 1) % count] >= 1.0:
        i -= 1
        if low[i % count] >= high[i % count]:
            break
        begin = i + low[i % count]
    i = k
    while finish >= i + 1 and i + 1 < end and low[(i + 1) % count] <= 0.0:
        i += 1
        if low[i % count] >= high[i % count]:
            break
        finish = i + high[i % count]
    return max(begin, start), min(finish, end)


@_compiled
def mark_dark(first: Any, start: Any, end: Any, dark: Any) -> None:
    """Mark the nodes in and next to each candidate's dark stretches, shape (n, nodes)."""
    count = dark.shape[1]
    for i in range(dark.shape[0]):
        for s in range(first[i], first[i + 1]):
            k = math.floor(start[s])
            last = min(math.ceil(end[s]), k + count - 1)
            while k <= last:
                dark[i, k % count] = True
                k += 1
