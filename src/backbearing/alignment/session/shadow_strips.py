"""A subject's shadow cut into strips: where a rectangle stays within an outline, exactly.

An upright rectangle meets a straight piece of the outline's boundary where their extents
overlap in three directions: across, up, and along the piece's own normal (two convex shapes
that are apart are apart along a normal of one of their sides). While the rectangle moves across
a strip its sides move along straight lines, so each condition holds on one interval, and so do
all three together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Indices = NDArray[np.int64]
    Spans = Callable[[Indices, Floats, Floats], tuple[Floats, Floats]]
    HalfWidth = Callable[[Indices, Floats], Floats]

STRIPS: Final = 64
"""Strips of the shadow before any is halved, finer near the subject."""

HALVINGS: Final = 6
LOST_M: Final = 0.005
"""A strip is halved while it hides so much less width than its two ends do."""

PIECES: Final = 32
"""Straight pieces across the shadow that the ground's height is taken along."""

SLIVER_M: Final = 1e-6
AT_ONCE: Final = 2_000_000


class Outlined(Protocol):
    """A screen with straight edges."""

    edges: Floats
    west_m: float
    east_m: float

    def holds(self, across_m: Floats, up_m: Floats) -> Flags:
        """Whether points lie on the screen."""
        ...


@dataclass(frozen=True, slots=True)
class Hidden:
    """Boxes of shadows in which the rectangle is hidden, arrays of one shape.

    ``shadow`` says whose; ``left`` and ``right`` are metres across at the subject, ``near`` and
    ``far`` metres back.
    """

    shadow: Indices
    near: Floats
    far: Floats
    left: Floats
    right: Floats


@dataclass(frozen=True, slots=True)
class _Strips:
    """Rectangles swept over n strips: sides at the nodes across, shape (n, nodes); half (n,)."""

    across: Floats
    bottom: Floats
    top: Floats
    half: Floats


def hidden_strips(
    screen: Outlined, spans: Spans, half_width: HalfWidth, reach_m: float, *, shadows: int = 1
) -> Hidden:
    """Find where rectangles hide behind a screen, each in a shadow of its own.

    Parameters
    ----------
    screen : Outlined
        What hides them all.
    spans : callable
        From n numbers of shadows and metres across and back, shape (..., n, nodes), to the
        rectangle's bottom and top, metres on the screen.
    half_width : callable
        From numbers of shadows and metres back, shape (n,), to half the rectangle's width on
        the screen; falling.
    reach_m : float
        How far back.
    shadows : int
        How many there are.
    """
    steps = reach_m * np.linspace(0.0, 1.0, STRIPS + 1) ** 1.5

    def width_at(shadow: Indices, back: Floats) -> Floats:
        """Width in which the rectangle is hidden at distances back, exactly."""
        row, left, right = _hidden(screen, spans, half_width, shadow, back, back)
        return np.asarray(np.bincount(row, right - left, minlength=len(back)))

    every = np.arange(shadows)
    shadow = np.repeat(every, STRIPS)
    near, far = np.tile(steps[:-1], shadows), np.tile(steps[1:], shadows)
    ends = width_at(np.repeat(every, STRIPS + 1), np.tile(steps, shadows))
    ends = ends.reshape(shadows, -1)
    at_near, at_far = ends[:, :-1].ravel(), ends[:, 1:].ravel()
    kept: list[tuple[Any, ...]] = []
    for halving in range(HALVINGS + 1):
        strip, left, right = _hidden(screen, spans, half_width, shadow, near, far)
        width = np.bincount(strip, right - left, minlength=len(near))
        go_on = (0.5 * (at_near + at_far) - width > LOST_M) & (halving < HALVINGS)
        done = ~go_on[strip]
        at = strip[done]
        kept.append((shadow[at], near[at], far[at], left[done], right[done]))
        if not go_on.any():
            break
        shadow, near, far = shadow[go_on], near[go_on], far[go_on]
        middle = 0.5 * (near + far)
        at_middle = width_at(shadow, middle)
        at_near, at_far = (
            np.stack(ends, 1).ravel()
            for ends in ((at_near[go_on], at_middle), (at_middle, at_far[go_on]))
        )
        near, far = np.stack([near, middle], 1).ravel(), np.stack([middle, far], 1).ravel()
        shadow = np.repeat(shadow, 2)
    return Hidden(*(np.concatenate(column) for column in zip(*kept, strict=True)))


def _hidden(  # a question and where it is asked
    screen: Outlined,
    spans: Spans,
    half_width: HalfWidth,
    shadow: Indices,
    near: Floats,
    far: Floats,
) -> tuple[Indices, Floats, Floats]:
    """Strip, left and right end of each stretch in which the rectangle is hidden throughout."""
    swept = _swept(screen, spans, half_width, shadow, near, far)
    pairs = _pairs(screen.edges, swept)
    at_once = max(1, AT_ONCE // max(1, len(pairs[0])))
    met = [
        _meetings(screen.edges, swept, pairs, np.arange(i, min(i + at_once, len(near))))
        for i in range(0, len(near), at_once)
    ]
    strip, low, high = (np.concatenate(column) for column in zip(*met, strict=True))
    # One row of intervals for all strips, each strip's moved far from the next one's.
    apart = 4.0 * (screen.east_m - screen.west_m) + 4.0 * float(swept.half.max())
    order = np.argsort(low + strip * apart, kind="stable")
    strip, low, high = strip[order], low[order], high[order]
    reach = np.maximum.accumulate(high + strip * apart) - strip * apart
    free = (strip[1:] == strip[:-1]) & (low[1:] - reach[:-1] > SLIVER_M)
    strip, left, right = strip[1:][free], reach[:-1][free], low[1:][free]
    inside = _middle_on_screen(screen, swept, strip, 0.5 * (left + right))
    return strip[inside], left[inside], right[inside]


def _swept(  # as `_hidden`
    screen: Outlined,
    spans: Spans,
    half_width: HalfWidth,
    shadow: Indices,
    near: Floats,
    far: Floats,
) -> _Strips:
    """All that the rectangle covers while it goes from the near end of a strip to the far one."""
    across = np.linspace(screen.west_m, screen.east_m, PIECES + 1)
    back = np.stack([near, 0.5 * (near + far), far])[:, :, None]
    if near is far:
        back = back[:1]
    bottom, top = spans(shadow, np.broadcast_to(across, (*back.shape[:2], len(across))), back)
    return _Strips(across, bottom.min(axis=0), top.max(axis=0), half_width(shadow, near))


def _middle_on_screen(screen: Outlined, swept: _Strips, strip: Indices, across_m: Floats) -> Flags:
    step = swept.across[1] - swept.across[0]
    piece = np.clip(((across_m - swept.across[0]) / step).astype(np.int64), 0, PIECES - 1)
    share = (across_m - swept.across[piece]) / step
    middle = 0.5 * (swept.bottom + swept.top)
    up = middle[strip, piece] * (1.0 - share) + middle[strip, piece + 1] * share
    return screen.holds(across_m, up)


def _pairs(edges: Floats, swept: _Strips) -> tuple[Indices, Indices]:
    """Pieces across and edges of the outline that any of the strips' rectangles may meet."""
    x0, y0, x1, y1 = edges.T
    u, half = swept.across, swept.half.max()
    near = (np.minimum(x0, x1) - half <= u[1:, None]) & (np.maximum(x0, x1) + half >= u[:-1, None])
    lowest, highest = swept.bottom.min(axis=0), swept.top.max(axis=0)
    near &= np.minimum(y0, y1) <= np.maximum(highest[:-1], highest[1:])[:, None]
    near &= np.maximum(y0, y1) >= np.minimum(lowest[:-1], lowest[1:])[:, None]
    piece, edge = np.nonzero(near)
    return piece, edge


def _meetings(
    edges: Floats, swept: _Strips, pairs: tuple[Indices, Indices], which: Indices
) -> tuple[Indices, Floats, Floats]:
    """Strip, and from where to where across the rectangle meets an edge, one row a meeting."""
    x0, y0, x1, y1 = edges.T
    west, east = np.minimum(x0, x1), np.maximum(x0, x1)
    low, high = np.minimum(y0, y1), np.maximum(y0, y1)
    piece, edge = pairs
    u, half = swept.across, swept.half[which][:, None]
    bottom, top = swept.bottom[which], swept.top[which]
    lowest = np.minimum(bottom[:, :-1], bottom[:, 1:])[:, piece]
    highest = np.maximum(top[:, :-1], top[:, 1:])[:, piece]
    near = (low[edge] <= highest) & (high[edge] >= lowest)
    near &= (west[edge] - half <= u[piece + 1]) & (east[edge] + half >= u[piece])
    k, pair = np.nonzero(near)
    j, e = piece[pair], edge[pair]
    du = u[1] - u[0]
    b, t = bottom[k, j], top[k, j]
    db, dt = bottom[k, j + 1] - b, top[k, j + 1] - t
    wide, at = half[k, 0], u[j]
    nx, ny = (y0 - y1)[e], (x1 - x0)[e]
    along = nx * x0[e] + ny * y0[e]
    # The sides of the rectangle that lie behind and ahead along the normal.
    behind, dbehind = np.where(ny >= 0.0, b, t), np.where(ny >= 0.0, db, dt)
    before, dbefore = np.where(ny >= 0.0, t, b), np.where(ny >= 0.0, dt, db)
    room = np.abs(nx) * wide
    start, end = np.zeros(len(k)), np.ones(len(k))
    for slope, most in (
        (np.full(len(k), du), east[e] + wide - at),
        (np.full(len(k), -du), at + wide - west[e]),
        (db, high[e] - b),
        (-dt, t - low[e]),
        (nx * du + ny * dbehind, along + room - nx * at - ny * behind),
        (-nx * du - ny * dbefore, nx * at + ny * before + room - along),
    ):
        start, end = _cut(start, end, slope, most)
    some = start <= end
    return which[k[some]], (at + du * start)[some], (at + du * end)[some]


def _cut(start: Floats, end: Floats, slope: Floats, most: Floats) -> tuple[Floats, Floats]:
    """Narrow intervals to where ``slope * x <= most``."""
    with np.errstate(divide="ignore", invalid="ignore"):
        edge = most / slope
    start = np.where(slope < 0.0, np.maximum(start, edge), start)
    end = np.where(slope > 0.0, np.minimum(end, edge), end)
    return start, np.where((slope == 0.0) & (most < 0.0), -np.inf, end)
