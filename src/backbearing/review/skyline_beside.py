"""Set the land's edge of a frame beside the raster's skyline, and bring it down to its corners."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.stand.uncertainty import sight_errors
from backbearing.base.constants import SIDEREAL_RATE_DEG_S
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import point_along
from backbearing.base.numbers import counted, num
from backbearing.review.stands_adjusted import turned_by_clock
from backbearing.review.told_by_stars import FrameSkyline, SkylinePoint
from backbearing.terrain.marks.marked_elevation import bare_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.review.frame_skyline import FrameEdge
    from backbearing.review.where_stood import Stood
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]

STRAIGHT_DEG: Final = 0.03
"""Corners are set so that the edge between them stays straight within this, and its doubt."""

FARTHEST_APART_DEG: Final = 2.5
"""Marks are joined up to 3 degrees apart; corners of one run stay closer."""


class Clock(NamedTuple):
    """How far the camera's clock was ahead, and one standard deviation, seconds."""

    ahead_s: float
    sigma_s: float


class _Raster(NamedTuple):
    """The raster's skyline on some azimuths, (n,); NaN where unknown."""

    altitude_deg: Floats
    sigma_deg: Floats
    distance_m: Floats


def skyline_beside(
    edge: FrameEdge, outing: Outing, elevation: Elevation, *, stood: Stood, lat: float, clock: Clock
) -> FrameSkyline:
    """Tell a frame's skyline and the raster's from where the frame was taken.

    Parameters
    ----------
    edge : FrameEdge
        By the time that was given.
    outing : Outing
    elevation : Elevation
        Its raster; marks over it do not count.
    stood : Stood
        Where the frame was taken.
    lat : float
        Of the stand, for the pole.
    clock : Clock
    """
    azimuth, altitude = turned_by_clock(
        edge.azimuth_deg, edge.altitude_deg, lat_deg=np.asarray(lat), ahead_s=clock.ahead_s
    )
    up, aside = _clock_rates(azimuth, altitude, lat)
    sigma = np.hypot(edge.sigma_deg, up * clock.sigma_s)
    azimuth_sigma = np.hypot(edge.sigma_deg, aside * clock.sigma_s)
    raster = _raster(outing, bare_of(elevation), stood, azimuth)
    over = altitude - raster.altitude_deg
    columns = np.stack(
        [azimuth, altitude, sigma, azimuth_sigma, raster.altitude_deg, raster.sigma_deg,
         raster.distance_m, over], axis=1,
    )  # fmt: skip
    runs = tuple(
        tuple(SkylinePoint(*row) for row in columns[corners].tolist())
        for corners in _runs_of_corners(azimuth, altitude, edge.sigma_deg)
    )
    known = np.isfinite(over)
    most = int(np.argmax(np.where(known, over, -np.inf))) if known.any() else 0
    return FrameSkyline(
        runs=runs,
        azimuths=edge.asked,
        read=len(azimuth),
        middle_over_deg=float(np.median(over[known])) if known.any() else math.nan,
        most_over_deg=float(over[most]) if known.any() else math.nan,
        most_at_deg=float(azimuth[most]) if known.any() else math.nan,
        sentence=_sentence(edge, azimuth, over, most),
    )


def _clock_rates(azimuth: Floats, altitude: Floats, lat: float) -> tuple[Floats, Floats]:
    """How fast altitude and azimuth of the sky run, degrees a second (size alone)."""
    turn, phi = np.radians(azimuth), math.radians(lat)
    up = np.abs(math.cos(phi) * np.sin(turn))
    aside = np.abs(math.sin(phi) - math.cos(phi) * np.cos(turn) * np.tan(np.radians(altitude)))
    return SIDEREAL_RATE_DEG_S * up, SIDEREAL_RATE_DEG_S * aside


def _raster(outing: Outing, bare: Elevation, stood: Stood, azimuth: Floats) -> _Raster:
    """The bare raster's skyline from where a frame was taken."""
    nothing = np.full(len(azimuth), math.nan)
    if len(azimuth) == 0:
        return _Raster(nothing, nothing, nothing)
    place = point_along(
        lat=outing.subject.lat, lon=outing.subject.lon,
        azimuth_deg=stood.bearing_deg + 180.0, distance_m=stood.distance_m,
    )  # fmt: skip
    errors = sight_errors(
        outing.height_errors, bare,
        position_sigma_m=math.hypot(stood.distance_sigma_m, outing.subject.position_sigma_m),
    )  # fmt: skip
    try:
        seen = bare.horizon(
            lat=float(place.lat), lon=float(place.lon),
            eye_height_m=outing.framing.eye_height_m, azimuths_deg=azimuth,
            max_distance_m=outing.ground.reach_m, refraction_k=outing.ground.refraction_k,
        )  # fmt: skip
    except TerrainError:
        return _Raster(nothing, nothing, nothing)
    # The doubt runs slowly with azimuth, and costs far more than the skyline.
    some = np.unique(np.linspace(0, len(azimuth) - 1, min(len(azimuth), 24)).astype(int))
    few = bare.horizon(
        lat=float(place.lat), lon=float(place.lon),
        eye_height_m=outing.framing.eye_height_m, azimuths_deg=azimuth[some],
        max_distance_m=outing.ground.reach_m, refraction_k=outing.ground.refraction_k,
    )  # fmt: skip
    doubt = bare.skyline_doubt(few, errors).sigma_deg
    sigma = np.interp(np.arange(len(azimuth)), some, doubt)
    return _Raster(seen.altitudes_deg, sigma, seen.distances_m)


def _runs_of_corners(azimuth: Floats, altitude: Floats, sigma: Floats) -> list[list[int]]:
    """Indices of the corners of each stretch without a gap."""
    if len(azimuth) == 0:
        return []
    apart = np.mod(np.diff(azimuth), 360.0)
    usual = float(np.median(apart)) if len(apart) else 1.0
    ends = [0, *(np.flatnonzero(apart > 1.6 * usual) + 1).tolist(), len(azimuth)]
    along = np.concatenate([[0.0], np.cumsum(apart)])
    slack = np.maximum(STRAIGHT_DEG, sigma)
    return [_corners(along, altitude, slack, begin, end - 1) for begin, end in pairwise(ends)]


def _corners(along: Floats, high: Floats, slack: Floats, begin: int, end: int) -> list[int]:
    """Corners of one stretch by halving at what lies farthest off the chord [Douglas1973]_."""
    kept, open_parts = {begin, end}, [(begin, end)]
    while open_parts:
        first, last = open_parts.pop()
        if last - first < 2:
            continue
        inner = np.arange(first + 1, last)
        chord = np.interp(along[inner], along[[first, last]], high[[first, last]])
        off = np.abs(high[inner] - chord) - slack[inner]
        cut = int(inner[np.argmax(off)])
        if off.max() <= 0.0:
            if along[last] - along[first] <= FARTHEST_APART_DEG:
                continue
            cut = int(inner[np.argmin(np.abs(along[inner] - along[[first, last]].mean()))])
        kept.add(cut)
        open_parts += [(first, cut), (cut, last)]
    return sorted(kept)


def _sentence(edge: FrameEdge, azimuth: Floats, over: Floats, most: int) -> str:
    left = [
        f"{num(count, 0)} {why}"
        for count, why in (
            (edge.unclear, "without a clear edge"),
            (edge.at_subject, "behind the subject"),
            (edge.on_things, "on things with steep sides"),
        )
        if count
    ]
    opened = f" Left open: {', '.join(left)}." if left else ""
    if len(azimuth) == 0:
        return f"The land's edge is clear at none of {counted(edge.asked, 'azimuths')}.{opened}"
    said = (
        f"The land's edge was read at {num(len(azimuth), 0)} of "
        f"{counted(edge.asked, 'azimuths')} ({num(azimuth[0], 0)}° to {num(azimuth[-1], 0)}°)"
    )
    known = over[np.isfinite(over)]
    if len(known) == 0:
        return f"{said}; the raster knows no skyline there.{opened}"
    return (
        f"{said}: against the raster {_signed(float(np.median(known)))} in the middle, "
        f"{_signed(float(over[most]))} at most (at {num(azimuth[most], 1)}°).{opened}"
    )


def _signed(value_deg: float) -> str:
    return f"{num(abs(value_deg), 2)}° {'higher' if value_deg >= 0.0 else 'lower'}"
