"""Lenses settled at many moments: stands, frames and skylines, as arrays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Any, ClassVar, NamedTuple

import numpy as np

from backbearing.alignment.stand.behind_subject import asked_behind, is_behind
from backbearing.alignment.stand.lens_questions import LensRows, ground_along, stand_questions
from backbearing.alignment.stand.solve import StandPlaces, solve_stands
from backbearing.alignment.stand.target_place import in_its_place
from backbearing.base.grouped import FieldOf
from backbearing.camera.framing import frame_position
from backbearing.sky.directions import FixedOnEarth
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Moments = Sequence[datetime] | NDArray[np.datetime64]


@dataclass(frozen=True, slots=True)
class TargetSeen:
    """Where the target stands in the frame and to the subject, arrays of shape ``(n,)``.

    Attributes
    ----------
    x, y : ndarray
        Fractions of the frame from its left and its bottom edge.
    in_frame : ndarray of bool
        Whether it keeps from the edges and stands where it was asked to.
    behind, spoilt_behind : ndarray of bool
        Where the subject hides it, and where it does so though the framing does not ask for that.
    """

    x: Floats
    y: Floats
    in_frame: Flags
    behind: Flags
    spoilt_behind: Flags

    def rows(self, which: Any) -> TargetSeen:
        """Some of the moments."""
        columns = (self.x, self.y, self.in_frame, self.behind, self.spoilt_behind)
        return TargetSeen(*(column[which] for column in columns))


@dataclass(frozen=True, slots=True)
class Settled:
    """One lens at ``n`` moments: stands, frame and skyline, arrays of shape ``(n,)``."""

    places: StandPlaces
    pitch_deg: Floats
    share: Floats
    base_margin: Floats
    target_azimuth_deg: Floats
    target_altitude_deg: Floats
    seen: TargetSeen
    target_x: ClassVar[FieldOf[Floats]] = FieldOf("seen", "x")
    target_y: ClassVar[FieldOf[Floats]] = FieldOf("seen", "y")
    in_frame: ClassVar[FieldOf[Flags]] = FieldOf("seen")
    behind: ClassVar[FieldOf[Flags]] = FieldOf("seen")
    spoilt_behind: ClassVar[FieldOf[Flags]] = FieldOf("seen")
    share_width: Floats
    skyline_deg: Floats
    skyline_distance_m: Floats
    skyline_lat: Floats
    skyline_lon: Floats
    unknown_share: Floats

    @property
    def clearance_deg(self) -> Floats:
        """Target altitude less skyline altitude, degrees."""
        return self.target_altitude_deg - self.skyline_deg


class LensTimes(NamedTuple):
    """One lens, framed as its scene has it, at some moments; arrays of moments are in UTC."""

    scene: Scene
    lens: Lens
    times: Moments


def settle(scene: Scene, lens: Lens, times: Moments, *, skyline: bool = True) -> Settled:
    """Solve stands, frames and skylines of one lens at each of the moments.

    The stand lies where the geodesic's azimuth towards the subject equals the target's
    apparent azimuth less the asked offset, at the distance that gives the asked share;
    the pitch puts the subject's base at the asked margin, or is level. Without ``skyline``
    its columns stay NaN.
    """
    return settle_all([LensTimes(scene, lens, times)], skyline=skyline)[0]


def settle_all(asked: Sequence[LensTimes], *, skyline: bool = True) -> list[Settled]:
    """Do as `settle` for lenses with moments of their own, all in one array.

    The scenes share subject, target and ground; framings and cameras may differ.
    """
    if not asked:
        return []
    scene = asked[0].scene
    rows = [LensRows(one.scene, one.lens, len(one.times)) for one in asked]
    counts = [one.rows for one in rows]
    n = sum(counts)
    target = _targets(asked)
    offset_deg: Floats = np.repeat([one.scene.framing.offset_deg for one in asked], counts)

    def wanted_azimuth_deg(lat: Floats, lon: Floats) -> Floats:
        azimuth, _ = _target_direction(target, lat, lon, scene.subject_ground_m)
        return azimuth - offset_deg

    questions = stand_questions(rows)
    places = solve_stands(
        questions,
        lat=np.full(n, scene.subject.lat),
        lon=np.full(n, scene.subject.lon),
        ground_along=partial(ground_along, rows, questions.reach_m),
        wanted_azimuth_deg=wanted_azimuth_deg,
    )
    azimuth, altitude = _target_direction(target, places.lat, places.lon, places.ground_m)
    seen = scene if skyline else replace(scene, elevation=None)
    ridge = _skyline(seen, places, azimuth, questions.eye_height_m)
    settled = []
    for one, (first, last) in zip(asked, pairwise([0, *np.cumsum(counts)]), strict=True):
        part = slice(first, last)
        frame = _frame(one.scene, one.lens, places.rows(part), azimuth[part], altitude[part])
        settled.append(Settled(*frame, *(column[part] for column in ridge)))
    return settled


def _targets(asked: Sequence[LensTimes]) -> FixedOnEarth:
    """Look the target up at all moments in turn: once where lenses share the very same ones."""
    distinct = {id(one.times): one.times for one in asked}
    utc = {key: utc_array(times) for key, times in distinct.items()}
    ends = np.cumsum([0, *(len(times) for times in utc.values())])
    rows = {key: np.arange(*ends[i : i + 2]) for i, key in enumerate(utc)}
    target = FixedOnEarth.of(asked[0].scene.target, np.concatenate(list(utc.values())))
    if len(asked) == len(rows):
        return target
    return target[np.concatenate([rows[id(one.times)] for one in asked])]


def _target_direction(
    target: FixedOnEarth, lat: Floats, lon: Floats, ground_m: Floats | float
) -> tuple[Floats, Floats]:
    """Apparent direction of the target from each place, NaN where there is no place.

    The air is that of the ground there, the subject's or the stand's own.
    """
    known = np.isfinite(lat)
    ground_m = np.broadcast_to(ground_m, lat.shape)
    azimuth, altitude = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan)
    if known.any():
        azimuth[known], altitude[known] = target[known].seen_from(
            lat=lat[known], lon=lon[known], height_m=ground_m[known]
        )
    return azimuth, altitude


def _frame(
    scene: Scene, lens: Lens, places: StandPlaces, azimuth: Floats, altitude: Floats
) -> tuple[Any, ...]:
    """The columns of `Settled` up to the skyline's: shares as projected, the target's place."""
    fit = scene.fit(lens)
    pitch = fit.pitch_deg(places.base_altitude_deg)
    # From right below or above a subject its base may ask for a lens tipped over backwards.
    pitch = np.where(np.abs(pitch) <= 90.0, pitch, np.nan)

    # The subject's base, its top and the target.
    (_, _, x), (base_y, top_y, y) = frame_position(
        scene.camera,
        lens,
        axis_azimuth_deg=places.bearing_deg,
        pitch_deg=pitch,
        azimuth_deg=np.stack([places.bearing_deg, places.bearing_deg, azimuth]),
        altitude_deg=np.stack([places.base_altitude_deg, places.top_altitude_deg, altitude]),
    )
    inside = in_its_place(scene.framing, x, y, altitude - places.top_altitude_deg)
    rise = places.distance_m * np.tan(np.radians(places.base_altitude_deg))
    wide = fit.width(np.arange(len(rise)), places.distance_m, rise)
    behind = is_behind(scene.subject, scene.framing, places, azimuth, altitude)
    seen = TargetSeen(x, y, inside, behind, behind & ~asked_behind(scene.framing, top_y))
    return places, pitch, top_y - base_y, base_y, azimuth, altitude, seen, wide


def _skyline(
    scene: Scene, places: StandPlaces, azimuth: Floats, eye_height_m: Floats
) -> tuple[Floats, ...]:
    """Skyline altitude, distance, position and unknown share at the target's azimuth."""
    out = tuple(np.full(azimuth.shape, np.nan) for _ in range(5))
    if scene.elevation is None:
        return out
    there = np.flatnonzero(np.isfinite(places.lat) & np.isfinite(azimuth))
    ground = eye_ground_m(scene.elevation, places)
    rays = skyline_rays(
        scene,
        lat=places.lat[there],
        lon=places.lon[there],
        azimuth_deg=azimuth[there],
        ground_m=ground[there],
        eye_height_m=eye_height_m[there],
    )
    for column, values in zip(out, rays, strict=True):
        column[there] = values
    return out


def eye_ground_m(elevation: Elevation, places: StandPlaces) -> Floats:
    """Ground to see the skyline from, metres; see `not_under_the_raster_m`."""
    return not_under_the_raster_m(
        elevation, lat=places.lat, lon=places.lon, ground_m=places.ground_m
    )


def not_under_the_raster_m(
    elevation: Elevation, *, lat: Floats, lon: Floats, ground_m: Floats
) -> Floats:
    """Ground as believed, but never inside the raster's, metres, shape (n,).

    A measured drop may put the stand below the raster's own surface; a skyline from
    under the ground would be nonsense, so the raster's height is the least.
    """
    raster = np.asarray(elevation.height_at(lat=lat, lon=lon), dtype=np.float64)
    return np.fmax(ground_m, raster)


class SkylineRays(NamedTuple):
    """Skyline altitude, distance, position and unknown share, in the shape of the azimuths."""

    altitude_deg: Floats
    distance_m: Floats
    lat: Floats
    lon: Floats
    unknown_share: Floats


def skyline_rays(
    scene: Scene,
    *,
    lat: Floats,
    lon: Floats,
    azimuth_deg: Floats,
    ground_m: Floats,
    eye_height_m: Floats | float,
) -> SkylineRays:
    """Look from each place on its azimuths; places of shape (n,), azimuths (..., n)."""
    elevation = scene.elevation
    assert elevation is not None  # noqa: S101  # callers ask only over a raster
    shape = azimuth_deg.shape
    each = [
        np.broadcast_to(v, shape).ravel() for v in (lat, lon, azimuth_deg, ground_m, eye_height_m)
    ]
    seen = elevation.skylines(
        lat=each[0],
        lon=each[1],
        azimuths_deg=each[2],
        eye_height_m=each[4],
        max_distance_m=scene.reach_m,
        refraction_k=scene.refraction_k,
        ground_m=each[3],
        to_the_last_bit=False,
    )
    found = (
        seen.altitudes_deg,
        seen.distances_m,
        seen.skyline_lat,
        seen.skyline_lon,
        seen.unknown_share,
    )
    return SkylineRays(*(column.reshape(shape) for column in found))
