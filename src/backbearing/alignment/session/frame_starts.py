"""When one lens may begin its frames: the target in its place for as long as they run.

The tripod stands where the middle of the frames wants it and does not move; everything is
asked of that stand and that tilt at the beginning, the end, and every two minutes between.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.behind_subject import (
    asked_behind,
    gap_m,
    hidden_by_subject,
    in_subject_plane,
)
from backbearing.alignment.stand.outline_edges import outline_area
from backbearing.alignment.stand.settled_stands import eye_ground_m, settle, skyline_rays
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
    def allowed(self) -> Flags:
        """Where nothing spoils the frames, shape (t,)."""
        spoilt: Flags = np.any(list(self.causes.values()), axis=0)
        return ~spoilt

    def close_to_the_subject(self) -> Starts:
        """The same starts with a target nearer to the subject than the play accepted."""
        return replace(self, causes={**self.causes, "subject": self.hidden}, close=True)


def lens_starts(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    times: Sequence[dt.datetime],
    frames_minutes: float,
) -> Starts:
    """Ask of every start whether the frames hold subject and target until they end.

    The ridge is looked at where all else holds.
    """
    middles = [time + dt.timedelta(minutes=frames_minutes / 2.0) for time in times]
    settled = settle(scene, lens, middles, skyline=False)
    looks = min(max(3, int(np.ceil(frames_minutes / LONGEST_GAP_MINUTES)) + 1), MOST_LOOKS) | 1
    offsets = np.linspace(-0.5, 0.5, looks) * frames_minutes
    azimuth, altitude = _directions(scene, settled, middles, offsets)
    drift = _angles(azimuth, altitude, settled).max(axis=0)
    x, y, inside = _in_frame(scene, lens, settled, azimuth, altitude)
    none = ~np.isfinite(settled.places.lat)
    near, hidden = _before_the_target(scene, settled, azimuth, altitude)
    good = ~none & inside.all(axis=0) & (drift <= scene.framing.play_deg)
    dark = _within(sky.dark, times, frames_minutes)
    clearance = _clearance(scene, settled, azimuth, altitude, good & dark)
    with np.errstate(invalid="ignore"):
        down = (altitude <= 0.0).any(axis=0)
        ridge = (clearance < sky.clear_by_deg).any(axis=0) & ~down
    causes = {
        "no stand": none,
        "frame": ~inside.all(axis=0) & ~none,
        "play": (drift > scene.framing.play_deg) & ~none,
        "twilight": ~_within(sky.sunless, times, frames_minutes),
        "moon": _within(sky.sunless, times, frames_minutes) & ~dark,
        "ridge": ridge,
        "horizon": down,
        "subject": near & ~none,
        "unknown ground": good & dark & ~np.isfinite(clearance).all(axis=0),
    }
    return Starts(
        frames_minutes, tuple(times), settled, azimuth, altitude, x, y, clearance, drift, causes,
        hidden & ~none,
    )  # fmt: skip


def _directions(
    scene: Scene, settled: Settled, middles: Sequence[dt.datetime], offsets: Floats
) -> tuple[Floats, Floats]:
    """Target from each fixed stand at each look, shape (k, t); NaN without a stand."""
    shape = (len(offsets), len(middles))
    azimuth, altitude = np.full(shape, np.nan), np.full(shape, np.nan)
    known = np.flatnonzero(np.isfinite(settled.places.lat))
    if not known.size:
        return azimuth, altitude
    base = utc_array(middles)[known]
    moments = base[None, :] + np.round(offsets * 60e6).astype("timedelta64[us]")[:, None]
    lat = np.broadcast_to(settled.places.lat[known], moments.shape)
    lon = np.broadcast_to(settled.places.lon[known], moments.shape)
    azimuth[:, known], altitude[:, known] = direction(
        scene.target, lat=lat, lon=lon, height_m=scene.subject_ground_m, times=moments
    )
    return azimuth, altitude


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
    known = np.isfinite(plane.across_m) & np.isfinite(plane.up_m)
    away = np.full(known.shape, np.nan)
    away[known] = shapely.distance(
        shapely.points(plane.across_m[known], plane.up_m[known]), outline_area(subject.shape)
    )
    hidden = hidden_by_subject(subject, plane, gap_m(framing, at.distance_m))
    with np.errstate(invalid="ignore"):
        near = (away < at.distance_m * np.tan(np.radians(framing.play_deg))) | hidden
    asked = asked_behind(framing, settled.base_margin + settled.share)
    return near.any(axis=0) & ~asked, hidden.any(axis=0) & ~asked


def _within(windows: Sequence[DarkWindow], times: Sequence[dt.datetime], minutes: float) -> Flags:
    """Whether all of the frames lie in one window."""
    length = dt.timedelta(minutes=minutes)
    return np.array(
        [any(w.start <= t and t + length <= w.end for w in windows) for t in times], dtype=bool
    )


def _clearance(
    scene: Scene, settled: Settled, azimuth: Floats, altitude: Floats, wanted: Flags
) -> Floats:
    """Clearance from the fixed stands that are wanted, shape (k, t); NaN elsewhere."""
    if scene.elevation is None:
        return np.full(azimuth.shape, np.inf)
    clearance = np.full(azimuth.shape, np.nan)
    places, asked = settled.places, np.flatnonzero(wanted)
    rays = skyline_rays(
        scene,
        lat=places.lat[asked],
        lon=places.lon[asked],
        azimuth_deg=azimuth[:, asked],
        ground_m=eye_ground_m(scene.elevation, places)[asked],
        eye_height_m=scene.framing.eye_height_m,
    )
    clearance[:, asked] = altitude[:, asked] - rays.altitude_deg
    return clearance
