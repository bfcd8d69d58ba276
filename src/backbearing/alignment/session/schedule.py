"""Order and start times of a session, exactly: the subset recursion of Held and Karp.

Everything here is free of cameras and sky: jobs with allowed starts on a grid, places
that depend on the start, and the cost of going from one to the next.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.outing.session_request import MOST_JOBS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Jobs:
    """Jobs on a common grid of start times.

    Attributes
    ----------
    minutes : ndarray, shape (t,)
        The grid, minutes, rising.
    allowed : ndarray of bool, shape (n, t)
        Whether a job's frames may start there: everything that does not depend on the
        job before it.
    east_m, north_m : ndarray, shape (n, t)
        Where the job is done when it starts there.
    before : ndarray, shape (n,)
        Minutes of work on the spot and on the way before the start.
    walk_minutes : ndarray, shape (n,)
        The part of ``before`` that is meant for walking from the place before.
    during : ndarray, shape (n,)
        Minutes from the start until the work is done.
    start_cost : ndarray, shape (n, t)
        What a start costs in itself, metres.
    metres_per_minute : float
        How fast one walks; a longer way takes longer than ``walk_minutes``.
    wait_costs_m : float
        Metres that a minute of waiting counts as much as.
    """

    minutes: Floats
    allowed: Flags
    east_m: Floats
    north_m: Floats
    before: Floats
    walk_minutes: Floats
    during: Floats
    start_cost: Floats
    metres_per_minute: float
    wait_costs_m: float

    @property
    def count(self) -> int:
        """How many jobs there are."""
        return len(self.before)

    def at(self, some: NDArray[np.intp]) -> Jobs:
        """The same jobs with some of the starts, rising."""
        return replace(
            self,
            minutes=self.minutes[some],
            allowed=self.allowed[:, some],
            east_m=self.east_m[:, some],
            north_m=self.north_m[:, some],
            start_cost=self.start_cost[:, some],
        )

    def step_cost(self, i: int, j: int) -> Floats:
        """Cost of job j straight after job i, shape (t, t): start of i down, of j across.

        What j's own start costs is in it. Infinite where it cannot be.
        """
        walked = np.hypot(
            self.east_m[i][:, None] - self.east_m[j][None, :],
            self.north_m[i][:, None] - self.north_m[j][None, :],
        )
        longer = np.fmax(walked / self.metres_per_minute - self.walk_minutes[j], 0.0)
        gap = self.minutes[None, :] - self.minutes[:, None] - self.during[i] - self.before[j]
        wait = gap - longer
        cost = walked + self.wait_costs_m * wait + self.start_cost[j][None, :]
        possible = (wait >= -1e-9) & self.allowed[i][:, None] & self.allowed[j][None, :]
        return np.where(possible, cost, np.inf)

    def first_cost(self, i: int) -> Floats:
        """Cost of beginning with a job, shape (t,)."""
        return np.where(self.allowed[i], self.start_cost[i], np.inf)


class JobStart(NamedTuple):
    """One job and the index of its start on the grid."""

    job: int
    start: int


@dataclass(frozen=True, slots=True)
class Schedule:
    """The best order: as many jobs as fit, and among those the least cost."""

    turns: tuple[JobStart, ...]
    cost: float


def best_schedule(jobs: Jobs) -> Schedule:
    """Find the largest set of jobs that fits and its cheapest order and start times.

    The recursion of Held and Karp [Held1962]_ over (set done, last job, its start):
    exact on the grid.

    Raises
    ------
    ValueError
        For more jobs than ``MOST_JOBS``.
    """
    n = jobs.count
    if n > MOST_JOBS:
        message = f"{n} jobs are more than {MOST_JOBS}"
        raise ValueError(message)
    if not jobs.allowed.any():
        return Schedule((), 0.0)
    some = np.flatnonzero(jobs.allowed.any(axis=0))
    if len(some) < len(jobs.minutes):
        found = best_schedule(jobs.at(some))
        turns = tuple(JobStart(turn.job, int(some[turn.start])) for turn in found.turns)
        return Schedule(turns, found.cost)
    steps = {(i, j): jobs.step_cost(i, j) for i in range(n) for j in range(n) if i != j}
    best = _tables(jobs, steps)
    reached = {done: min(float(row.min()) for row in rows.values()) for done, rows in best.items()}
    fits = [done for done, cost in reached.items() if np.isfinite(cost)]
    done = min(fits, key=lambda mask: (-mask.bit_count(), reached[mask]))
    return Schedule(_walked_back(steps, best, done), reached[done])


def _tables(jobs: Jobs, steps: dict[tuple[int, int], Floats]) -> dict[int, dict[int, Floats]]:
    """Least cost of each (set done, last job), shape (t,) over the last job's start."""
    n = jobs.count
    best: dict[int, dict[int, Floats]] = {1 << i: {i: jobs.first_cost(i)} for i in range(n)}
    for done in sorted(range(1, 1 << n), key=int.bit_count):
        rows = best.get(done, {})
        for i, row in rows.items():
            live = np.flatnonzero(np.isfinite(row))
            if not live.size:
                continue
            for j in range(n):
                if done >> j & 1:
                    continue
                reached = (row[live, None] + steps[i, j][live]).min(axis=0)
                after = best.setdefault(done | 1 << j, {})
                after[j] = np.minimum(after[j], reached) if j in after else reached
    return best


def _walked_back(
    steps: dict[tuple[int, int], Floats], best: dict[int, dict[int, Floats]], done: int
) -> tuple[JobStart, ...]:
    """Read the turns of the best order from the tables, last to first."""
    last = min(best[done], key=lambda i: float(best[done][i].min()))
    start = int(best[done][last].argmin())
    turns = [JobStart(last, start)]
    while done.bit_count() > 1:
        before = done & ~(1 << last)
        costs = {i: best[before][i] + steps[i, last][:, start] for i in best[before]}
        done = before
        last = min(costs, key=lambda i: float(costs[i].min()))
        start = int(costs[last].argmin())
        turns.append(JobStart(last, start))
    return tuple(reversed(turns))


def cost_of(jobs: Jobs, turns: Sequence[JobStart]) -> float:
    """Cost of given turns in their order; infinite where they cannot be."""
    if not turns:
        return 0.0
    total = float(jobs.first_cost(turns[0].job)[turns[0].start])
    for a, b in pairwise(turns):
        total += float(jobs.step_cost(a.job, b.job)[a.start, b.start])
    return total
