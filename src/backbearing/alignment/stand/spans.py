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

GAP_STEPS = 1.5
"""Samples farther apart than so many times the shortest step have a gap between them."""


def spans_where(
    times: Sequence[dt.datetime],
    holds: NDArray[np.bool_],
    test: Callable[[Sequence[dt.datetime]], NDArray[np.bool_]] | None = None,
) -> tuple[Span, ...]:
    """Gather the stretches in which ``holds`` is true; none leads over a gap in the times.

    Where samples are left out (the target was down, the Sun was up) nothing is known, and a
    stretch ends at the last sample before.

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
    joined = _joined(times)
    goes_on = holds[1:] & holds[:-1] & joined
    first = np.flatnonzero(holds & ~np.concatenate([[False], goes_on])[: len(holds)]).tolist()
    last = np.flatnonzero(holds & ~np.concatenate([goes_on, [False]])[: len(holds)]).tolist()
    inner = [times[i] for i in first] + [times[i] for i in last]
    outer = [times[i - 1] if i and joined[i - 1] else times[i] for i in first] + [
        times[i + 1] if i < len(joined) and joined[i] else times[i] for i in last
    ]
    ends = inner if test is None else _polish(inner, outer, test)
    half = len(first)
    return tuple(Span(ends[i], ends[half + i]) for i in range(half))


def _joined(times: Sequence[dt.datetime]) -> NDArray[np.bool_]:
    """Whether each sample and the next are one step apart, shape (n - 1,)."""
    if len(times) < 2:
        return np.zeros(0, dtype=bool)
    steps = np.diff([time.timestamp() for time in times])
    return np.asarray(steps <= GAP_STEPS * steps.min())


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
