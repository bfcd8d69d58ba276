"""A session against other orders and minutes, each costed from the numbers that stands show."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.night.from_outing import night_sky, scene_of, zone_of
from backbearing.alignment.session.plan_session import setup_of
from backbearing.alignment.session.tasks import grid_of
from backbearing.alignment.stand.stand_doubts import with_doubts
from backbearing.alignment.stand.stands import stand_at
from session_costs import picture_cost_m
from soak.raw_ground import WGS84

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.plan.session import LeftOut, Shot
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation
    from soak.claims import Looked

CLEARS_SIGMAS: Final = 2.5
"""As docs/doubt.md has it."""

TRIES: Final = 12
LEVEL_M_PER_MINUTE: Final = 6000.0 * math.exp(-3.5 * 0.05) / 60.0 * 0.6
"""Tobler's hiking function on the level, three fifths of it off track (Tobler, 1993)."""


@dataclass(frozen=True)
class Turn:
    """One lens's turn in some order: all that its cost is made of."""

    job: int
    start: int
    stand: Stand
    least_deg: float
    room_minutes: float


@dataclass(frozen=True)
class Night:
    """What a session could choose from."""

    setup: SessionSetup
    starts: list[Starts]


def order_contradictions(looked: Looked, elevation: Elevation, seed: int) -> Iterator[str]:
    """No order that is tried here costs less, or holds more lenses, than the chosen one."""
    session = looked.plan.session
    if session is None or not session.shots:
        return
    assert looked.outing.session is not None
    night = _night(looked, elevation, [*session.shots, *session.left_out])
    chosen = [_of_shot(night, shot) for shot in session.shots]
    cost, free = _cost_m(night, chosen)
    if free < -0.02:
        yield f"the session itself is {-free:.2f} minutes short"
    wishes = looked.outing.session.picture
    weights = (
        wishes.above_top_costs_m_per_deg, wishes.ridge_costs_m_per_deg,
        wishes.skyline_break_costs_m_per_deg, wishes.alike_costs_m_per_deg,
    )  # fmt: skip
    near = 0.1 + 0.005 * sum(weights) * len(chosen)
    rng = np.random.default_rng(seed)
    for other in _others(night, chosen, rng):
        names = " ".join(f"{turn.stand.lens.label} {turn.stand.time:%H:%M:%S}" for turn in other)
        own, free = _cost_m(night, other)
        if free < 0.0:
            continue
        if len(other) > len(chosen):
            yield f"{len(other)} lenses have a turn in {names}"
        elif own < cost - near:
            yield f"costs {cost:.2f} m, and {names} {own:.2f} m"


def _night(looked: Looked, elevation: Elevation, given: Sequence[Shot | LeftOut]) -> Night:
    outing, plan = looked.outing, looked.plan
    scene, zone = scene_of(outing, elevation), zone_of(outing)
    setup = setup_of(outing, scene, night_sky(outing.night, scene, zone), plan.lenses, plan.places)
    tasks = []
    for task in setup.tasks:
        minutes = next(one.minutes for one in given if one.lens == task.lens)
        tasks.append(replace(task, minutes=minutes))
    setup = replace(setup, tasks=tuple(tasks), times=tuple(grid_of(tasks)))
    return Night(setup, setup.starts(tasks))


def _of_shot(night: Night, shot: Shot) -> Turn:
    job = next(i for i, task in enumerate(night.setup.tasks) if task.lens == shot.lens)
    start = round((shot.frames_start - night.setup.times[0]) / dt.timedelta(minutes=1))
    return Turn(job, start, shot.stand, shot.least_clearance_deg, shot.room_minutes)


def _others(night: Night, chosen: list[Turn], rng: np.random.Generator) -> Iterator[list[Turn]]:
    """Every lens that has a start in two orders; and the chosen order with one turn moved."""
    live = [i for i, one in enumerate(night.starts) if one.allowed.any()]
    found = 0
    for _ in range(TRIES):
        other = _drawn(night, [int(job) for job in rng.permutation(live)], rng)
        if other is not None:
            found += 1
            yield other
        if found == 2:
            break
    for _ in range(2):
        moved = list(chosen)
        k = int(rng.integers(len(chosen)))
        start = chosen[k].start + int(rng.choice([-10, -3, -1, 1, 3, 10]))
        turn = _turn(night, chosen[k].job, start)
        if turn is not None:
            moved[k] = turn
            yield moved


def _drawn(night: Night, order: list[int], rng: np.random.Generator) -> list[Turn] | None:
    turns: list[Turn] = []
    free_at = -1
    for job in order:
        late = np.flatnonzero(night.starts[job].allowed)
        late = late[late >= free_at]
        if not late.size:
            return None
        turn = _turn(night, job, int(late[int(late.size * rng.random() ** 3)]))
        if turn is None:
            return None
        turns.append(turn)
        minutes = night.setup.tasks[job].minutes
        free_at = turn.start + math.ceil(minutes.frames_minutes)
        if len(turns) < len(order):
            after = night.setup.tasks[order[len(turns)]].minutes
            free_at += math.ceil(after.before_frames)
    return turns


def _turn(night: Night, job: int, start: int) -> Turn | None:
    """Settle one turn by itself, where nothing spoils it."""
    starts, task = night.starts[job], night.setup.tasks[job]
    if not (0 <= start < len(night.setup.times) and starts.allowed[start]):
        return None
    middle = night.setup.times[start] + dt.timedelta(minutes=task.minutes.frames_minutes / 2.0)
    (stand,) = with_doubts([stand_at(task.scene, task.lens, middle)], task.scene)
    return Turn(job, start, stand, float(starts.clearance_deg[:, start].min()),
                _room_minutes(starts, start))  # fmt: skip


def _room_minutes(starts: Starts, start: int) -> float:
    late = ("hours", "break", "asked minute")
    spoilt: Any = np.any([v for k, v in starts.causes.items() if k not in late], axis=0)
    after = np.flatnonzero(spoilt[start:])
    return float(max(0, (after[0] if after.size else len(spoilt) - start) - 1))


def _cost_m(night: Night, turns: Sequence[Turn]) -> tuple[float, float]:
    """What an order costs, and the least free minutes between two of its turns."""
    setup, asked = night.setup, night.setup.asked
    total, least_free = 0.0, math.inf
    for turn in turns:
        stand = turn.stand
        sure = stand.clearance_bias_deg + CLEARS_SIGMAS * stand.clearance_sigma_deg
        total += picture_cost_m(
            setup.tasks[turn.job].scene, stand, asked.picture,
            above_top_deg=stand.above_top_deg,
            over_asked_deg=turn.least_deg - sure - setup.sky.clear_by_deg,
        )  # fmt: skip
        short = max(asked.room_minutes - turn.room_minutes, 0.0)
        total += 0.001 * turn.start + 2.0 * asked.wait_costs_m * short
    for one, after in pairwise(turns):
        _, _, walked = WGS84.inv(one.stand.lon, one.stand.lat, after.stand.lon, after.stand.lat)
        minutes = setup.tasks[after.job].minutes
        longer = max(0.0, walked / (LEVEL_M_PER_MINUTE / asked.night_factor) - minutes.walk_minutes)
        gap = after.start - one.start - setup.tasks[one.job].minutes.frames_minutes
        free = gap - minutes.before_frames - longer
        unlike = abs(one.stand.above_top_deg - after.stand.above_top_deg)
        total += walked + asked.wait_costs_m * free
        total += asked.picture.alike_costs_m_per_deg * unlike
        least_free = min(least_free, free)
    return total, least_free
