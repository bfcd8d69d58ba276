"""Compiled parts of the sweep: a strip's path, its copy of the ground, and its answer.

A strip is a band of lanes that follows the bearing over the raster, copied into a room of
its own: row after row, `SPAN` cells each, of which those between the margins are its own.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import njit, uint64
from numba.core.compiler import CompilerBase, DefaultPassBuilder

WIDTH: Final = 64
"""Lanes a strip can answer for."""
MARGIN: Final = 8
SPAN: Final = WIDTH + 2 * MARGIN
BLOCK: Final = 8
"""Rows of eyes that are taken together."""
AHEAD: Final = 4 * BLOCK
"""Rows ahead of each eye that are looked at one by one; hulls begin there."""
SHORT: Final = 8 * BLOCK
"""Rows within which a short reach is looked at one by one, without hulls."""
STACK: Final = 64
"""Rows that are copied together, where the bearing runs along the raster's own rows."""
PAD: Final = SHORT + 2 * BLOCK

OFF: Final = np.float32(-2e30)
"""Stands for the height of what lies off the raster."""
VOID: Final = np.float32(-1e30)
"""Stands for the height of a void: with any weight at all, far below all ground."""
KNOWN: Final = np.float32(-1e20)
"""Heights and tangents above this are known."""
BETWEEN_M: Final = np.float32(-1.5e30)

_F = np.float32
_FLAGS = {"contract", "reassoc", "nsz", "arcp"}  # never nnan: the tests for voids must stay


class _Apart(CompilerBase):
    """Tells the compiler that the arrays given share no memory, which it cannot know."""

    def define_pipelines(self) -> list[Any]:
        if hasattr(self.state.flags, "noalias"):
            self.state.flags.noalias = True
        return [DefaultPassBuilder.define_nopython_pipeline(self.state)]


# Called by compiled code only, so without the ways in from Python: compiling those takes time.
_INNER: Any = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
compiled: Any = njit(nogil=True, error_model="numpy", fastmath=_FLAGS, **_INNER)
apart: Any = njit(nogil=True, error_model="numpy", fastmath=_FLAGS, pipeline_class=_Apart, **_INNER)


@compiled
def lay_path(
    knots: Any, slopes: Any, metres: Any, steps: Any, spacing: Any, x0: Any,
    lead: Any, share: Any, along: Any,
) -> None:  # fmt: skip
    """Fill in a path between its knots, by cubics, from row x0 on.

    ``lead`` is the whole lane, ``share`` what the path stands beyond it, ``along`` metres.
    """
    last = len(knots) - 2
    for i in range(len(lead)):
        k = min(int((x0 + i) / spacing), last)
        t = (x0 + i) / spacing - k
        past = max(t - 1.0, 0.0) * spacing  # rows beyond the last knot: straight on
        t = min(t, 1.0)
        g = t * t * (3.0 - 2.0 * t)
        out, back = t * (1.0 - t) * (1.0 - t), t * t * (t - 1.0)
        y = knots[k] * (1.0 - g) + knots[k + 1] * g + past * slopes[k + 1]
        y += spacing * (out * slopes[k] + back * slopes[k + 1])
        m = metres[k] * (1.0 - g) + metres[k + 1] * g + past * steps[k + 1]
        along[i] = m + spacing * (out * steps[k] + back * steps[k + 1])
        whole = np.floor(y + 1e-6)
        lead[i] = int(whole)
        share[i] = max(y - whole, 0.0) if y - whole > 1e-6 else 0.0


@compiled
def _span(values: Any, start: Any, stop: Any) -> tuple[Any, Any]:
    low = high = values[start]
    for i in range(start, stop):
        low, high = min(low, values[i]), max(high, values[i])
    return low, high


@compiled
def copy_strip(
    heights: Any, first: Any, ahead: Any, aside: Any, lanes: Any, lead: Any, n: Any,
    room: Any, base_m: Any,
) -> bool:  # fmt: skip
    """Copy a strip's ground into its room, less ``base_m``; tells whether it holds voids."""
    voids = 0
    base = _F(base_m)
    room[:] = OFF
    for i0 in range(0, n, STACK):
        i1 = min(i0 + STACK, n)
        if aside == 1:
            for i in range(i0, i1):
                y0 = lead[i] - MARGIN
                low, high = max(0, -y0), min(SPAN, lanes - y0)
                if high > low:
                    p = first + i * ahead + y0
                    some = heights[p + low : p + high]
                    mine = room[i * SPAN + low : i * SPAN + high]
                    for j in range(len(some)):
                        bad = np.isnan(some[j])
                        mine[j] = VOID if bad else some[j] - base
                        voids += 1 if bad else 0
            continue
        ya, yb = _span(lead, i0, i1)
        for y in range(max(ya - MARGIN, 0), min(yb - MARGIN + SPAN, lanes)):
            p = uint64(first + y * aside + i0 * ahead)
            for i in range(i0, i1):
                j = y - lead[i] + MARGIN
                if 0 <= j < SPAN:
                    bad = np.isnan(heights[p])
                    room[uint64(i * SPAN + j)] = VOID if bad else heights[p] - base
                    voids += 1 if bad else 0
                p += uint64(ahead)
    return voids > 0


@apart
def altitudes(tangents: Any, ground: Any) -> None:
    """Turn tangents to degrees, in place; NaN where either is unknown.

    Arctangent by halving, ``atan t = 2 atan(t / (1 + sqrt(1 + t^2)))``, twice, and an odd
    polynomial fitted by least squares; good to 1e-5 degree.
    """
    for j in range(len(tangents)):
        t = tangents[j]
        x = t / (_F(1) + np.sqrt(_F(1) + t * t))
        x = x / (_F(1) + np.sqrt(_F(1) + x * x))
        y = x * x
        z = ((_F(0.0804286) * y - _F(0.13872757)) * y + _F(0.19976943)) * y - _F(0.33332903)
        z = (z * y * x + x) * _F(4.0 * 57.29577951)
        z = z if t > KNOWN else _F(np.nan)
        tangents[j] = z if ground[j] > KNOWN else _F(np.nan)


@compiled
def find_asked(lead: Any, past: Any, asked: Any, looks: Any) -> int:
    """Mark the blocks in which a strip answers for a cell that is asked for.

    Returns the nearest of them, or how many blocks there are where there is none.
    """
    begin, end, low, high = asked
    nearest = len(looks)
    for b in range(len(looks) - 1, -1, -1):
        looks[b] = 0
        for i in range(max(b * BLOCK, begin), min((b + 1) * BLOCK, end)):
            if past[i] > low and lead[i] < high:
                looks[b], nearest = 1, b
    return nearest


@compiled
def put(best: Any, i0: Any, lead: Any, past: Any, asked: Any, to: Any, out: Any) -> None:
    """Write what is asked of a block, from the strip's path to the next one's, to the result.

    ``asked`` is first row, past the last one, first lane and past the last one; ``to`` first,
    ahead, aside: where in ``out`` a row and lane of the strip stand.
    """
    begin, end, least, most = asked
    begin, end = max(i0, begin), min(i0 + BLOCK, end)
    first, ahead, aside = to
    if aside == 1:
        for i in range(begin, end):
            low, high = max(least, lead[i]), min(past[i], most)
            if high > low:
                p, q = first + i * ahead, (i - i0) * SPAN + MARGIN - lead[i]
                mine, theirs = best[q + low : q + high], out[p + low : p + high]
                for j in range(len(mine)):
                    theirs[j] = mine[j]
        return
    low, _ = _span(lead, begin, end)
    _, high = _span(past, begin, end)
    for y in range(max(least, low), min(high, most)):
        at = first + begin * ahead + y * aside
        for i in range(begin, end):
            mine = y - lead[i]
            if mine >= 0 and y < past[i]:
                out[uint64(at)] = best[uint64((i - i0) * SPAN + MARGIN + mine)]
            at += ahead


@compiled
def doubt(
    room: Any, i: Any, along: Any, eye_m: Any, c: Any, reach_m: Any, highest_m: Any,
    beside: Any, next_void: Any, best: Any,
) -> None:  # fmt: skip
    """Forget what the eyes of a row see where a void ahead could hide more.

    A void counts for rays in its own lane and so many beside, so that no cell they clip is
    passed over. ``next_void`` holds how far along the next one stands in each lane; rows
    come from the far end back.
    """
    half = 0.5 * (along[i + 1] - along[i])
    row = i * SPAN
    for j in range(SPAN):
        if BETWEEN_M < room[row + j] < KNOWN:
            for k in range(max(j - beside, 0), min(j + beside + 1, SPAN)):
                next_void[k] = along[max(i - 1, 0)]
    for j in range(SPAN):
        d = max(next_void[j] - along[i], half)
        if d > reach_m:
            continue
        over = highest_m - (room[row + j] + eye_m)
        if over < 0.0:
            d = max(d, np.sqrt(-over / c)) if c > 0.0 else np.inf
        could = over / d - c * d
        if could > best[j]:
            best[j] = VOID
