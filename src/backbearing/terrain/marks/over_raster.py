"""Skyline marks put over the skyline that a raster gives, for any eye."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeVar

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.geodesy import altitude_of, curvature_drop_m, line_between, point_along
from backbearing.base.local_plane import LocalPlane
from backbearing.terrain.marks.mark_set import FARTHEST_EYE_M
from backbearing.terrain.marks.marked_rays import MarkedRays
from backbearing.terrain.marks.walls import Eyes, Walls

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.marks.mark_set import MarkSet
    from backbearing.terrain.marks.walls import Seen
    from backbearing.terrain.skylines import Skylines

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

_Found = TypeVar("_Found", "Horizon", "Skylines")

RECTANGLE: Final = 1.0 / np.sqrt(12.0)
"""Standard deviation of a value that may lie anywhere in a range of one [JCGM100]_ 4.3.7."""


class _Told(NamedTuple):
    """What one set of marks says to n rays; NaN where nothing."""

    altitude_deg: Floats
    distance_m: Floats
    sigma_deg: Floats
    rise_deg: Floats
    thing_m: Floats
    slope: Floats


@dataclass(frozen=True, eq=False)
class SkylineMarks:
    """Sets of marks, each from an eye of its own: at every ray the highest counts.

    They stand over the raster and never below it. A mark whose distance is known is an obstacle
    at a place, which any eye sees at an altitude of its own. One whose distance is not known
    holds for eyes within `FARTHEST_EYE_M` of where it was read; the thing may be anywhere from
    `NEAREST_UNTOLD_M` to the farthest at which it would not be too tall. The higher of the two
    altitudes counts; on average the true one lies half their difference lower, and their
    difference over the square root of 12 is one standard deviation of it.
    """

    sets: tuple[MarkSet, ...]

    @cached_property
    def _walls(self) -> tuple[Walls, ...]:
        return tuple(Walls.of(one) for one in self.sets)

    def over(self, found: _Found, *, raised_m: ArrayLike = 0.0) -> _Found:
        """Raise a skyline to the marks where they stand higher.

        Parameters
        ----------
        found : Horizon or Skylines
            As the raster gives it, n rays.
        raised_m : array_like, shape (n,)
            How much higher than the eyes of ``found`` the true ones are, metres.
        """
        n = len(found.azimuths_deg)
        raster = found.altitudes_deg
        best = _Told(*(np.full(n, np.nan) for _ in _Told._fields))
        for marks, walls in zip(self.sets, self._walls, strict=True):
            told = _told(marks, walls, found, raster, raised_m)
            with np.errstate(invalid="ignore"):
                higher = np.isfinite(told.altitude_deg) & ~(told.altitude_deg <= best.altitude_deg)
            best = _Told(*(np.where(higher, a, b) for a, b in zip(told, best, strict=True)))
        with np.errstate(invalid="ignore"):
            over = np.isfinite(best.altitude_deg) & ~(best.altitude_deg <= raster)
        rays = MarkedRays(raster, *(np.where(over, column, np.nan) for column in best[2:]))
        return replace(
            found,
            altitudes_deg=np.where(over, best.altitude_deg, raster),
            distances_m=np.where(over, best.distance_m, found.distances_m),
            marked=rays,
        )

    def points(self, eye: Eye) -> Points:
        """Where an eye sees each mark, in the order of the sets; those that hold for it.

        A thing whose distance was not told is taken to be as far away as it may be.
        """
        found = [_points(marks, eye) for marks in self.sets]
        return Points(*(np.concatenate(column) for column in zip(*found, strict=True)))


class Eye(NamedTuple):
    """An eye: WGS84 degrees, metres above sea level, and how light bends before it."""

    lat: float
    lon: float
    height_m: float
    refraction_k: float


class Points(NamedTuple):
    """Directions of marks from an eye, one standard deviation of their readings, distances; (n,).

    Distances that were not told are NaN.
    """

    azimuths_deg: Floats
    altitudes_deg: Floats
    sigmas_deg: Floats
    distances_m: Floats


def _points(marks: MarkSet, eye: Eye) -> Points:
    away = np.where(marks.is_told, marks.distances_m, marks.far_m)
    there = point_along(
        lat=marks.lat, lon=marks.lon, azimuth_deg=marks.azimuths_deg, distance_m=away
    )
    off = line_between(lat1=marks.lat, lon1=marks.lon, lat2=eye.lat, lon2=eye.lon)
    seen = line_between(lat1=eye.lat, lon1=eye.lon, lat2=there.lat, lon2=there.lon)
    rise = away * np.tan(np.radians(marks.altitudes_deg))
    top = marks.eye_m + rise + curvature_drop_m(away, eye.refraction_k) - eye.height_m
    columns = (
        seen.azimuth_deg,
        altitude_of(top, seen.distance_m, eye.refraction_k),
        marks.sigmas_deg,
        np.where(marks.is_told, seen.distance_m, np.nan),
    )
    holds = marks.is_told | (float(off.distance_m) <= FARTHEST_EYE_M)
    return Points(*(column[holds] for column in columns))


def _told(marks: MarkSet, walls: Walls, found: Any, raster: Floats, raised_m: ArrayLike) -> _Told:
    """What one set says to the rays of a skyline."""
    eyes = _eyes(marks, found, raised_m)
    near_by = np.hypot(eyes.east_m, eyes.north_m) <= FARTHEST_EYE_M
    k = found.refraction_k
    near, mid, far = (walls.seen(eyes, at, k, wanted=near_by) for at in ("near", "mid", "far"))
    either = np.where(mid.wall >= 0, mid.wall, near.wall)
    hit = either >= 0
    told = walls.is_told[either] & hit
    # Of a thing that may be near or far the higher view counts.
    by_near = hit & ~told & ((mid.wall < 0) | (near.altitude_deg > mid.altitude_deg))
    altitude = np.where(by_near, near.altitude_deg, mid.altitude_deg)
    distance = np.where(by_near, near.distance_m, mid.distance_m)
    wall = np.where(by_near, near.wall, either)
    share = np.where(by_near, near.share, mid.share)
    low, high = _range(near, far, raster)
    moved = (high - low) * np.where(told, 0.5, RECTANGLE)
    sigmas = walls.ends.sigma_deg[wall]
    sigma = sigmas[:, 0] + share * (sigmas[:, 1] - sigmas[:, 0])
    turned = walls.slope[wall] * walls.azimuth_sigma_deg[wall]
    sigma = np.sqrt(sigma**2 + turned**2 + np.nan_to_num(moved) ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        thing = 2.0 / (1.0 / np.fmin(near.distance_m, far.distance_m)
                       + 1.0 / np.fmax(near.distance_m, far.distance_m))  # fmt: skip
    rise = np.where(told, 0.0, np.fmin(0.5 * (low + high) - altitude, 0.0))
    columns = (altitude, distance, sigma, rise, np.where(told, distance, thing), walls.slope[wall])
    return _Told(*(np.where(hit, column, np.nan) for column in columns))


def _range(near: Seen, far: Seen, raster: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest altitude over where the thing may be; the raster's where a ray misses."""
    seen = np.stack([np.where(one.wall >= 0, one.altitude_deg, raster) for one in (near, far)])
    return np.fmin(*seen), np.fmax(*seen)


def _eyes(marks: MarkSet, found: Any, raised_m: ArrayLike) -> Eyes:
    """Lay the eyes of a skyline into the plane about the place of the readings."""
    n = len(found.azimuths_deg)
    lat, lon, height, nearest, farthest = (
        np.broadcast_to(np.asarray(v, dtype=np.float64), n)
        for v in (
            found.lat,
            found.lon,
            found.eye_m + np.asarray(raised_m, dtype=np.float64),
            found.min_distance_m,
            found.max_distance_m,
        )
    )
    if np.ndim(found.lat) == 0:
        east, north = LocalPlane(marks.lat, marks.lon).metres(lat=found.lat, lon=found.lon)
        east, north = (np.full(n, float(v)) for v in (east, north))
    else:
        east, north = LocalPlane(marks.lat, marks.lon).metres(lat=lat, lon=lon)
    # Meridians draw together: north at the eye is not quite the plane's.
    turn = wrap_180_deg(lon - marks.lon) * np.sin(np.radians(0.5 * (lat + marks.lat)))
    return Eyes(east, north, height, found.azimuths_deg - turn, nearest, farthest)
