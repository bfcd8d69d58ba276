"""Several lenses in one night: order, minutes and stands, exact on a grid of minutes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from backbearing.alignment.barred_stand import moved_from
from backbearing.alignment.local_map import LocalMap
from backbearing.alignment.schedule import Schedule, Turn, best_schedule
from backbearing.alignment.session_plan import Pause, Session
from backbearing.alignment.session_remedies import left_out
from backbearing.alignment.session_shots import settle_shot
from backbearing.alignment.session_tasks import (
    STEP,
    Limits,
    Task,
    grid_of,
    jobs_of,
    starts_of,
    tasks_of,
    tasks_that_need,
)
from backbearing.alignment.session_ways import approach, home
from backbearing.alignment.session_words import (
    minutes_notes,
    session_cautions,
    session_notes,
    session_sentence,
)
from backbearing.errors import BackbearingError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.lens_starts import Starts
    from backbearing.alignment.plan import LensPlan, Place
    from backbearing.alignment.prepare import NightSky
    from backbearing.alignment.scene import Scene
    from backbearing.alignment.session_plan import LeftOut, Moved, Shot
    from backbearing.alignment.session_request import SessionRequest
    from backbearing.outing import Outing


REPLANNED: Final = 3
"""So many times the order is sought again where a turn needs more minutes than it was given."""


@dataclass(frozen=True, slots=True)
class Work:
    """Everything that a session is computed from, gathered once."""

    outing: Outing
    asked: SessionRequest
    scene: Scene
    sky: NightSky
    zone: str
    places: tuple[Place, ...]
    limits: Limits
    tasks: tuple[Task, ...]
    times: tuple[dt.datetime, ...]

    @property
    def local(self) -> LocalMap:
        """Metres about the subject."""
        return LocalMap(self.scene.subject.lat, self.scene.subject.lon)

    def starts(self, task: Task, limits: Limits | None = None) -> Starts:
        """All starts of one lens on the session's grid."""
        at = task.request.at
        pinned = clock_time(self.outing, self.zone, at, "at") if at else None
        found = starts_of(task, self.sky, self.times, limits or self.limits, self.places, pinned)
        return found if found.allowed.any() else found.behind_the_subject()

    def best(
        self, tasks: Sequence[Task], starts: Sequence[Starts], ignoring: tuple[str, ...] = ()
    ) -> Schedule:
        """Put lenses in their best order."""
        if not tasks or not self.times:
            return Schedule((), 0.0)
        jobs = jobs_of(
            tasks,
            starts,
            night_factor=self.asked.night_factor,
            wait_costs_m=self.asked.wait_costs_m,
            room_minutes=self.asked.room_minutes,
            ignoring=ignoring,
        )
        return best_schedule(jobs)


def plan_session(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    zone: str,
    nights: Sequence[LensPlan],
    places: Sequence[Place],
) -> Session:
    """Choose order, minutes and stands for the lenses of an outing with a session.

    As many lenses as fit; among those orders and minutes the one with the least walking
    between stands, a minute's waiting counting ``wait_costs_m`` metres and a minute short of
    ``room_minutes`` to be late in twice as much, and the earlier of equals. Exact on whole
    minutes (see :mod:`backbearing.alignment.schedule`). While a lens has its turn the tripod
    stands still: target in its place within the framing's play, in frame, over the ridge by
    the asked margin, dark, from the first frame to the last. A walk that takes longer than
    its minutes, or frames whose shutter at their own stand does, get more and the order is
    sought again.

    Raises
    ------
    OutingError
        For a clock time that the evening does not have, or more lenses than are ordered.
    """
    asked = outing.session
    assert asked is not None  # noqa: S101  # only called for an outing with a session
    given = tuple(tasks_of(outing, scene, nights))
    work = Work(
        outing=outing,
        asked=asked,
        scene=scene,
        sky=sky,
        zone=zone,
        places=tuple(places),
        limits=_limits(outing, asked, zone),
        tasks=given,
        times=tuple(grid_of(given)),
    )
    for round_ in range(REPLANNED + 1):
        starts = [work.starts(task) for task in work.tasks]
        chosen = work.best(work.tasks, starts)
        shots = _shots(work, starts, chosen.turns)
        longer = tasks_that_need(work.tasks, chosen.turns, shots, outing, work.limits)
        if longer == work.tasks or round_ == REPLANNED:
            break
        work = replace(work, tasks=longer, times=tuple(grid_of(longer)))
    missing = [i for i in range(len(given)) if i not in {turn.job for turn in chosen.turns}]
    left = tuple(left_out(work, starts, chosen, i) for i in missing)
    return _session(work, shots, left, minutes_notes(given, work.tasks))


def _session(
    work: Work, shots: tuple[Shot, ...], left: tuple[LeftOut, ...], notes: tuple[str, ...]
) -> Session:
    from backbearing.alignment.lighting import light_session

    there = approach(work, shots)
    back = home(work, shots)
    walks = [shot.walk for shot in shots if shot.walk is not None]
    start = shots[0].setup_start if shots else None
    leave = None
    if start is not None and there is not None:
        leave = start - dt.timedelta(minutes=there.night_minutes)
        leave = leave.replace(second=0, microsecond=0)
    return Session(
        shots=shots,
        left_out=left,
        pauses=work.limits.pauses,
        start=start,
        end=shots[-1].frames_end if shots else None,
        walked_m=sum(walk.distance_m for walk in walks),
        waiting_minutes=sum(shot.wait_minutes for shot in shots),
        step_minutes=STEP.total_seconds() / 60.0,
        wait_costs_m=work.asked.wait_costs_m,
        approach=there,
        home=back,
        leave_by=leave,
        lighting=light_session(work.scene, work.asked, shots, work.places) if shots else None,
        sentence=session_sentence(shots, left, work.zone),
        cautions=session_cautions(shots, there, back),
        notes=(*notes, *session_notes(work.asked, there)),
    )


def _shots(work: Work, starts: Sequence[Starts], turns: Sequence[Turn]) -> tuple[Shot, ...]:
    moved = _moved(work, starts, turns)
    shots: list[Shot] = []
    for turn in turns:
        shots.append(
            settle_shot(
                work, work.tasks[turn.job], starts[turn.job], turn.start, shots, moved.get(turn.job)
            )
        )
    return tuple(shots)


def _moved(work: Work, starts: Sequence[Starts], turns: Sequence[Turn]) -> dict[int, Moved]:
    """Compare with the plan that barred ground would not have stopped, lens by lens."""
    if not any(s.causes["barred"].any() for s in starts):
        return {}
    free = work.best(work.tasks, starts, ignoring=("barred",))
    wanted = {turn.job: turn.start for turn in free.turns}
    found = {}
    for turn in turns:
        best = wanted.get(turn.job)
        if best is not None and starts[turn.job].causes["barred"][best]:
            found[turn.job] = moved_from(starts[turn.job], best, turn.start, work.places, work.zone)
    return found


def _limits(outing: Outing, asked: SessionRequest, zone: str) -> Limits:
    def clock(value: str | None, key: str) -> dt.datetime | None:
        return clock_time(outing, zone, value, key) if value else None

    pauses = []
    for pause in asked.breaks:
        start = clock_time(outing, zone, pause.at, "breaks")
        pauses.append(Pause(start, start + dt.timedelta(minutes=pause.minutes)))
    return Limits(
        clock(asked.not_before, "not_before"),
        clock(asked.not_after, "not_after"),
        tuple(sorted(pauses, key=lambda pause: pause.start)),
    )


def clock_time(outing: Outing, zone: str, clock: str, key: str) -> dt.datetime:
    """Read a local wall time of the outing's night, UTC."""
    from backbearing.sky.zones import at_clock, named_zone

    try:
        return at_clock(outing.night.evening, clock, named_zone(zone)).astimezone(dt.UTC)
    except BackbearingError as problem:
        raise outing.refuse("session", key, str(problem)) from problem
