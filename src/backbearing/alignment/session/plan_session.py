"""Several lenses in one night: order, minutes and stands, exact on a grid of minutes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.from_outing import moment_of
from backbearing.alignment.night.moved_stand import moved_from
from backbearing.alignment.session.between_turns import Post, Spoilt
from backbearing.alignment.session.blind_patch import Light, Screen
from backbearing.alignment.session.choices import Choice, other_starts, session_price
from backbearing.alignment.session.remedies import left_out
from backbearing.alignment.session.session_setup import SessionSetup
from backbearing.alignment.session.session_words import (
    minutes_notes,
    session_cautions,
    session_notes,
    session_sentence,
)
from backbearing.alignment.session.shots import Turn, settle_shots
from backbearing.alignment.session.tasks import (
    STEP,
    Limits,
    grid_of,
    tasks_of,
    tasks_that_need,
)
from backbearing.alignment.session.walks_between import WalkedGround
from backbearing.alignment.stand.needed import EVERYTHING, Needed
from backbearing.base.errors import BackbearingError
from backbearing.base.lazy import Later
from backbearing.base.local_plane import LocalPlane
from backbearing.plan.session import Pause, Session, SessionCount

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session import light_session, one_line
    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.schedule import JobStart
    from backbearing.alignment.session.turn_pictures import TurnPictures
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.place import Place
    from backbearing.plan.session import LeftOut, Shot
    from backbearing.plan.stand import LensPlan, Moved
    from backbearing.plan.turn_picture import SessionPrice
else:
    # Not for a part of the session without them.
    light_session = Later("backbearing.alignment.session.light_session")
    one_line = Later("backbearing.alignment.session.one_line")

REPLANNED: Final = 3
"""So many times the order is sought again where a turn needs more minutes than it was given."""


def plan_session(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    nights: Sequence[LensPlan],
    places: Sequence[Place],
    needed: Needed = EVERYTHING,
) -> Session:
    """Choose order, minutes and stands for the lenses of an outing with a session.

    As many lenses as fit; among those orders and minutes the one with the least walking
    between stands, a minute's waiting counting ``wait_costs_m`` metres, a minute short of
    ``room_minutes`` to be late in twice that, and what each picture lacks by its own weights
    (see :class:`backbearing.outing.session_request.PictureRequest`), and the earlier of
    equals. Exact on whole minutes (see :mod:`.schedule`). While a lens has its turn the tripod
    stands still: target in its place within the framing's play, in frame, over the ridge by
    the asked margin, dark, from the first frame to the last. A walk that takes longer than
    its minutes, or frames whose shutter at their own stand does, get more and the order is
    sought again. What is not ``needed`` stays empty and changes nothing of the rest.

    Raises
    ------
    OutingError
        For a clock time that the evening does not have, or more lenses than are ordered.
    """
    setup = replace(setup_of(outing, scene, sky, nights, places), needed=needed)
    given = setup.tasks
    for round_ in range(REPLANNED + 1):
        starts = setup.starts(setup.tasks)
        pictures = setup.pictures(starts)
        chosen = setup.best(setup.tasks, starts, pictures=pictures)
        shots = _shots(setup, starts, chosen.turns, pictures)
        longer = tasks_that_need(setup.tasks, chosen.turns, shots, outing.exposure, setup.limits)
        if longer == setup.tasks or round_ == REPLANNED:
            break
        setup = replace(setup, tasks=longer, times=tuple(grid_of(longer)))
    missing = [i for i in range(len(given)) if i not in {turn.job for turn in chosen.turns}]
    left = tuple(left_out(setup, starts, chosen, i) for i in missing)
    price = None
    if needed.choice and shots:
        choice = _choice(setup, starts, pictures, chosen.turns)
        shots, price = _with_other_starts(shots, choice), session_price(choice)
    return _session(setup, shots, left, minutes_notes(given, setup.tasks), price)


def setup_of(
    outing: Outing,
    scene: Scene,
    sky: NightSky,
    nights: Sequence[LensPlan],
    places: Sequence[Place],
) -> SessionSetup:
    """Gather what a session is computed from; see `plan_session`."""
    asked = outing.session
    assert asked is not None  # noqa: S101  # only called for an outing with a session
    tasks = tuple(tasks_of(outing, scene, nights, sky.zone))
    plane = LocalPlane(scene.subject.lat, scene.subject.lon)
    ground = WalkedGround(plane, scene.elevation, tuple(places), asked.night_factor)
    return SessionSetup(
        outing=outing,
        asked=asked,
        scene=scene,
        sky=sky,
        ground=ground,
        parking=_parking(outing, asked, ground),
        limits=_limits(outing, asked, sky.zone),
        tasks=tasks,
        times=tuple(grid_of(tasks)),
        post=Post.of(
            Screen(scene.subject),
            Light(asked.light_width_m, asked.light_height_m),
            scene.subject.base_height_m,
        ),
    )


def _choice(
    setup: SessionSetup,
    starts: Sequence[Starts],
    pictures: Sequence[TurnPictures],
    turns: Sequence[JobStart],
) -> Choice:
    jobs = setup.jobs(setup.tasks, starts, pictures=pictures)
    return Choice(setup, jobs, pictures, turns, setup.best(setup.tasks, starts).turns)


def _with_other_starts(shots: tuple[Shot, ...], choice: Choice) -> tuple[Shot, ...]:
    each = other_starts(choice)
    return tuple(
        replace(shot, other_starts=others) for shot, others in zip(shots, each, strict=True)
    )


def _session(
    setup: SessionSetup,
    shots: tuple[Shot, ...],
    left: tuple[LeftOut, ...],
    notes: tuple[str, ...],
    price: SessionPrice | None,
) -> Session:
    there = setup.ground.approach(setup.parking, shots)
    back = setup.ground.home(setup.parking, shots)
    walks = [shot.walk for shot in shots if shot.walk is not None]
    start = shots[0].setup_start if shots else None
    leave = None
    if start is not None and there is not None:
        leave = start - dt.timedelta(minutes=there.night_minutes)
        leave = leave.replace(second=0, microsecond=0)
    return Session(
        shots=shots,
        left_out=left,
        pauses=setup.limits.pauses,
        start=start,
        end=shots[-1].frames_end if shots else None,
        count=SessionCount(
            walked_m=sum(walk.distance_m for walk in walks),
            waiting_minutes=sum(shot.wait_minutes for shot in shots),
            step_minutes=STEP.total_seconds() / 60.0,
            wait_costs_m=setup.asked.wait_costs_m,
        ),
        approach=there,
        home=back,
        leave_by=leave,
        lighting=light_session.light_session(setup.scene, setup.asked, shots, setup.ground.places)
        if shots and setup.needed.light
        else None,
        sentence=session_sentence(shots, left, setup.sky),
        cautions=session_cautions(shots, there, back),
        notes=(*notes, *session_notes(setup.asked, there)),
        price=price,
        one_line=one_line.one_line(setup) if setup.needed.one_line else None,
    )


def _shots(
    setup: SessionSetup,
    starts: Sequence[Starts],
    turns: Sequence[JobStart],
    pictures: Sequence[TurnPictures],
) -> tuple[Shot, ...]:
    moved = _moved(setup, starts, turns, pictures)
    spoilt = _spoilt(setup, starts, turns)
    return settle_shots(
        setup,
        [
            Turn(
                setup.tasks[t.job],
                starts[t.job],
                t.start,
                moved.get(t.job),
                float(pictures[t.job].doubt_deg[t.start]),
                one,
            )
            for t, one in zip(turns, spoilt, strict=True)
        ],
    )


def _spoilt(
    setup: SessionSetup, starts: Sequence[Starts], turns: Sequence[JobStart]
) -> list[Spoilt]:
    """What the stand before does to each turn; nothing to the first."""
    if not turns:
        return []
    between = setup.between(setup.tasks, starts)
    after = [between.spoilt(a.job, b.job, a.start, b.start) for a, b in pairwise(turns)]
    return [Spoilt(stand_before_shows=False, light_moves=False), *after]


def _moved(
    setup: SessionSetup,
    starts: Sequence[Starts],
    turns: Sequence[JobStart],
    pictures: Sequence[TurnPictures],
) -> dict[int, Moved]:
    """Compare with the plan that barred ground would not have stopped, lens by lens."""
    if not any(s.causes["barred"].any() for s in starts):
        return {}
    free = setup.best(setup.tasks, starts, ignoring=("barred",), pictures=pictures)
    wanted = {turn.job: turn.start for turn in free.turns}
    found = {}
    for turn in turns:
        best = wanted.get(turn.job)
        if best is not None and starts[turn.job].causes["barred"][best]:
            found[turn.job] = moved_from(
                starts[turn.job], best, turn.start, setup.ground.places, setup.sky
            )
    return found


def _parking(outing: Outing, asked: SessionRequest, ground: WalkedGround) -> Place | None:
    try:
        return ground.parking(asked.parking)
    except BackbearingError as problem:
        raise outing.refuse("session", "parking", problem) from problem


def _limits(outing: Outing, asked: SessionRequest, zone: str) -> Limits:
    def clock(value: str | None, key: str) -> dt.datetime | None:
        return moment_of(outing, value, zone, "session", key) if value else None

    pauses = []
    for pause in asked.breaks:
        start = moment_of(outing, pause.at, zone, "session", "breaks")
        pauses.append(Pause(start, start + dt.timedelta(minutes=pause.minutes)))
    return Limits(
        clock(asked.not_before, "not_before"),
        clock(asked.not_after, "not_after"),
        tuple(sorted(pauses, key=lambda pause: pause.start)),
    )
