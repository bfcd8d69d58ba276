"""Lenses on one line: at each minute of the line, what each shows at its own minute.

The line of a minute leads away from the target as it stands then; every lens has its place on
it. A lens that takes its frames some minutes before or after finds the target beside its place.
"""

from __future__ import annotations

from dataclasses import fields, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from backbearing.alignment.session.frame_starts import LONGEST_GAP_MINUTES
from backbearing.alignment.session.turn_pictures import Seen, pictures_of
from backbearing.alignment.stand.behind_subject import asked_behind, is_behind
from backbearing.alignment.stand.settled_stands import eye_ground_m, skyline_rays
from backbearing.alignment.stand.target_place import in_its_place
from backbearing.base.angles import wrap_180_deg
from backbearing.camera.framing import frame_position
from backbearing.land.closed_ground import on_closed_ground
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.tasks import Task
    from backbearing.alignment.session.turn_pictures import TurnPictures
    from backbearing.alignment.stand.settled_stands import Settled

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Rows = NDArray[np.intp]


class OnLine(NamedTuple):
    """One lens at t minutes of the line; k looks while its frames run.

    Attributes
    ----------
    task : Task
    settled : Settled
        On the line, as the line's own minute has it, shape (t,).
    after_minutes : float
        From the line's minute to the middle of the frames.
    azimuth_deg, altitude_deg : ndarray, shape (k, t)
        Target from there, the middle look half way.
    x, y : ndarray, shape (k, t)
        Target in the frame.
    """

    task: Task
    settled: Settled
    after_minutes: float
    azimuth_deg: Floats
    altitude_deg: Floats
    x: Floats
    y: Floats

    def rows(self, some: Rows) -> OnLine:
        """Some of the line's minutes."""
        columns = (self.azimuth_deg, self.altitude_deg, self.x, self.y)
        return OnLine(
            self.task,
            settled_rows(self.settled, some),
            self.after_minutes,
            *(column[:, some] for column in columns),
        )

    @property
    def right_deg(self) -> Floats:
        """How far right of its place the target stands at the lens's minute, in azimuth."""
        half = len(self.azimuth_deg) // 2
        return np.asarray(wrap_180_deg(self.azimuth_deg[half] - self.settled.target_azimuth_deg))

    @property
    def aside_m(self) -> Floats:
        """How far left the line of the lens's own minute passes, facing the subject."""
        turn = np.radians(self.right_deg)
        return np.asarray(self.settled.places.distance_m * np.sin(turn))

    @property
    def as_taken(self) -> Settled:
        """The same stands with the target as the middle of the frames has it."""
        half = len(self.azimuth_deg) // 2
        return replace(
            self.settled,
            target_azimuth_deg=self.azimuth_deg[half],
            target_altitude_deg=self.altitude_deg[half],
        )


class LineTimes(NamedTuple):
    """When each lens of a line takes its frames, minutes after the line's minute.

    The first frame is half the span before it, so that the line is true half way.
    """

    begins: tuple[float, ...]
    ends: tuple[float, ...]

    @classmethod
    def of(cls, tasks: Sequence[Task], change_minutes: float) -> LineTimes:
        """One lens after the other, with as many minutes between."""
        lengths = [task.minutes.frames_minutes for task in tasks]
        span = sum(lengths) + change_minutes * (len(lengths) - 1)
        begins = np.cumsum([0.0, *(length + change_minutes for length in lengths[:-1])])
        first = -span / 2.0
        return cls(
            tuple(float(first + begin) for begin in begins),
            tuple(float(first + b + f) for b, f in zip(begins, lengths, strict=True)),
        )

    @property
    def span_minutes(self) -> float:
        """From the first frame to the last."""
        return self.ends[-1] - self.begins[0]

    def middle(self, i: int) -> float:
        """The middle of one lens's frames."""
        return (self.begins[i] + self.ends[i]) / 2.0


def on_line(
    task: Task, settled: Settled, times: NDArray[np.datetime64], at: LineTimes, i: int
) -> OnLine:
    """Look at the target from each of the line's stands of one lens while its frames run."""
    scene, places = task.scene, settled.places
    looks = max(3, int(np.ceil((at.ends[i] - at.begins[i]) / LONGEST_GAP_MINUTES)) + 1) | 1
    offsets = np.linspace(at.begins[i], at.ends[i], looks)
    shape = (looks, len(times))
    azimuth, altitude = np.full(shape, np.nan), np.full(shape, np.nan)
    known = np.isfinite(places.lat)
    moments = times[None, known] + np.round(offsets * 60e6).astype("timedelta64[us]")[:, None]
    azimuth[:, known], altitude[:, known] = direction(
        scene.target,
        lat=np.broadcast_to(places.lat[known], moments.shape),
        lon=np.broadcast_to(places.lon[known], moments.shape),
        height_m=np.broadcast_to(places.ground_m[known], moments.shape),
        times=moments,
    )
    x, y = frame_position(
        scene.camera,
        task.lens,
        axis_azimuth_deg=places.bearing_deg,
        pitch_deg=settled.pitch_deg,
        azimuth_deg=azimuth,
        altitude_deg=altitude,
    )
    return OnLine(task, settled, at.middle(i), azimuth, altitude, x, y)


def holds(setup: SessionSetup, line: Sequence[OnLine]) -> Flags:
    """At which of the line's minutes all lenses work, ridge and hours aside; shape (t,)."""
    good = np.ones(line[0].x.shape[1], dtype=np.bool_)
    for one in line:
        places = one.settled.places
        with np.errstate(invalid="ignore"):
            above = one.altitude_deg - places.top_altitude_deg
            seen = in_its_place(one.task.scene.framing, one.x, one.y, above)
            good &= (seen & (one.altitude_deg > 0.0) & ~_behind_subject(one)).all(axis=0)
        good &= ~on_closed_ground(
            setup.ground.places, lat=np.nan_to_num(places.lat), lon=np.nan_to_num(places.lon)
        )
    return good


def _behind_subject(one: OnLine) -> Flags:
    """Whether the subject itself comes before the target, not asked for; shape (k, t)."""
    scene, at = one.task.scene, one.settled
    hides = is_behind(scene.subject, scene.framing, at.places, one.azimuth_deg, one.altitude_deg)
    return hides & ~asked_behind(scene.framing, at.base_margin + at.share)


def timely(
    setup: SessionSetup, tasks: Sequence[Task], at: LineTimes, times: NDArray[np.datetime64]
) -> Flags:
    """At which of the line's minutes all frames are dark, and all of it within the hours.

    That is setting up the first lens, all frames and all changes: none into a break either.
    """
    limits, first = setup.limits, tasks[0].minutes
    begin = times + _span(at.begins[0] - first.setup_minutes - first.focus_minutes)
    end = times + _span(at.ends[-1])
    good = np.ones(len(times), dtype=np.bool_)
    if limits.not_before is not None:
        good &= begin >= _utc(limits.not_before)
    if limits.not_after is not None:
        good &= end <= _utc(limits.not_after)
    for pause in limits.pauses:
        good &= (begin >= _utc(pause.end)) | (end <= _utc(pause.start))
    for start, stop in zip(at.begins, at.ends, strict=True):
        within = np.zeros(len(times), dtype=np.bool_)
        for window in setup.sky.dark:
            opens, closes = _utc(window.start), _utc(window.end)
            within |= (times + _span(start) >= opens) & (times + _span(stop) <= closes)
        good &= within
    return good


def _span(minutes: float) -> np.timedelta64:
    return np.timedelta64(round(minutes * 60e6), "us")


def _utc(time: dt.datetime) -> np.datetime64:
    moment: np.datetime64 = utc_array([time])[0]
    return moment


def shown(setup: SessionSetup, line: Sequence[OnLine], rows: Rows) -> list[TurnPictures]:
    """What each lens shows at some of the line's minutes; NaN where its ridge is not known."""
    least = _least_clearances(line, rows)
    seen = [
        Seen(one.task.scene, one.task.lens, settled_rows(one.as_taken, rows), clear)
        for one, clear in zip(line, least, strict=True)
    ]
    every = [np.ones(len(rows), dtype=bool) for _ in line]
    return pictures_of(seen, every, setup.asked.picture)


def _least_clearances(line: Sequence[OnLine], rows: Rows) -> list[Floats]:
    """Least height over the skyline while the frames run, all lenses in one call."""
    scene = line[0].task.scene
    if scene.elevation is None:
        return [np.full(len(rows), np.inf) for _ in line]
    ends = np.cumsum([0, *(one.azimuth_deg[:, rows].size for one in line)])
    each = []
    for one in line:
        places, looks = one.settled.places, len(one.azimuth_deg)
        eyes = (places.lat, places.lon, eye_ground_m(scene.elevation, places))
        each.append(
            [one.azimuth_deg[:, rows].ravel(), *(np.tile(column[rows], looks) for column in eyes)]
        )
    azimuth, lat, lon, ground = (np.concatenate(column) for column in zip(*each, strict=True))
    rays = skyline_rays(
        scene,
        lat=lat,
        lon=lon,
        azimuth_deg=azimuth,
        ground_m=ground,
        eye_height_m=scene.framing.eye_height_m,
    )
    return [
        (one.altitude_deg[:, rows] - rays.altitude_deg[a:b].reshape(-1, len(rows))).min(axis=0)
        for one, (a, b) in zip(line, pairwise(ends), strict=True)
    ]


def skylines_at(line: Sequence[OnLine], rows: Rows) -> list[Floats]:
    """Skyline below the target as the line's own minute has it, degrees; -inf without ground."""
    own = [one._replace(azimuth_deg=one.settled.target_azimuth_deg[None, :]) for one in line]
    level = [one._replace(altitude_deg=np.zeros_like(one.azimuth_deg)) for one in own]
    return [-clear for clear in _least_clearances(level, rows)]


def settled_rows(settled: Settled, rows: Rows) -> Settled:
    """Some of the stands."""
    return replace(settled, **_columns_at(settled, rows))


def _columns_at(value: Any, rows: Rows) -> dict[str, Any]:
    """Some rows of each column of a value, those of its parts among them."""
    return {
        field.name: held[rows]
        if isinstance(held, np.ndarray)
        else replace(held, **_columns_at(held, rows))
        for field in fields(value)
        for held in [getattr(value, field.name)]
    }
