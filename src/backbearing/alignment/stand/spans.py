"""Stretches of time in which something holds, with their ends polished."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.intervals import closest_that_holds, stretches
from backbearing.plan.stand import Span
from backbearing.sky.instants import aware, utc_array

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

HALVINGS = 8
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
    if test is None:
        return spans_of_each(times, holds[None], None)[0]
    return spans_of_each(times, holds[None], lambda _, at: test([aware(moment) for moment in at]))[
        0
    ]


def spans_of_each(
    times: Sequence[dt.datetime] | NDArray[np.datetime64],
    holds: NDArray[np.bool_],
    test: Callable[[NDArray[np.intp], NDArray[np.datetime64]], NDArray[np.bool_]] | None,
) -> list[tuple[Span, ...]]:
    """Do as `spans_where` for q questions about the same moments, all ends of all together.

    Parameters
    ----------
    times : sequence of datetime, or ndarray of datetime64 in UTC
        Shape ``(n,)``, rising.
    holds : ndarray of bool
        Shape ``(q, n)``.
    test : callable, optional
        From the numbers of the questions, rising, and moments in UTC, both of shape ``(k,)``,
        to whether each holds there.

    Returns
    -------
    list of tuple of Span
        One entry a question.
    """
    utc = utc_array(times)
    joined = _joined(utc)
    found = [stretches(one, joined) for one in holds]
    counts = [len(first) for first, _ in found]
    which = np.repeat(np.arange(len(holds)), np.multiply(counts, 2))
    inside = np.concatenate([np.concatenate(one) for one in found] or [np.zeros(0, np.intp)])
    inner = utc[inside]
    if test is not None:
        left, right = np.concatenate([[False], joined]), np.concatenate([joined, [False]])
        outside = [
            np.concatenate([first - left[first], last + right[last]]) for first, last in found
        ]
        inner = closest_that_holds(
            lambda at: test(np.repeat(which, len(at) // len(which)), at),
            inner,
            utc[np.concatenate(outside)],
            halvings=HALVINGS,
            at_once=HALVINGS // 2,
        )
    ends = [aware(moment) for moment in inner]
    begin = np.concatenate([[0], np.cumsum(np.multiply(counts, 2))]).tolist()
    return [
        tuple(Span(ends[at + i], ends[at + count + i]) for i in range(count))
        for at, count in zip(begin, counts, strict=False)
    ]


def _joined(utc: NDArray[np.datetime64]) -> NDArray[np.bool_]:
    """Whether each sample and the next are one step apart, shape (n - 1,)."""
    steps = np.diff(utc).astype(np.int64)
    return np.asarray(steps <= GAP_STEPS * steps.min(initial=np.iinfo(np.int64).max))


def middle_of_longest(spans: Sequence[Span]) -> dt.datetime | None:
    """Give the whole minute nearest to the middle of the longest span, inside it."""
    if not spans:
        return None
    longest = max(spans, key=lambda span: span.minutes)
    middle = longest.start + (longest.end - longest.start) / 2
    minute = (middle + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
    return minute if longest.start <= minute <= longest.end else middle
