"""When it is dark, as asked of Sun and Moon: solved once for each cell of a fixed lattice.

The lattice is fixed on the globe, so that a place's dark times do not depend on what else
is scouted with it. Within a cell the times are shifted with the longitude, as the Earth
turns; what is left is the cell's half height in latitude.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import sun_and_moon_asked
from backbearing.base.intervals import pieces
from backbearing.sky.darkness import conditions_of
from backbearing.sky.directions import earth_fixed
from backbearing.sky.nights import span_of_nights

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.sky.nights import NightSpan

    Floats = NDArray[np.float64]

CELL_LAT_DEG: Final = 0.02
"""Height of a cell: 1.1 km to either side of its middle."""

CELL_LON_DEG: Final = 0.2
"""Width of a cell. Moonrise and moonset follow the turning Earth to 1 s in so much."""

TURN_S_PER_DEG: Final = 240.0
"""Seconds of time in which the Earth turns through a degree, towards the mean Sun."""


@dataclass(frozen=True)
class DarkTimes:
    """Dark intervals of the nights at a cell's middle, in order of time.

    Attributes
    ----------
    night : ndarray of int32, shape (k,)
        Which night, from 0.
    start_s, end_s : ndarray, shape (k,)
        Seconds from the night's middle (the later of its two midnights' noon and 12 h).
    lon : float
        Longitude of the cell's middle, degrees.
    darkness : bool
        Whether the Sun is ever as deep as asked, whatever the Moon does.
    """

    night: NDArray[np.int32]
    start_s: Floats
    end_s: Floats
    lon: float
    darkness: bool


@dataclass(frozen=True)
class NightClock:
    """Middles of the nights, and where the sky stands then.

    Attributes
    ----------
    utc : ndarray of datetime64[us], shape (nights,)
        Twelve hours after each night's first noon.
    hour_angle_deg : ndarray, shape (nights,)
        The target's hour angle at longitude 0 then, apparent; NaN for one that moves.
    dec_deg : float
        The target's apparent declination in the middle of all nights; NaN for one that moves.
    """

    utc: NDArray[np.datetime64]
    hour_angle_deg: Floats
    dec_deg: float


def cell_of(*, lat: ArrayLike, lon: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Row and column of the lattice's cells that hold places in degrees."""
    rows = np.floor(np.asarray(lat, dtype=np.float64) / CELL_LAT_DEG).astype(np.int64)
    cols = np.floor(np.asarray(lon, dtype=np.float64) / CELL_LON_DEG).astype(np.int64)
    return rows, cols


def night_clock(task: ScoutTask) -> NightClock:
    """Find where the target stands in the middle of each night.

    Raises
    ------
    SkyError
        For nights outside the ephemeris.
    """
    utc = _span(task, lat=0.0, lon=0.0).noons[:-1] + np.timedelta64(12, "h")
    if not task.target.is_fixed:
        return NightClock(utc, np.full(len(utc), np.nan), np.nan)
    w = earth_fixed(task.target, utc)
    middle = w[2][len(utc) // 2]
    return NightClock(
        utc=utc,
        hour_angle_deg=-np.degrees(np.arctan2(w[1], w[0])),
        dec_deg=float(np.degrees(np.arcsin(np.clip(middle, -1.0, 1.0)))),
    )


def dark_times(task: ScoutTask, *, row: int, col: int) -> DarkTimes:
    """Solve the dark intervals of all nights at the middle of one cell."""
    lat = float(np.clip((row + 0.5) * CELL_LAT_DEG, -90.0, 90.0))
    lon = (col + 0.5) * CELL_LON_DEG
    span = _span(task, lat=lat, lon=lon)
    asked = sun_and_moon_asked(task.night, task.target, span)
    found = conditions_of(asked)
    start, end, middle = pieces(span.noons, found.dark.utc, found.moon.utc)
    dark = found.dark.holds(middle)
    good = np.flatnonzero(dark & found.moon.holds(middle))
    which = np.searchsorted(span.noons, start[good], side="right") - 1
    since = span.noons[which] + np.timedelta64(12, "h")
    second = np.timedelta64(1, "s")
    return DarkTimes(
        night=which.astype(np.int32),
        start_s=(start[good] - since) / second,
        end_s=(end[good] - since) / second,
        lon=lon,
        darkness=bool(dark.any()),
    )


def _span(task: ScoutTask, *, lat: float, lon: float) -> NightSpan:

    return span_of_nights(
        lat=lat,
        lon=lon,
        height_m=0.0,
        first_night=task.first_night,
        nights=task.nights,
        tz=task.zone,
    )
