"""The skyline and the target's path over it, prepared for drawing: no pixels here."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_360_deg

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    PathPoint = tuple[dt.datetime, float, float]
    TimeSpan = tuple[dt.datetime, dt.datetime]
    Within = tuple[float, float, Sequence[float]]

Part = Literal["dark", "bright", "hidden", "unknown"]
"""How a stretch of the path is drawn: clear of the skyline in the dark window, clear of it
outside the window, behind the ground, or against ground that is not known."""

WIDEST_STEP_DEG = 40.0
"""A path that jumps farther than this between two points runs by the zenith: leave a gap."""


class SeenSubject(NamedTuple):
    """The subject before the skyline.

    ``rings`` of azimuth and altitude, shape (n, 2) each; ``note`` on its shape for people.
    """

    rings: tuple[Floats, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class SkylineLayout:
    """What a skyline picture shows.

    Azimuths are unwrapped: they run on through 360 or below 0 where the view crosses
    north, and are ascending along the skyline.

    Attributes
    ----------
    azimuths_deg, altitudes_deg : ndarray
        The terrain skyline, shape ``(n,)``; altitude NaN where unknown.
    times : tuple of datetime
        Of the path's points, ``(m,)``.
    path_azimuths_deg, path_altitudes_deg : ndarray
        The target's path, shape ``(m,)``.
    parts : tuple of str
        What each path point is, see :data:`Part`.
    left_deg, right_deg, bottom_deg, top_deg : float
        Limits of the picture.
    nearer : tuple of (distance_m, azimuths_deg, altitudes_deg)
        Skylines of the ground within a distance, nearest first.
    moon : tuple of (times, azimuths_deg, altitudes_deg), or None
        The Moon's path where it lies in the picture.
    subject : SeenSubject or None
        The subject, where it stands in the picture.
    readings : tuple of (azimuth_deg, altitude_deg)
        Measured marks that lie in the picture.
    """

    azimuths_deg: Floats
    altitudes_deg: Floats
    times: tuple[dt.datetime, ...]
    path_azimuths_deg: Floats
    path_altitudes_deg: Floats
    parts: tuple[Part, ...]
    left_deg: float
    right_deg: float
    bottom_deg: float
    top_deg: float
    nearer: tuple[tuple[float, Floats, Floats], ...] = ()
    moon: tuple[tuple[dt.datetime, ...], Floats, Floats] | None = None
    subject: SeenSubject | None = None
    readings: tuple[tuple[float, float], ...] = ()

    def runs(self) -> list[tuple[Part, Floats, Floats]]:
        """Stretches of the path that are drawn alike; neighbours share a point."""
        found: list[tuple[Part, Floats, Floats]] = []
        start = 0
        for i in range(1, len(self.parts) + 1):
            at_end = i == len(self.parts)
            jump = not at_end and (
                abs(self.path_azimuths_deg[i] - self.path_azimuths_deg[i - 1]) > WIDEST_STEP_DEG
            )
            if at_end or jump or self.parts[i] != self.parts[start]:
                stop = i if at_end or jump else i + 1
                found.append(
                    (
                        self.parts[start],
                        self.path_azimuths_deg[start:stop],
                        self.path_altitudes_deg[start:stop],
                    )
                )
                start = i
        return found

    def at(self, time: dt.datetime) -> tuple[float, float] | None:
        """Azimuth and altitude of the path at a moment, or None off its ends."""
        if not self.times or not self.times[0] <= time <= self.times[-1]:
            return None
        seconds = np.array([(t - self.times[0]).total_seconds() for t in self.times])
        s = (time - self.times[0]).total_seconds()
        return (
            float(np.interp(s, seconds, self.path_azimuths_deg)),
            float(np.interp(s, seconds, self.path_altitudes_deg)),
        )


def lay_out_skyline(
    azimuths_deg: ArrayLike,
    altitudes_deg: ArrayLike,
    path: Sequence[PathPoint],
    dark: Sequence[TimeSpan] = (),
    *,
    within: Sequence[Within] = (),
    moon: Sequence[PathPoint] = (),
    subject: SeenSubject | None = None,
    margin_deg: float = 6.0,
) -> SkylineLayout:
    """Choose what to show and mark the hidden and the dark parts of the path.

    Parameters
    ----------
    azimuths_deg, altitudes_deg : array_like
        Terrain skyline, shape ``(n,)``, any order.
    path : sequence of (time, azimuth_deg, altitude_deg)
        In order of time.
    dark : sequence of (start, end)
        Dark windows.
    within : sequence of (distance_m, step_deg, altitudes_deg)
        Skylines of the nearer ground alone, from azimuth 0 on.
    moon : sequence of (time, azimuth_deg, altitude_deg)
        The Moon's path while it is up.
    subject : SeenSubject, optional
        From :func:`backbearing.pictures.skyline_subject.seen_subject`.
    margin_deg : float
        Azimuth shown beyond the path's ends.
    """
    shown = [p for p in path if p[2] > -3.0]
    times, az, alt = _by_the_minute(shown)
    sky_az = np.asarray(azimuths_deg, dtype=np.float64)
    sky_alt = np.asarray(altitudes_deg, dtype=np.float64)
    if len(az):
        left, right = float(az.min()) - margin_deg, float(az.max()) + margin_deg
    elif len(sky_az):
        left, right = float(sky_az.min()), float(sky_az.max())
    else:
        left, right = 0.0, 360.0
    if right - left > 360.0:
        middle = (left + right) / 2.0
        left, right = middle - 180.0, middle + 180.0
    sky_az, sky_alt = _laid_out(sky_az, sky_alt, left, right)
    behind = np.interp(az, sky_az, sky_alt) if len(sky_az) else np.full(len(az), np.nan)
    parts = tuple(
        _part(t, a, b, dark) for t, a, b in zip(times, alt.tolist(), behind.tolist(), strict=True)
    )
    highest = max([10.0, *alt.tolist(), *sky_alt[np.isfinite(sky_alt)].tolist()])
    lowest = min([0.0, *sky_alt[np.isfinite(sky_alt)].tolist()])
    return SkylineLayout(
        sky_az, sky_alt, times, az, alt, parts, left, right,
        max(-10.0, math.floor(lowest)), min(93.0, highest * 1.06 + 2.0),
        tuple(_nearer(w, left, right) for w in within), _moon(moon, left, right),
        _subject(subject, left, right),
    )  # fmt: skip


def readings_in(
    view: SkylineLayout, readings: Sequence[tuple[float, float]]
) -> tuple[tuple[float, float], ...]:
    """Marks moved by whole turns into a picture; those that lie in it."""
    moved = (
        (view.left_deg + float(wrap_360_deg(azimuth - view.left_deg)), altitude)
        for azimuth, altitude in readings
    )
    return tuple(
        (azimuth, altitude)
        for azimuth, altitude in moved
        if azimuth <= view.right_deg and view.bottom_deg <= altitude <= view.top_deg
    )


def _nearer(within: Within, left: float, right: float) -> tuple[float, Floats, Floats]:
    distance_m, step, altitudes = within
    alt = np.asarray(altitudes, dtype=np.float64)
    return distance_m, *_laid_out(np.arange(len(alt), dtype=np.float64) * step, alt, left, right)


def _moon(
    path: Sequence[PathPoint], left: float, right: float
) -> tuple[tuple[dt.datetime, ...], Floats, Floats] | None:
    """The Moon's points by the minute, moved by whole turns into the view."""
    times, az, alt = _by_the_minute(path)
    az = left + wrap_360_deg(az - left)
    seen = az <= right
    if not seen.any():
        return None
    kept = tuple(time for time, inside in zip(times, seen.tolist(), strict=True) if inside)
    return kept, az[seen], alt[seen]


def _subject(subject: SeenSubject | None, left: float, right: float) -> SeenSubject | None:
    """The shape moved by whole turns into the view; None where it stands outside."""
    if subject is None:
        return None
    middle = float(np.concatenate(subject.rings)[:, 0].mean())
    turn = float(wrap_360_deg(middle - left)) + left - middle
    moved = tuple(ring + np.array([turn, 0.0]) for ring in subject.rings)
    seen = np.concatenate(moved)[:, 0]
    return subject._replace(rings=moved) if seen.max() > left and seen.min() < right else None


def _part(time: dt.datetime, altitude: float, skyline: float, dark: Sequence[TimeSpan]) -> Part:
    if not math.isfinite(skyline):
        return "unknown"
    if altitude < skyline:
        return "hidden"
    return "dark" if any(start <= time <= end for start, end in dark) else "bright"


def _by_the_minute(
    path: Sequence[PathPoint],
) -> tuple[tuple[dt.datetime, ...], Floats, Floats]:
    """Path points joined by straight lines and read every minute, azimuths unwrapped.

    A change from hidden to clear is then drawn within a minute of where it happens.
    """
    az = _unwrapped(np.array([p[1] for p in path], dtype=np.float64))
    alt = np.array([p[2] for p in path], dtype=np.float64)
    if len(path) < 2:
        return tuple(p[0] for p in path), az, alt
    first = path[0][0]
    minutes = np.array([(p[0] - first).total_seconds() / 60.0 for p in path])
    every = np.union1d(np.arange(0.0, minutes[-1], 1.0), minutes)
    times = tuple(first + dt.timedelta(minutes=float(m)) for m in every)
    return times, np.interp(every, minutes, az), np.interp(every, minutes, alt)


def _unwrapped(azimuths_deg: Floats) -> Floats:
    if not len(azimuths_deg):
        return azimuths_deg
    return np.degrees(np.unwrap(np.radians(azimuths_deg)))


def _laid_out(az: Floats, alt: Floats, left: float, right: float) -> tuple[Floats, Floats]:
    """Skyline points moved by whole turns into the view, ascending, with a little overhang."""
    if not len(az):
        return az, alt
    moved = left - 5.0 + wrap_360_deg(az - left + 5.0)
    order = np.argsort(moved, kind="stable")
    keep = moved[order] <= right + 5.0
    return moved[order][keep], alt[order][keep]


def step_deg(span_deg: float, most: int) -> float:
    """A round step of 5, 10, 15, 30 or 45 degrees that makes at most so many."""
    for step in (1.0, 2.0, 5.0, 10.0, 15.0, 30.0):
        if span_deg / step <= most:
            return step
    return 45.0
