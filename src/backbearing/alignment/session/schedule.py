"""Order and start times of a session, exactly: the subset recursion of Held and Karp.

Everything here is free of cameras and sky: jobs with allowed starts on a grid, places
that depend on the start, and the cost of going from one to the next.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Protocol

import numpy as np

from backbearing.outing.session_request import MOST_JOBS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Rows = NDArray[np.intp]


FEW_STARTS: Final = 40
"""With more starts a cost that can be reached is sought on so many of them first."""

SLACK_M: Final = 1e-6
"""Sums in another order differ by less."""


class JobStart(NamedTuple):
    """One job and the index of its start on the grid."""

    job: int
    start: int


class Leg(NamedTuple):
    """Metres and free minutes from one job to the next, and how unlike the two are.

    ``between_m`` is what else the one after the other counts.
    """

    walked_m: Any
    waited_minutes: Any
    unlike_deg: Any
    between_m: Any


class Between(Protocol):
    """What one job straight after another counts beside the way, metres, never below 0."""

    def metres(self, i: int, j: int, s: Any, t: Any) -> Any:
        """From job i started at s to job j at t: indices of the grid, or arrays of them."""
        ...


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
    likeness_deg : ndarray, shape (n, t), optional
        What one job should have in common with the next.
    alike_costs_m_per_deg : float
        What a degree of difference in that costs from one job to the next.
    between : Between, optional
        What else a job straight after another costs.
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
    likeness_deg: Floats | None = None
    alike_costs_m_per_deg: float = 0.0
    between: Between | None = None

    @property
    def count(self) -> int:
        """How many jobs there are."""
        return len(self.before)

    def step_cost(
        self,
        i: int,
        j: int,
        s: Rows | None = None,
        t: Rows | None = None,
        most_m: Floats | float = np.inf,
    ) -> Floats:
        """Cost of job j straight after job i: starts s of i down, t of j across, else all.

        What j's own start costs is in it. Infinite where it cannot be, and where it would be
        more than ``most_m``, which broadcasts with it.
        """
        every = np.arange(len(self.minutes))
        one, two = (every if rows is None else rows for rows in (s, t))
        leg = self._way(i, j, one[:, None], two[None, :])
        cost: Floats = leg.walked_m + self.wait_costs_m * leg.waited_minutes
        cost += self.start_cost[j, two]
        cost += self.alike_costs_m_per_deg * leg.unlike_deg
        possible = self.allowed[i, one][:, None] & self.allowed[j, two]
        cost[~(possible & (leg.waited_minutes >= -1e-9) & (cost <= most_m + SLACK_M))] = np.inf
        if self.between is not None:
            # It takes the longest, and counts nothing below nought: only where it may matter.
            a, b = np.nonzero(np.isfinite(cost))
            cost[a, b] += self.between.metres(i, j, one[a], two[b])
        return cost

    def leg(self, i: int, j: int, s: Any, t: Any) -> Leg:
        """From job i started at s to job j at t: indices of the grid, or arrays of them."""
        between: Any = 0.0 if self.between is None else self.between.metres(i, j, s, t)
        return self._way(i, j, s, t)._replace(between_m=between)

    def _way(self, i: int, j: int, s: Any, t: Any) -> Leg:
        """The leg but for what else the one after the other counts."""
        walked = np.hypot(
            self.east_m[i, s] - self.east_m[j, t], self.north_m[i, s] - self.north_m[j, t]
        )
        longer = np.fmax(walked / self.metres_per_minute - self.walk_minutes[j], 0.0)
        gap = self.minutes[t] - self.minutes[s] - self.during[i] - self.before[j]
        unlike: Any = 0.0
        if self.likeness_deg is not None and self.alike_costs_m_per_deg > 0.0:
            unlike = np.nan_to_num(np.abs(self.likeness_deg[i, s] - self.likeness_deg[j, t]))
        return Leg(walked, gap - longer, unlike, 0.0)

    def first_cost(self, i: int) -> Floats:
        """Cost of beginning with a job, shape (t,)."""
        return np.where(self.allowed[i], self.start_cost[i], np.inf)


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
    live = [np.flatnonzero(allowed) for allowed in jobs.allowed]
    tables = _tables(jobs, live, _reachable(jobs, live))
    reached = {
        done: min(float(row.min()) for row in rows.values()) for done, rows in tables.items()
    }
    found = [done for done, cost in reached.items() if np.isfinite(cost)]
    done = min(found, key=lambda mask: (-mask.bit_count(), reached[mask]))
    return Schedule(_walked_back(jobs, live, tables, done), reached[done])


def _reachable(jobs: Jobs, live: Sequence[Rows]) -> float:
    """A cost at which all jobs that have a start can be done, from fewer starts; else infinite."""
    apart = max(rows.size for rows in live) // FEW_STARTS
    if apart < 2:
        return np.inf
    every = sum(1 << i for i, rows in enumerate(live) if rows.size)
    done = _tables(jobs, [rows[::apart] for rows in live], np.inf).get(every, {})
    return min((float(row.min()) for row in done.values()), default=np.inf)


def _tables(jobs: Jobs, live: Sequence[Rows], reachable: float) -> dict[int, dict[int, Floats]]:
    """Least cost of each (set done, last job) over the last job's live starts.

    What cannot be finished at the cost that is known to be reachable is not followed: no
    remaining job costs less than its cheapest later start.
    """
    some = [i for i in range(jobs.count) if live[i].size]
    best: dict[int, dict[int, Floats]] = {1 << i: {i: jobs.start_cost[i, live[i]]} for i in some}
    cheapest = np.where(jobs.allowed, jobs.start_cost, np.inf)
    later = np.minimum.accumulate(cheapest[:, ::-1], axis=1)[:, ::-1]
    steps = _steps(jobs, live, cheapest.min(axis=1, initial=np.inf), reachable)
    for done in sorted(range(1, 1 << jobs.count), key=int.bit_count):
        left = [j for j in some if not done >> j & 1]
        rest = later[left].sum(axis=0) if np.isfinite(reachable) else np.zeros(later.shape[1])
        for i, row in best.get(done, {}).items():
            rows = np.flatnonzero(np.isfinite(row) & (row + rest[live[i]] <= reachable + SLACK_M))
            if not rows.size:
                continue
            for j in left:
                reached = (row[rows, None] + steps[i, j][rows]).min(axis=0)
                after = best.setdefault(done | 1 << j, {})
                after[j] = np.minimum(after[j], reached) if j in after else reached
    return best


def _steps(
    jobs: Jobs, live: Sequence[Rows], cheapest: Floats, reachable: float
) -> dict[tuple[int, int], Floats]:
    """Costs of each job straight after each other over their live starts.

    Infinite where with the start before and the least of all other jobs they are more than
    the cost that is known to be reachable.
    """
    some = [i for i in range(jobs.count) if live[i].size]
    found = {}
    for i, j in permutations(some, 2):
        rest = sum(float(cheapest[k]) for k in some if k not in (i, j))
        most = reachable - rest - jobs.start_cost[i, live[i]]
        found[i, j] = jobs.step_cost(i, j, live[i], live[j], most[:, None])
    return found


def _walked_back(
    jobs: Jobs, live: Sequence[Rows], tables: dict[int, dict[int, Floats]], done: int
) -> tuple[JobStart, ...]:
    """Read the turns of the best order from the tables, last to first."""
    last = min(tables[done], key=lambda i: float(tables[done][i].min()))
    start = int(live[last][tables[done][last].argmin()])
    turns = [JobStart(last, start)]
    while done.bit_count() > 1:
        before = done & ~(1 << last)
        costs = {
            i: row + jobs.step_cost(i, last, live[i], np.array([start]))[:, 0]
            for i, row in tables[before].items()
        }
        done = before
        last = min(costs, key=lambda i: float(costs[i].min()))
        start = int(live[last][costs[last].argmin()])
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


def costs_through(jobs: Jobs, turns: Sequence[JobStart]) -> list[Floats]:
    """Least cost of an order with one of its jobs held to each start, shape (t,) for each turn.

    The other jobs take their best starts for that; infinite where there are none.
    """
    order = [turn.job for turn in turns]
    live = [np.flatnonzero(jobs.allowed[job]) for job in order]
    steps = [jobs.step_cost(a, b, live[k], live[k + 1]) for k, (a, b) in enumerate(pairwise(order))]
    before = [jobs.start_cost[order[0], live[0]]] if order else []
    for step in steps:
        before.append((before[-1][:, None] + step).min(axis=0))
    after = [np.zeros(len(live[-1]))] if order else []
    for step in reversed(steps):
        after.append((step + after[-1][None, :]).min(axis=1))
    found = []
    for rows, one, other in zip(live, before, reversed(after), strict=True):
        costs = np.full(len(jobs.minutes), np.inf)
        costs[rows] = one + other
        found.append(costs)
    return found
