"""One turn of a session settled exactly: stand, clock times, walk, placing, late stands."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.session.choices import turn_picture
from backbearing.alignment.session.late_stands import late_stand
from backbearing.alignment.session.tasks import room_after, starts_of_each
from backbearing.alignment.session.turn_pictures import picture_of_stand
from backbearing.alignment.session.turn_skies import sky_of_stand
from backbearing.alignment.stand.ground_cautions import each_with_surroundings
from backbearing.alignment.stand.lens_figures import LensStand, figures_of_each
from backbearing.alignment.stand.place_stand import StandAsked, place_each
from backbearing.alignment.stand.stands import LensMoment, stands_at
from backbearing.base.grouped import flat_values
from backbearing.plan.optics import TurnFigures
from backbearing.plan.session import Shot, ShotRun, ShotStep, ShotTimes
from backbearing.plan.steps import step_between

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.between_turns import Spoilt
    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.tasks import Task
    from backbearing.outing.request import Outing
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.placing import Placing
    from backbearing.plan.session import LateStand
    from backbearing.plan.stand import Moved, Stand
    from backbearing.plan.turn_picture import TurnPicture


class Turn(NamedTuple):
    """A lens's turn: its frames begin at one start of the grid.

    ``ridge_doubt_deg`` is what the skyline's doubt may take from its clearance, as the choice
    had it; NaN where nothing was asked of it. ``spoilt`` is what the stand before does to it.
    """

    task: Task
    starts: Starts
    start: int
    moved: Moved | None
    ridge_doubt_deg: float
    spoilt: Spoilt

    @property
    def frames_start(self) -> dt.datetime:
        """When its frames begin, UTC."""
        return self.starts.times[self.start].astimezone(dt.UTC)

    @property
    def half(self) -> dt.timedelta:
        """Half of what its frames take."""
        return dt.timedelta(minutes=self.task.minutes.frames_minutes / 2.0)


def settle_shots(setup: SessionSetup, turns: Sequence[Turn]) -> tuple[Shot, ...]:
    """Settle turns in their order; their stands, and those of who is late, all in one array."""
    middles = stands_at(
        [LensMoment(t.task.scene, t.task.lens, t.frames_start + t.half) for t in turns]
    )
    stands = middles
    if setup.needed.surroundings:
        scenes = [turn.task.scene for turn in turns]
        stands = each_with_surroundings(middles, scenes, setup.ground.places)
    asked = [
        StandAsked(turn.task.scene, turn.task.lens, stand)
        for turn, stand in zip(turns, stands, strict=True)
    ]
    parts = zip(
        turns,
        stands,
        figures_of_each([LensStand(*one) for one in asked], setup.outing),
        place_each(asked, zone=setup.sky.zone, pace_m=setup.asked.pace_m),
        _late_starts(setup, turns),
        strict=True,
    )
    shots: list[Shot] = []
    for one in parts:
        shots.append(_settle_shot(setup, shots, *one))
    return tuple(shots)


def _settle_shot(
    setup: SessionSetup,
    before: Sequence[Shot],
    turn: Turn,
    stand: Stand,
    figures: LensFigures,
    placing: Placing,
    late: Starts | None,
) -> Shot:
    task, starts, i, moved, *_ = turn
    minutes, frames_start = task.minutes, turn.frames_start
    step = _from_before(setup, before, stand, task)
    focus_start = frames_start - dt.timedelta(minutes=minutes.focus_minutes)
    setup_start = focus_start - dt.timedelta(minutes=minutes.setup_minutes)
    walking = max(minutes.walk_minutes, 0.0 if step.walk is None else step.walk.night_minutes)
    walk_start = setup_start - dt.timedelta(minutes=walking)
    waited = (walk_start - before[-1].frames_end).total_seconds() / 60.0 if before else 0.0
    return Shot(
        number=len(before) + 1,
        lens=task.lens,
        minutes=minutes,
        times=ShotTimes(
            walk_start=walk_start,
            setup_start=setup_start,
            focus_start=focus_start,
            frames_start=frames_start,
            frames_end=frames_start + 2 * turn.half,
            wait_minutes=waited,
        ),
        stand=stand,
        run=_run(starts, i, stand),
        step=step,
        placing=placing,
        figures=turn_figures(figures, setup.outing, minutes.frames_minutes),
        late=_late(setup, stand, late),
        moved=moved,
        picture=_picture(setup, turn, stand, before),
        sky=sky_of_stand(task.scene, stand, setup.asked.picture),
    )


def _picture(setup: SessionSetup, turn: Turn, stand: Stand, before: Sequence[Shot]) -> TurnPicture:
    wishes = setup.asked.picture
    last = before[-1].stand.above_top_deg if before else math.nan
    least = _least(turn.starts.clearance_deg[:, turn.start])
    shown = picture_of_stand(turn.task.scene, stand, least, turn.ridge_doubt_deg, wishes)
    return turn_picture(shown, wishes, setup.sky.clear_by_deg, last, turn.spoilt)


def turn_figures(figures: LensFigures, outing: Outing, frames_minutes: float) -> TurnFigures:
    """Say how many frames fit into a turn, beside shutter, trails, focus and light at its stand."""
    seconds = figures.shutter_s + outing.exposure.pause_s
    fit = int(60.0 * frames_minutes / seconds + 1e-9) if math.isfinite(seconds) else 0
    return TurnFigures(**flat_values(figures), frames_that_fit=fit)


def _run(starts: Starts, i: int, stand: Stand) -> ShotRun:
    return ShotRun(
        drift_deg=float(starts.drift_deg[i]),
        spare_minutes=max(0.0, stand.play_minutes - starts.frames_minutes / 2.0),
        room_minutes=float(room_after(starts)[i]),
        least_clearance_deg=_least(starts.clearance_deg[:, i]),
        start_x=float(starts.x[0, i]),
        start_y=float(starts.y[0, i]),
        end_x=float(starts.x[-1, i]),
        end_y=float(starts.y[-1, i]),
    )


def _least(clearance: NDArray[np.float64]) -> float:
    least = float(np.min(clearance))
    return least if math.isfinite(least) else math.nan


def _from_before(setup: SessionSetup, before: Sequence[Shot], stand: Stand, task: Task) -> ShotStep:
    """The walk and the step from the stand before; none for the first."""
    if not before:
        return ShotStep(math.nan, math.nan, None)
    last = before[-1].stand
    walk = setup.ground.between_stands(before[-1], stand, f"{task.lens.label} stand")
    left, back = step_between(
        lat1=last.lat, lon1=last.lon, bearing_deg=last.bearing_deg, lat2=stand.lat, lon2=stand.lon
    )
    return ShotStep(left, back, walk)


def _late_starts(setup: SessionSetup, turns: Sequence[Turn]) -> list[Starts | None]:
    """Starts of the turns by each asked delay; None where none is asked for."""
    delays = setup.asked.late_minutes
    if not delays or not setup.needed.surroundings:
        return [None] * len(turns)
    times = [[t.frames_start + dt.timedelta(minutes=delay) for delay in delays] for t in turns]
    # Who is late puts off the break.
    limits = replace(setup.limits, pauses=())
    tasks = [turn.task for turn in turns]
    found = starts_of_each(tasks, setup.sky, times, limits, setup.ground.places)
    return [
        late.close_to_the_subject() if turn.starts.close else late
        for turn, late in zip(turns, found, strict=True)
    ]


def _late(setup: SessionSetup, stand: Stand, late: Starts | None) -> tuple[LateStand, ...]:
    """Where the stand goes for each asked delay, and what spoils it then."""
    if late is None:
        return ()
    delays = setup.asked.late_minutes
    return tuple(late_stand(stand, late, i, delay) for i, delay in enumerate(delays))
