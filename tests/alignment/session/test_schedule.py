"""Order and start times: never worse than trying everything."""

from __future__ import annotations

import dataclasses
from itertools import combinations, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from backbearing.alignment.session import schedule
from backbearing.alignment.session.schedule import (
    Jobs,
    JobStart,
    best_schedule,
    cost_of,
    costs_through,
)


class Table:
    """What one job after another costs, drawn by lot; shape (n, n, t, t)."""

    def __init__(self, costs: np.ndarray) -> None:
        self.costs = costs

    def metres(self, i: int, j: int, s: object, t: object) -> object:
        return self.costs[i, j][s, t]


def made(seed: int, n: int, t: int, *, open_share: float = 0.7) -> Jobs:
    """Random lenses on a random arc."""
    rng = np.random.default_rng(seed)
    return Jobs(
        minutes=np.arange(t, dtype=float) * 5.0,
        allowed=rng.random((n, t)) < open_share,
        east_m=rng.normal(size=(n, t)) * 20.0,
        north_m=rng.normal(size=(n, t)) * 20.0,
        before=rng.integers(2, 12, n).astype(float),
        walk_minutes=np.full(n, 1.0),
        during=rng.integers(1, 9, n).astype(float),
        start_cost=rng.random((n, t)) * 3.0,
        metres_per_minute=30.0,
        wait_costs_m=float(rng.random()),
        likeness_deg=rng.normal(size=(n, t)) * 3.0,
        alike_costs_m_per_deg=float(rng.choice([0.0, 2.0])),
        between=Table(40.0 * (rng.random((n, n, t, t)) < 0.4)) if seed % 3 else None,
    )


def try_everything(jobs: Jobs) -> tuple[int, float]:
    """Every subset, every order, every start: how many fit, and at what least cost."""
    n, t = jobs.allowed.shape
    for size in range(n, 0, -1):
        best = np.inf
        for some in combinations(range(n), size):
            for order in permutations(some):
                for starts in product(range(t), repeat=size):
                    best = min(best, plain_cost(jobs, order, starts))
        if np.isfinite(best):
            return size, best
    return 0, 0.0


def plain_cost(jobs: Jobs, order: tuple[int, ...], starts: tuple[int, ...]) -> float:
    """Written out step by step, sharing nothing with the scheduler."""
    total = 0.0
    for k, (job, start) in enumerate(zip(order, starts, strict=True)):
        if not jobs.allowed[job, start]:
            return float("inf")
        total += float(jobs.start_cost[job, start])
        if k == 0:
            continue
        last, ended = order[k - 1], starts[k - 1]
        walked = float(
            np.hypot(
                jobs.east_m[last, ended] - jobs.east_m[job, start],
                jobs.north_m[last, ended] - jobs.north_m[job, start],
            )
        )
        work = jobs.before[job] - jobs.walk_minutes[job]
        walk = max(jobs.walk_minutes[job], walked / jobs.metres_per_minute)
        free = jobs.minutes[start] - work - walk - jobs.minutes[ended] - jobs.during[last]
        if free < -1e-9:
            return float("inf")
        total += walked + jobs.wait_costs_m * free
        assert jobs.likeness_deg is not None
        unlike = abs(float(jobs.likeness_deg[last, ended] - jobs.likeness_deg[job, start]))
        total += jobs.alike_costs_m_per_deg * unlike
        if isinstance(jobs.between, Table):
            total += float(jobs.between.costs[last, job, ended, start])
    return total


@given(st.integers(0, 10_000), st.integers(1, 3), st.integers(1, 7))
@settings(max_examples=60)
def test_no_order_or_start_is_better(seed: int, n: int, t: int) -> None:
    jobs = made(seed, n, t)
    found = best_schedule(jobs)
    size, cost = try_everything(jobs)
    assert len(found.turns) == size
    assert found.cost == pytest.approx(cost, abs=1e-9)


def test_four_lenses_against_everything() -> None:
    for seed in range(3):
        jobs = made(seed, 4, 6, open_share=0.9)
        size, cost = try_everything(jobs)
        found = best_schedule(jobs)
        assert (len(found.turns), found.cost) == (size, pytest.approx(cost))


@pytest.mark.slow
@given(st.integers(0, 10_000))
@settings(max_examples=15)
def test_eight_lenses_hold_together(seed: int) -> None:
    jobs = made(seed, 8, 60, open_share=0.5)
    found = best_schedule(jobs)
    order = tuple(turn.job for turn in found.turns)
    starts = tuple(turn.start for turn in found.turns)
    assert len(set(order)) == len(order)
    assert plain_cost(jobs, order, starts) == pytest.approx(found.cost)
    assert cost_of(jobs, found.turns) == pytest.approx(found.cost)
    # No swap of two neighbours, and no other start of one lens, is cheaper.
    for k in range(len(order)):
        for start in range(60):
            moved = (*starts[:k], start, *starts[k + 1 :])
            assert plain_cost(jobs, order, moved) >= found.cost - 1e-9


def smooth(seed: int, n: int, t: int) -> Jobs:
    """Lenses on arcs, whose pictures get better and worse over the night."""
    rng = np.random.default_rng(seed)
    wander = np.cumsum(rng.normal(size=(3, n, t)), axis=2)
    start_cost = wander[0] * rng.choice([1.0, 5.0])
    return dataclasses.replace(
        made(seed, n, t, open_share=float(rng.uniform(0.2, 1.1))),
        minutes=np.arange(t, dtype=float),
        east_m=wander[1],
        north_m=wander[2],
        during=rng.integers(5, 25, n).astype(float),
        start_cost=start_cost - start_cost.min(),
    )


@given(st.integers(0, 10_000), st.integers(2, 5), st.integers(81, 130))
@settings(max_examples=25)
def test_what_is_not_followed_was_not_the_best(seed: int, n: int, t: int) -> None:
    # With so many starts a cost that can be reached bounds the search; without the bound the
    # recursion tries all.
    jobs = smooth(seed, n, t)
    found = best_schedule(jobs)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(schedule, "FEW_STARTS", 1_000)
        assert best_schedule(jobs) == found


@given(st.integers(0, 10_000), st.integers(1, 3), st.integers(2, 7))
@settings(max_examples=40)
def test_the_cost_through_each_start_is_that_of_the_best_rest(seed: int, n: int, t: int) -> None:
    jobs = made(seed, n, t, open_share=0.9)
    found = best_schedule(jobs)
    order = tuple(turn.job for turn in found.turns)
    through = costs_through(jobs, found.turns)
    for k, costs in enumerate(through):
        assert costs.min() == pytest.approx(found.cost)
        for held in range(t):
            rest = [range(t) if i != k else [held] for i in range(len(order))]
            best = min(plain_cost(jobs, order, starts) for starts in product(*rest))
            assert costs[held] == pytest.approx(best)


def test_what_does_not_fit_is_left_out() -> None:
    jobs = made(1, 3, 4, open_share=1.1)
    only_one = np.zeros_like(jobs.allowed)
    only_one[:, 2] = True
    one = Jobs(**{f: getattr(jobs, f) for f in Jobs.__slots__} | {"allowed": only_one})
    assert len(best_schedule(one).turns) == 1
    nothing = Jobs(
        **{f: getattr(jobs, f) for f in Jobs.__slots__} | {"allowed": np.zeros_like(jobs.allowed)}
    )
    assert best_schedule(nothing).turns == ()


def test_impossible_turns_cost_without_end() -> None:
    jobs = made(2, 2, 5, open_share=1.1)
    assert np.isinf(cost_of(jobs, [JobStart(0, 3), JobStart(1, 3)]))


def test_more_than_eight_are_refused() -> None:
    with pytest.raises(ValueError, match="more than"):
        best_schedule(made(1, 9, 3))
