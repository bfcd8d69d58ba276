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
    utc = utc_array(times)
    joined = _joined(utc)
    first, last = stretches(holds, joined)
    inner = np.concatenate([utc[first], utc[last]])
    if test is not None:
        before = first - np.concatenate([[False], joined])[first]
        after = last + np.concatenate([joined, [False]])[last]
        inner = closest_that_holds(
            lambda when: test([aware(moment) for moment in when]),
            inner,
            utc[np.concatenate([before, after])],
            halvings=HALVINGS,
            at_once=HALVINGS // 2,
        )
    ends = [aware(moment) for moment in inner]
    half = len(first)
    return tuple(Span(ends[i], ends[half + i]) for i in range(half))


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
