"""Stretches of time: ends polished, nothing invented."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from backbearing.alignment.stand.spans import middle_of_longest, spans_where
from backbearing.plan.stand import Span

START = dt.datetime(2027, 6, 6, tzinfo=dt.UTC)
TIMES = [START + dt.timedelta(minutes=2 * i) for i in range(30)]


def minutes(time: dt.datetime) -> float:
    return (time - START).total_seconds() / 60.0


def test_ends_are_polished_to_a_second() -> None:
    def test(times: list[dt.datetime]) -> np.ndarray:
        return np.array([7.31 <= minutes(t) <= 33.77 for t in times])

    (span,) = spans_where(TIMES, test(TIMES), test)
    assert minutes(span.start) == pytest.approx(7.31, abs=1 / 60)
    assert minutes(span.end) == pytest.approx(33.77, abs=1 / 60)
    assert minutes(span.start) >= 7.31
    assert minutes(span.end) <= 33.77


def test_stretches_at_the_edges_stop_there() -> None:
    holds = np.array([i < 3 or i > 27 for i in range(30)])
    first, last = spans_where(TIMES, holds)
    assert first == Span(TIMES[0], TIMES[2])
    assert last == Span(TIMES[28], TIMES[29])


def test_nothing_holds() -> None:
    assert spans_where(TIMES, np.zeros(30, dtype=bool)) == ()
    assert spans_where([], np.zeros(0, dtype=bool)) == ()
    assert middle_of_longest(()) is None


def test_middle_is_a_whole_minute_inside_the_longest() -> None:
    short = Span(START, START + dt.timedelta(minutes=4))
    long = Span(START + dt.timedelta(minutes=10), START + dt.timedelta(minutes=31, seconds=20))
    middle = middle_of_longest([short, long])
    assert middle is not None
    assert middle.second == 0
    assert long.start < middle < long.end
    assert minutes(middle) == pytest.approx(20.67, abs=0.5)


def test_middle_of_a_stretch_shorter_than_a_minute_stays_inside() -> None:
    tiny = Span(START + dt.timedelta(seconds=40), START + dt.timedelta(seconds=50))
    middle = middle_of_longest([tiny])
    assert middle is not None
    assert tiny.start <= middle <= tiny.end


def test_a_stretch_never_leads_over_a_gap_in_the_times() -> None:
    times = TIMES[:8] + TIMES[20:]
    evening, morning = spans_where(
        times, np.ones(len(times), dtype=bool), lambda asked: np.ones(len(asked), dtype=bool)
    )
    assert evening == Span(TIMES[0], TIMES[7])
    assert morning == Span(TIMES[20], TIMES[-1])


def test_an_end_beside_a_gap_is_not_sought_in_it() -> None:
    times = TIMES[:8] + TIMES[20:]
    holds = np.array([time in (TIMES[6], TIMES[7]) for time in times])
    (span,) = spans_where(times, holds, lambda asked: np.ones(len(asked), dtype=bool))
    assert span.end == TIMES[7]


@pytest.mark.parametrize(("apart_s", "stretches"), [(175, 1), (185, 2)])
def test_half_a_step_more_than_a_step_is_a_gap(apart_s: int, stretches: int) -> None:
    # Steps of two minutes: three minutes between two samples are the most that is bridged.
    later = [TIMES[5] + dt.timedelta(seconds=apart_s + 120 * i) for i in range(5)]
    times = TIMES[:6] + later
    assert len(spans_where(times, np.ones(len(times), dtype=bool))) == stretches
