"""Stretches of time in which something holds, with their ends polished."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from backbearing.plan.stand import Span

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

POLISH_ROUNDS = 8
"""Halvings of one step at each end of a span: a two-minute step gives half a second."""


def spans_where(
    times: Sequence[dt.datetime],
    holds: NDArray[np.bool_],
    test: Callable[[Sequence[dt.datetime]], NDArray[np.bool_]] | None = None,
) -> tuple[Span, ...]:
    """Gather the stretches in which ``holds`` is true.

    Parameters
    ----------
    times : sequence of datetime
        Shape ``(n,)``, rising.
    holds : ndarray of bool
        Shape ``(n,)``.
    test : callable, optional
        The same question at any moments; given, the ends of each span are bisected with
        it, all ends together. A stretch shorter than one step can be missed.

    Returns
    -------
    tuple of Span
        In order; the ends lie inside the stretch.
    """
    padded = np.concatenate([[False], holds, [False]])
    change = np.diff(padded.astype(np.int8))
    first = [int(i) for i in np.flatnonzero(change == 1)]
    last = [int(i) - 1 for i in np.flatnonzero(change == -1)]
    inner = [times[i] for i in first] + [times[i] for i in last]
    outer = [times[max(i - 1, 0)] for i in first] + [
        times[min(i + 1, len(times) - 1)] for i in last
    ]
    ends = inner if test is None else _polish(inner, outer, test)
    half = len(first)
    return tuple(Span(ends[i], ends[half + i]) for i in range(half))


def _polish(
    inner: list[dt.datetime],
    outer: list[dt.datetime],
    test: Callable[[Sequence[dt.datetime]], NDArray[np.bool_]],
) -> list[dt.datetime]:
    if not inner:
        return inner
    for _ in range(POLISH_ROUNDS):
        middle = [a + (b - a) / 2 for a, b in zip(inner, outer, strict=True)]
        good = test(middle)
        inner = [m if g else a for m, a, g in zip(middle, inner, good, strict=True)]
        outer = [b if g else m for m, b, g in zip(middle, outer, good, strict=True)]
    return inner


def middle_of_longest(spans: Sequence[Span]) -> dt.datetime | None:
    """Give the whole minute nearest to the middle of the longest span, inside it."""
    if not spans:
        return None
    longest = max(spans, key=lambda span: span.minutes)
    middle = longest.start + (longest.end - longest.start) / 2
    minute = (middle + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
    return minute if longest.start <= minute <= longest.end else middle
