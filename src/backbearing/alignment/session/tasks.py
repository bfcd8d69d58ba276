"""A session's lenses as jobs on one grid of minutes, ready to be put in order."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.night.from_outing import moment_of
from backbearing.alignment.session.frame_starts import FramesAsked, Starts, starts_of_lenses
from backbearing.alignment.session.schedule import Jobs
from backbearing.base.local_plane import LocalPlane
from backbearing.land.closed_ground import on_closed_ground
from backbearing.land.walks import OFF_TRACK, walking_speed_m_per_minute
from backbearing.outing.session_request import LensMinutes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.schedule import Between, JobStart
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.request import ExposureRequest, LensRequest, Outing
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.place import Place
    from backbearing.plan.session import Pause, Shot
    from backbearing.plan.stand import LensPlan

    Flags = NDArray[np.bool_]

STEP: Final = dt.timedelta(minutes=1)
EARLIER_M_PER_MINUTE: Final = 1e-3
"""What decides between plans of equal cost: the earlier one."""

LEAD: Final = dt.timedelta(minutes=10)
"""Starts are sought from so long before the first usable minute: the stand of the middle of
the frames may clear the ridge a little before that of their beginning would."""

ROOM_COSTS: Final = 2.0
"""A minute's missing room to be late counts as so many minutes' waiting."""

UNKNOWN_FRAMES_MINUTES: Final = 5.0
"""For a lens whose shutter is not known because it has no stand."""


@dataclass(frozen=True, slots=True)
class Task:
    """One lens of the session: its own scene, what the night gives it, and its minutes.

    ``frames_open`` says that the exposure decides how long its frames take; ``pinned`` is the
    minute asked for the middle of its frames, UTC.
    """

    scene: Scene
    request: LensRequest
    night: LensPlan
    minutes: LensMinutes
    frames_open: bool = False
    pinned: dt.datetime | None = None

    @property
    def lens(self) -> Lens:
        """The lens."""
        return self.request.lens


class PictureCosts(NamedTuple):
    """What the pictures of all lenses count, in metres, arrays of shape (n, t).

    ``start_m`` is what each start counts in itself; ``above_top_deg`` is held alike from one
    turn to the next at ``alike_costs_m_per_deg``; ``between`` is what else one straight after
    another counts.
    """

    start_m: NDArray[np.float64]
    above_top_deg: NDArray[np.float64] | None
    alike_costs_m_per_deg: float
    between: Between | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """What bounds the whole session, UTC."""

    not_before: dt.datetime | None
    not_after: dt.datetime | None
    pauses: tuple[Pause, ...]

    def outside_hours(self, starts: Sequence[dt.datetime], minutes: LensMinutes) -> Flags:
        """Whether turns whose frames begin then are not set up and done within the bounds."""
        on_the_spot = dt.timedelta(minutes=minutes.setup_minutes + minutes.focus_minutes)
        outside = np.zeros(len(starts), dtype=np.bool_)
        if self.not_before is not None:
            first = self.not_before + on_the_spot
            outside |= np.array([start < first for start in starts], dtype=np.bool_)
        if self.not_after is not None:
            last = self.not_after - dt.timedelta(minutes=minutes.frames_minutes)
            outside |= np.array([start > last for start in starts], dtype=np.bool_)
        return outside

    def in_breaks(self, starts: Sequence[dt.datetime], minutes: LensMinutes) -> Flags:
        """Whether turns whose frames begin then, their walk included, run into a break."""
        during = np.zeros(len(starts), dtype=np.bool_)
        for pause in self.pauses:
            first = pause.start - dt.timedelta(minutes=minutes.frames_minutes)
            last = pause.end + dt.timedelta(minutes=minutes.before_frames)
            during |= np.array([first < start < last for start in starts], dtype=np.bool_)
        return during


def tasks_of(outing: Outing, scene: Scene, nights: Sequence[LensPlan], zone: str) -> list[Task]:
    """Join each lens's request, night and minutes; frames left open come from the exposure.

    Raises
    ------
    OutingError
        For a clock time that the evening does not have.
    """
    asked = outing.session
    assert asked is not None  # noqa: S101  # only called for an outing with a session
    found = []
    for request, night, given in zip(outing.lenses, nights, asked.minutes, strict=True):
        own = scene.with_drop(request.stand_drop_m).with_share(request.share)
        walk, setup, focus, frames = given
        if frames is None:
            minutes = LensMinutes(
                walk, setup, focus, _frames_minutes(outing.exposure, request, night.figures)
            )
        else:
            minutes = LensMinutes(walk, setup, focus, frames)
        pinned = moment_of(outing, request.at, zone, "session", "at") if request.at else None
        found.append(Task(own, request, night, minutes, frames is None, pinned))
    return found


def _frames_minutes(exposure: ExposureRequest, request: LensRequest, figures: LensFigures) -> float:
    """What the exposure's frames take, or the panorama's where one is asked for."""
    if not math.isfinite(figures.shutter_s):
        return UNKNOWN_FRAMES_MINUTES
    rows = figures.shutter.panorama if request.panorama and figures.shutter else None
    if rows is not None and math.isfinite(rows.shooting_minutes):
        return float(math.ceil(rows.shooting_minutes - 1e-9))
    return frames_minutes_for(exposure.frames, figures.shutter_s, exposure.pause_s)


def frames_minutes_for(frames: int, shutter_s: float, pause_s: float) -> float:
    """Whole minutes that so many frames and the pauses after them take, rounded up."""
    return float(math.ceil(frames * (shutter_s + pause_s) / 60.0 - 1e-9))


def tasks_that_need(
    tasks: tuple[Task, ...],
    turns: Sequence[JobStart],
    shots: Sequence[Shot],
    exposure: ExposureRequest,
    limits: Limits,
) -> tuple[Task, ...]:
    """Give the tasks more minutes where their settled turns need them.

    That is a walk that ends after its set-up should begin, or runs into a break; and
    frames whose number the exposure decides, at the shutter of the turn's own stand.
    """
    found = list(tasks)
    for turn, shot in zip(turns, shots, strict=True):
        task = tasks[turn.job]
        minutes = task.minutes
        into_a_break = any(
            shot.walk_start < pause.end and shot.setup_start > pause.start
            for pause in limits.pauses
        )
        if shot.walk is not None and (shot.wait_minutes < -1e-6 or into_a_break):
            walk = float(math.ceil(shot.walk.night_minutes))
            minutes = replace(minutes, walk_minutes=max(walk, minutes.walk_minutes))
        if task.frames_open and math.isfinite(shot.figures.shutter_s):
            frames = _frames_minutes(exposure, task.request, shot.figures)
            minutes = replace(minutes, frames_minutes=max(frames, minutes.frames_minutes))
        found[turn.job] = replace(task, minutes=minutes)
    return tuple(found)


def grid_of(tasks: Sequence[Task]) -> list[dt.datetime]:
    """Whole minutes at which the frames of any lens might begin."""
    spans = [span for task in tasks for span in task.night.usable]
    if not spans:
        return []
    longest = max(task.minutes.frames_minutes for task in tasks)
    first = min(span.start for span in spans) - min(dt.timedelta(minutes=longest), LEAD)
    last = max(span.end for span in spans)
    first = first.replace(second=0, microsecond=0)
    return [first + i * STEP for i in range(int((last - first) / STEP) + 1)]


def starts_of(
    task: Task,
    sky: NightSky,
    times: Sequence[dt.datetime],
    limits: Limits,
    places: Sequence[Place],
) -> Starts:
    """Do as `starts_of_each` for one lens."""
    return starts_of_each([task], sky, [times], limits, places)[0]


def starts_of_each(
    tasks: Sequence[Task],
    sky: NightSky,
    times: Sequence[Sequence[dt.datetime]],
    limits: Limits,
    places: Sequence[Place],
) -> list[Starts]:
    """Everything that spoils lenses' starts: sky, frame, ridge, land, breaks, asked minute."""
    asked = [
        FramesAsked(task.scene, task.lens, at, task.minutes.frames_minutes)
        for task, at in zip(tasks, times, strict=True)
    ]
    found = starts_of_lenses(asked, sky) if asked else []
    return [
        _on_this_evening(task, starts, limits, places)
        for task, starts in zip(tasks, found, strict=True)
    ]


def _on_this_evening(task: Task, starts: Starts, limits: Limits, places: Sequence[Place]) -> Starts:
    """Add what land, hours, breaks and an asked minute spoil."""
    at, times = starts.settled.places, starts.times
    causes = starts.causes | {
        "barred": on_closed_ground(places, lat=np.nan_to_num(at.lat), lon=np.nan_to_num(at.lon))
        & np.isfinite(at.lat),
        "hours": limits.outside_hours(times, task.minutes),
        "break": limits.in_breaks(times, task.minutes),
    }
    if task.pinned is not None:
        middle = task.pinned - dt.timedelta(minutes=task.minutes.frames_minutes / 2.0)
        causes["asked minute"] = np.array([abs(time - middle) > STEP / 2 for time in times])
    return replace(starts, causes=causes)


def jobs_of(
    tasks: Sequence[Task],
    starts: Sequence[Starts],
    *,
    night_factor: float,
    wait_costs_m: float,
    room_minutes: float,
    ignoring: tuple[str, ...] = (),
    pictures: PictureCosts | None = None,
) -> Jobs:
    """Lay the lenses out for the scheduler; without pictures walking and waiting count alone."""
    subject = tasks[0].scene.subject
    local = LocalPlane(subject.lat, subject.lon)
    minutes = np.arange(len(starts[0].times), dtype=np.float64) * (STEP.total_seconds() / 60.0)
    metres = [local.metres(lat=s.settled.places.lat, lon=s.settled.places.lon) for s in starts]
    shown = pictures or PictureCosts(np.zeros((len(tasks), len(minutes))), None, 0.0)
    speed = float(walking_speed_m_per_minute(0.0)) * OFF_TRACK / night_factor
    return Jobs(
        minutes=minutes,
        allowed=np.array([usable(s, ignoring) for s in starts]),
        east_m=np.nan_to_num(np.array([east for east, _ in metres])),
        north_m=np.nan_to_num(np.array([north for _, north in metres])),
        before=np.array([task.minutes.before_frames for task in tasks]),
        walk_minutes=np.array([task.minutes.walk_minutes for task in tasks]),
        during=np.array([task.minutes.frames_minutes for task in tasks]),
        start_cost=np.array(
            [
                EARLIER_M_PER_MINUTE * minutes
                + ROOM_COSTS * wait_costs_m * np.fmax(room_minutes - room_after(s, ignoring), 0.0)
                for s in starts
            ]
        )
        + shown.start_m,
        metres_per_minute=speed,
        wait_costs_m=wait_costs_m,
        likeness_deg=shown.above_top_deg,
        alike_costs_m_per_deg=shown.alike_costs_m_per_deg,
        between=shown.between,
    )


def room_after(starts: Starts, ignoring: tuple[str, ...] = ()) -> NDArray[np.float64]:
    """How many minutes later each start could still be, shape (t,), up to the grid's end.

    The asked hours and breaks aside: who is late puts them off.
    """
    good = usable(starts, ("hours", "break", "asked minute", *ignoring))
    every = np.arange(len(good))
    # The last good start before the next bad one, or before the grid's end.
    bad = np.where(good, len(good), every)
    last = np.minimum.accumulate(bad[::-1])[::-1] - 1
    return np.where(good, last - every, 0) * (STEP.total_seconds() / 60.0)


def usable(starts: Starts, ignoring: tuple[str, ...] = ()) -> Flags:
    """Where nothing spoils a lens's start, some causes aside; shape (t,)."""
    kept = [holds for name, holds in starts.causes.items() if name not in ignoring]
    spoilt: Flags = np.any(kept, axis=0)
    return ~spoilt
