"""Several lenses in one night: order, minutes and stands, exact on a grid of minutes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.moved_stand import moved_from
from backbearing.alignment.session.light_session import light_session
from backbearing.alignment.session.remedies import left_out
from backbearing.alignment.session.session_setup import Work, clock_time
from backbearing.alignment.session.session_words import (
    minutes_notes,
    session_cautions,
    session_notes,
    session_sentence,
)
from backbearing.alignment.session.shots import settle_shot
from backbearing.alignment.session.tasks import (
    STEP,
    Limits,
    grid_of,
    tasks_of,
    tasks_that_need,
)
from backbearing.alignment.session.walks_between import approach, home
from backbearing.plan.session import Pause, Session, SessionCount

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.schedule import Turn
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.moved import Moved
    from backbearing.plan.place import Place
    from backbearing.plan.session import LeftOut, Shot
    from backbearing.plan.stand import LensPlan


REPLANNED: Final = 3
"""So many times the order is sought again where a turn needs more minutes than it was given."""


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
    minutes (see :mod:`.schedule`). While a lens has its turn the tripod
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
        count=SessionCount(
            walked_m=sum(walk.distance_m for walk in walks),
            waiting_minutes=sum(shot.wait_minutes for shot in shots),
            step_minutes=STEP.total_seconds() / 60.0,
            wait_costs_m=work.asked.wait_costs_m,
        ),
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
