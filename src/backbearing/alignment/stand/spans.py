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
    first, last = stretches(holds)
    utc = utc_array(times)
    inner = np.concatenate([utc[first], utc[last]])
    if test is not None:
        outer = np.concatenate(
            [utc[np.maximum(first - 1, 0)], utc[np.minimum(last + 1, utc.size - 1)]]
        )
        inner = closest_that_holds(
            lambda when: test([aware(moment) for moment in when]), inner, outer, halvings=HALVINGS
        )
    ends = [aware(moment) for moment in inner]
    half = len(first)
    return tuple(Span(ends[i], ends[half + i]) for i in range(half))


def middle_of_longest(spans: Sequence[Span]) -> dt.datetime | None:
    """Give the whole minute nearest to the middle of the longest span, inside it."""
    if not spans:
        return None
    longest = max(spans, key=lambda span: span.minutes)
    middle = longest.start + (longest.end - longest.start) / 2
    minute = (middle + dt.timedelta(seconds=30)).replace(second=0, microsecond=0)
    return minute if longest.start <= minute <= longest.end else middle
