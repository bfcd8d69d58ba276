"""When one lens may begin its frames: the target in its place for as long as they run.

The tripod stands where the middle of the frames wants it and does not move; everything is
asked of that stand and that tilt at the beginning, the end, and every two minutes between.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.behind_subject import (
    asked_behind,
    gap_m,
    hidden_by_subject,
    in_subject_plane,
)
from backbearing.alignment.stand.outline_edges import outline_area
from backbearing.alignment.stand.settled_stands import (
    LensTimes,
    not_under_the_raster_m,
    settle_all,
    skyline_rays,
)
from backbearing.alignment.stand.target_place import in_its_place
from backbearing.base.angles import angle_between_deg
from backbearing.camera.framing import frame_position
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.sky.windows import DarkWindow

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LONGEST_GAP_MINUTES: Final = 2.0
"""Frames are looked at this often while they run."""

MOST_LOOKS: Final = 61
"""Frames longer than two hours are looked at less often; no play is so large."""


@dataclass(frozen=True, slots=True)
class Starts:
    """One lens at ``t`` starts of its frames; ``k`` looks at each while they run.

    Attributes
    ----------
    frames_minutes : float
    times : tuple of datetime
        Beginnings of the frames.
    settled : Settled
        Stands for the middles, shape ``(t,)``.
    azimuth_deg, altitude_deg, x, y : ndarray, shape (k, t)
        Target from the fixed stand.
    clearance_deg : ndarray, shape (k, t)
        Over the skyline from the fixed stand; NaN where it was not looked at.
    drift_deg : ndarray, shape (t,)
        Largest angle between the target and its place at the middle.
    causes : dict of str to ndarray of bool, shape (t,)
        What spoils each start; "subject" where the target comes within the play of it.
    hidden : ndarray of bool, shape (t,)
        Where the subject itself comes before the target, not asked for.
    close : bool
        Whether "subject" is no more than that: the play beside the subject given up.
    """

    frames_minutes: float
    times: tuple[dt.datetime, ...]
    settled: Settled
    azimuth_deg: Floats
    altitude_deg: Floats
    x: Floats
    y: Floats
    clearance_deg: Floats
    drift_deg: Floats
    causes: dict[str, Flags]
    hidden: Flags
    close: bool = False

    @property
    def middles(self) -> list[dt.datetime]:
        """The moments at which half of the frames are taken, for which the stands are settled."""
        half = dt.timedelta(minutes=self.frames_minutes / 2.0)
        return [time + half for time in self.times]

    @property
    def allowed(self) -> Flags:
        """Where nothing spoils the frames, shape (t,)."""
        spoilt: Flags = np.any(list(self.causes.values()), axis=0)
        return ~spoilt

    def close_to_the_subject(self) -> Starts:
        """The same starts with a target nearer to the subject than the play accepted."""
        return replace(self, causes={**self.causes, "subject": self.hidden}, close=True)


class FramesAsked(NamedTuple):
    """One lens, framed as its scene has it, and when frames that take so long may begin."""

    scene: Scene
    lens: Lens
    times: Sequence[dt.datetime]
    frames_minutes: float

    def offsets_minutes(self) -> Floats:
        """When the frames are looked at from their middle on, shape (k,)."""
        looks = max(3, int(np.ceil(self.frames_minutes / LONGEST_GAP_MINUTES)) + 1)
        return np.linspace(-0.5, 0.5, min(looks, MOST_LOOKS) | 1) * self.frames_minutes


def lens_starts(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    times: Sequence[dt.datetime],
    frames_minutes: float,
) -> Starts:
    """Do as `starts_of_lenses` for one lens."""
    return starts_of_lenses([FramesAsked(scene, lens, times, frames_minutes)], sky)[0]


def starts_of_lenses(asked: Sequence[FramesAsked], sky: NightSky) -> list[Starts]:
    """Ask of every start of every lens whether the frames hold subject and target until they end.

    The ridge is looked at where all else holds. The scenes share subject, target and ground.
    """
    begins = _utc_of_each([one.times for one in asked])
    middles = [
        begin + _microseconds(0.5 * one.frames_minutes)
        for one, begin in zip(asked, begins, strict=True)
    ]
    stands = settle_all(
        [LensTimes(one.scene, one.lens, at) for one, at in zip(asked, middles, strict=True)],
        skyline=False,
    )
    ways = _directions(asked, middles, stands)
    framed = [
        _framed(one, begin, settled, way, sky)
        for one, begin, settled, way in zip(asked, begins, stands, ways, strict=True)
    ]
    clearances = _clearances(asked, framed)
    return [
        _starts(one, sky, held, clearance)
        for one, held, clearance in zip(asked, framed, clearances, strict=True)
    ]


class _Framed(NamedTuple):
    """Frames from fixed stands, all but the ridge; (k, t) or (t,) as in `Starts`."""

    settled: Settled
    azimuth: Floats
    altitude: Floats
    x: Floats
    y: Floats
    inside: Flags
    drift: Floats
    sunless: Flags
    dark: Flags
    good: Flags


def _utc_of_each(times: Sequence[Sequence[dt.datetime]]) -> list[NDArray[np.datetime64]]:
    """Moments as arrays in UTC, made once where lenses share the very same ones."""
    known = {id(one): utc_array(one) for one in {id(one): one for one in times}.values()}
    return [known[id(one)] for one in times]


def _framed(
    asked: FramesAsked,
    starts: NDArray[np.datetime64],
    settled: Settled,
    way: tuple[Floats, Floats],
    sky: NightSky,
) -> _Framed:
    scene, (azimuth, altitude) = asked.scene, way
    drift = _angles(azimuth, altitude, settled).max(axis=0)
    x, y, within = _in_frame(scene, asked.lens, settled, azimuth, altitude)
    inside = np.asarray(within.all(axis=0))
    there = np.isfinite(settled.places.lat)
    sunless, dark = (
        _within(windows, starts, asked.frames_minutes) for windows in (sky.sunless, sky.dark)
    )
    good = there & inside & (drift <= scene.framing.play_deg)
    return _Framed(settled, azimuth, altitude, x, y, inside, drift, sunless, dark, good)


def _starts(asked: FramesAsked, sky: NightSky, held: _Framed, clearance: Floats) -> Starts:
    """Say what spoils each start of a lens."""
    scene, settled, altitude = asked.scene, held.settled, held.altitude
    none = ~np.isfinite(settled.places.lat)
    with np.errstate(invalid="ignore"):
        down = np.any(altitude <= 0.0, axis=0)
        ridge = np.any(clearance < sky.clear_by_deg, axis=0) & ~down
    near, hidden = _before_the_target(scene, settled, held.azimuth, altitude)
    causes: dict[str, Flags] = {
        "no stand": none,
        "frame": ~held.inside & ~none,
        "play": (held.drift > scene.framing.play_deg) & ~none,
        "twilight": ~held.sunless,
        "moon": held.sunless & ~held.dark,
        "ridge": ridge,
        "horizon": down,
        "subject": near & ~none,
        "unknown ground": held.good & held.dark & ~np.isfinite(clearance).all(axis=0),
    }
    return Starts(
        asked.frames_minutes,
        tuple(asked.times),
        settled,
        held.azimuth,
        altitude,
        held.x,
        held.y,
        clearance,
        held.drift,
        causes,
        hidden & ~none,
    )


def _directions(
    asked: Sequence[FramesAsked],
    middles: Sequence[NDArray[np.datetime64]],
    stands: Sequence[Settled],
) -> list[tuple[Floats, Floats]]:
    """Target from each fixed stand at each look, shape (k, t); NaN without a stand."""
    shapes, moments, lats, lons, grounds = [], [], [], [], []
    for one, middle, settled in zip(asked, middles, stands, strict=True):
        looks = middle + _microseconds(one.offsets_minutes())[:, None]
        shapes.append(looks.shape)
        moments.append(looks.ravel())
        lats.append(np.broadcast_to(settled.places.lat, looks.shape).ravel())
        lons.append(np.broadcast_to(settled.places.lon, looks.shape).ravel())
        grounds.append(np.broadcast_to(settled.places.ground_m, looks.shape).ravel())
    lat, lon, when = np.concatenate(lats), np.concatenate(lons), np.concatenate(moments)
    known = np.isfinite(lat)
    azimuth, altitude = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan)
    azimuth[known], altitude[known] = direction(
        asked[0].scene.target,
        lat=lat[known],
        lon=lon[known],
        height_m=np.concatenate(grounds)[known],
        times=when[known],
    )
    return list(zip(_parted(azimuth, shapes), _parted(altitude, shapes), strict=True))


def _microseconds(minutes: Floats | float) -> Any:
    return np.round(np.asarray(minutes) * 60e6).astype("timedelta64[us]")


def _parted(values: Floats, shapes: Sequence[tuple[int, ...]]) -> list[Floats]:
    """Cut what was joined, flat, into arrays of these shapes."""
    ends = np.cumsum([int(np.prod(shape)) for shape in shapes])
    parts = np.split(values, ends[:-1])
    return [part.reshape(shape) for part, shape in zip(parts, shapes, strict=True)]


def _angles(azimuth: Floats, altitude: Floats, settled: Settled) -> Floats:
    """Angle on the sky from the target's place at the middle, degrees, shape (k, t)."""
    return angle_between_deg(
        lon1_deg=azimuth,
        lat1_deg=altitude,
        lon2_deg=settled.target_azimuth_deg,
        lat2_deg=settled.target_altitude_deg,
    )


def _in_frame(
    scene: Scene, lens: Lens, settled: Settled, azimuth: Floats, altitude: Floats
) -> tuple[Floats, Floats, Flags]:

    x, y = frame_position(
        scene.camera,
        lens,
        axis_azimuth_deg=settled.places.bearing_deg,
        pitch_deg=settled.pitch_deg,
        azimuth_deg=azimuth,
        altitude_deg=altitude,
    )
    with np.errstate(invalid="ignore"):
        inside = in_its_place(scene.framing, x, y, altitude - settled.places.top_altitude_deg)
    return x, y, inside


def _before_the_target(
    scene: Scene, settled: Settled, azimuth: Floats, altitude: Floats
) -> tuple[Flags, Flags]:
    """Whether, at any look, the target is within the play of the subject, and hidden by it.

    Holes of an outline count as open once they are larger than the play. Neither where the
    framing asks for the target there. Shapes (t,).
    """
    import shapely

    at, subject, framing = settled.places, scene.subject, scene.framing
    plane = in_subject_plane(subject, at, azimuth, altitude)
    hidden = hidden_by_subject(subject, plane, gap_m(framing, at.distance_m))
    room = np.broadcast_to(at.distance_m * np.tan(np.radians(framing.play_deg)), hidden.shape)
    area, across, up = outline_area(subject.shape), plane.across_m, plane.up_m
    west, low, east, high = area.bounds
    near = hidden.copy()
    with np.errstate(invalid="ignore"):
        # Few are so near as to need the outline itself.
        close = (across > west - room) & (across < east + room)
        close &= (up > low - room) & (up < high + room)
    if close.any():
        shapely.prepare(area)
        points = shapely.points(across[close], up[close])
        near[close] |= shapely.dwithin(area, points, room[close])  # type: ignore[call-overload]  # each its own
    asked = asked_behind(framing, settled.base_margin + settled.share)
    return near.any(axis=0) & ~asked, hidden.any(axis=0) & ~asked


def _within(windows: Sequence[DarkWindow], starts: NDArray[np.datetime64], minutes: float) -> Flags:
    """Whether all of the frames lie in one window."""
    length = _microseconds(minutes)
    inside = np.zeros(starts.shape, dtype=np.bool_)
    for window in windows:
        first, last = utc_array([window.start, window.end])
        inside |= (first <= starts) & (starts + length <= last)
    return inside


def _clearances(asked: Sequence[FramesAsked], framed: Sequence[_Framed]) -> list[Floats]:
    """Clearance from the fixed stands that are wanted, shape (k, t); NaN elsewhere."""
    scene = asked[0].scene
    if scene.elevation is None:
        return [np.full(one.azimuth.shape, np.inf) for one in framed]
    columns, shapes, wanted = [], [], []
    for one, held in zip(asked, framed, strict=True):
        at = np.flatnonzero(held.good & held.dark)
        places, azimuth = held.settled.places, held.azimuth[:, at]
        row = places.lat[at], places.lon[at], places.ground_m[at]
        eye = np.full(azimuth.shape, one.scene.framing.eye_height_m)
        columns.append([np.broadcast_to(v, azimuth.shape).ravel() for v in (*row, azimuth, eye)])
        shapes.append(azimuth.shape)
        wanted.append(at)
    lat, lon, ground, azimuth, eye = (np.concatenate(v) for v in zip(*columns, strict=True))
    rays = skyline_rays(
        scene,
        lat=lat,
        lon=lon,
        azimuth_deg=azimuth,
        ground_m=not_under_the_raster_m(scene.elevation, lat=lat, lon=lon, ground_m=ground),
        eye_height_m=eye,
    )
    found = []
    for held, at, seen in zip(framed, wanted, _parted(rays.altitude_deg, shapes), strict=True):
        clearance = np.full(held.azimuth.shape, np.nan)
        clearance[:, at] = held.altitude[:, at] - seen
        found.append(clearance)
    return found
