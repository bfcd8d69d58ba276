"""What all lenses of a night share, and the settling of one lens at many moments."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand.framing_fit import Fill
from backbearing.alignment.stand.solve import Places, StandProblem
from backbearing.base.constants import DEFAULT_REACH_M, DEFAULT_REFRACTION_K
from backbearing.base.errors import TerrainError
from backbearing.camera.angles import subject_angle_deg
from backbearing.camera.bodies_and_lenses import check_pair
from backbearing.camera.framing import frame_position
from backbearing.outing.request import POSITION_SIGMA_M
from backbearing.sky.directions import FixedOnEarth
from backbearing.terrain.reading.products import ASSUMED_VERTICAL_SIGMA_M

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    from backbearing.camera.angles import SubjectAngle
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scene:
    """Subject, target, camera, framing and ground, with the ground at the subject known."""

    subject: Subject
    subject_ground_m: float
    target: Target
    camera: Camera
    framing: Framing
    elevation: Elevation | None
    refraction_k: float = DEFAULT_REFRACTION_K
    reach_m: float = DEFAULT_REACH_M
    vertical_sigma_m: float = ASSUMED_VERTICAL_SIGMA_M
    position_sigma_m: float = POSITION_SIGMA_M
    canopy_m: float = 0.0
    clearing_m: float = 100.0

    def with_drop(self, stand_drop_m: float | None) -> Scene:
        """Return the scene with one lens's own measured drop, if it has one."""
        if stand_drop_m is None:
            return self
        return replace(self, framing=replace(self.framing, stand_drop_m=stand_drop_m))

    def with_share(self, share: float | None) -> Scene:
        """Return the scene with one lens's own share, if it has one."""
        if share is None:
            return self
        return replace(self, framing=replace(self.framing, share=share))

    def fill(self, lens: Lens) -> Fill:
        """Tell how the subject fills this lens's frame."""
        return Fill(self.subject, self.framing, self.camera, lens)

    def subject_angle(self, lens: Lens) -> SubjectAngle:
        """Angle that the subject must fill, and that of its base from the lens's axis."""
        return subject_angle_deg(self.camera, lens, self.framing.share, self.framing.base_margin)

    def problem(self, lens: Lens) -> StandProblem:
        """Put one lens's question free of cameras."""
        if self.framing.level or self.framing.share_of == "width":
            check_pair(self.camera, lens)
            fill = self.fill(lens)
            return StandProblem(
                subject=self.subject,
                framing=self.framing,
                subject_ground_m=self.subject_ground_m,
                angle_deg=float("nan"),
                refraction_k=self.refraction_k,
                ground=self.elevation,
                excess=fill.excess,
                guess_m=fill.guess_m(),
            )
        return StandProblem(
            subject=self.subject,
            framing=self.framing,
            subject_ground_m=self.subject_ground_m,
            angle_deg=float(self.subject_angle(lens).subtended_deg),
            refraction_k=self.refraction_k,
            ground=self.elevation,
        )


@dataclass(frozen=True, slots=True)
class Settled:
    """One lens at ``n`` moments: stands, frame and skyline, arrays of shape ``(n,)``."""

    places: Places
    pitch_deg: Floats
    share: Floats
    base_margin: Floats
    target_azimuth_deg: Floats
    target_altitude_deg: Floats
    target_x: Floats
    target_y: Floats
    in_frame: NDArray[np.bool_]
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


def ground_at_subject(subject: Subject, elevation: Elevation | None) -> float:
    """Give the ground elevation at the subject, metres.

    Raises
    ------
    TerrainError
        When the raster does not reach the subject or is void there, saying which, and
        whether swapped or mis-signed coordinates would lie inside.
    """
    if elevation is None:
        return subject.ground_m if subject.ground_m is not None else 0.0
    known = float(elevation.height_at(lat=subject.lat, lon=subject.lon))
    if np.isfinite(known):
        return subject.ground_m if subject.ground_m is not None else known
    state = elevation.state_at(lat=subject.lat, lon=subject.lon).name.lower().replace("_", " ")
    if state == "void" and subject.ground_m is not None:
        return subject.ground_m
    raise TerrainError(
        f"The subject at lat {subject.lat}, lon {subject.lon} "
        + _why_unknown(subject, elevation, state),
        lat=subject.lat,
        lon=subject.lon,
        state=state,
    )


def _why_unknown(subject: Subject, elevation: Elevation, state: str) -> str:
    if state == "void":
        return (
            f"stands on a void of {elevation.source}; write its ground elevation as "
            "ground_m under [subject], or use a raster without the hole."
        )
    if state != "outside":
        return f"stands on ground that {elevation.source} does not know ({state})."
    south, west, north, east = elevation.bounds
    extent = f"{south:.4f} to {north:.4f} north and {west:.4f} to {east:.4f} east"
    guesses = {
        "lat and lon look swapped": (subject.lon, subject.lat),
        "the sign of lon looks wrong (west is negative)": (subject.lat, -subject.lon),
        "the sign of lat looks wrong (south is negative)": (-subject.lat, subject.lon),
    }
    for saying, (lat, lon) in guesses.items():
        if south <= lat <= north and west <= lon <= east:
            return f"lies outside {elevation.source} ({extent}); {saying}: write {lat}, {lon}."
    return (
        f"lies outside {elevation.source}, which spans {extent}; correct lat and lon under "
        "[subject], or name a raster that covers them under [ground] elevation."
    )


def settle(scene: Scene, lens: Lens, times: Sequence[datetime], *, skyline: bool = True) -> Settled:
    """Solve stands, frames and skylines of one lens at each of the moments.

    The stand lies where the geodesic's azimuth towards the subject equals the target's
    apparent azimuth less the asked offset, at the distance that gives the asked share;
    the pitch puts the subject's base at the asked margin, or is level. Without ``skyline``
    its columns stay NaN.
    """
    problem = scene.problem(lens)
    target = FixedOnEarth.of(scene.target, times)

    def wanted_azimuth(lat: Floats, lon: Floats) -> Floats:
        return _target_direction(scene, target, lat, lon)[0] - scene.framing.offset_deg

    places = problem.solve(wanted_azimuth, len(times))
    azimuth, altitude = _target_direction(scene, target, places.lat, places.lon)
    fill = scene.fill(lens)
    pitch = fill.pitch_deg(places.base_altitude_deg)
    share, margin, x, y, inside = _frame(scene, lens, places, pitch, azimuth, altitude)
    ridge = _skyline(scene if skyline else replace(scene, elevation=None), places, azimuth)
    wide = fill.width(places.distance_m, places.base_altitude_deg)
    return Settled(places, pitch, share, margin, azimuth, altitude, x, y, inside, wide, *ridge)


def _target_direction(
    scene: Scene, target: FixedOnEarth, lat: Floats, lon: Floats
) -> tuple[Floats, Floats]:
    """Apparent direction of the target from each place, NaN where there is no place."""
    known = np.isfinite(lat)
    azimuth, altitude = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan)
    if known.any():
        azimuth[known], altitude[known] = target[known].seen_from(
            lat=lat[known], lon=lon[known], height_m=scene.subject_ground_m
        )
    return azimuth, altitude


def _frame(
    scene: Scene, lens: Lens, places: Places, pitch: Floats, azimuth: Floats, altitude: Floats
) -> tuple[Floats, Floats, Floats, Floats, NDArray[np.bool_]]:
    """Share and base margin as projected, target's x and y, and whether it is inside."""

    def place(azimuth_deg: Floats, altitude_deg: Floats) -> tuple[Floats, Floats]:
        return frame_position(
            scene.camera,
            lens,
            axis_azimuth_deg=places.bearing_deg,
            pitch_deg=pitch,
            azimuth_deg=azimuth_deg,
            altitude_deg=altitude_deg,
        )

    _, base_y = place(places.bearing_deg, places.base_altitude_deg)
    _, top_y = place(places.bearing_deg, places.top_altitude_deg)
    x, y = place(azimuth, altitude)
    inside = in_its_place(scene.framing, x, y, altitude - places.top_altitude_deg)
    return top_y - base_y, base_y, x, y, inside


def in_its_place(framing: Framing, x: Floats, y: Floats, above_top: Floats) -> NDArray[np.bool_]:
    """Whether the target keeps from the edges, and stands where it was asked to."""
    edge = framing.edge_margin
    left, bottom, right, top = framing.target_box or (0.0, 0.0, 1.0, 1.0)
    inside = (max(edge, left) <= x) & (x <= min(1.0 - edge, right))
    inside &= (max(edge, bottom) <= y) & (y <= min(1.0 - edge, top))
    if framing.above_top_deg is not None:
        inside &= np.abs(above_top - framing.above_top_deg) <= framing.play_deg
    return np.asarray(inside)


def _skyline(scene: Scene, places: Places, azimuth: Floats) -> tuple[Floats, ...]:
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
    )
    for column, values in zip(out, rays, strict=True):
        column[there] = values
    return out


def eye_ground_m(elevation: Elevation, places: Places) -> Floats:
    """Ground to see the skyline from, metres: as believed, but never inside the raster's.

    A measured drop may put the stand below the raster's own surface; a skyline from
    under the ground would be nonsense, so the raster's height is the least.
    """
    raster = np.asarray(elevation.height_at(lat=places.lat, lon=places.lon), dtype=np.float64)
    return np.fmax(places.ground_m, raster)


class SkylineRays(NamedTuple):
    """Skyline altitude, distance, position and unknown share, in the shape of the azimuths."""

    altitude_deg: Floats
    distance_m: Floats
    lat: Floats
    lon: Floats
    unknown_share: Floats


def skyline_rays(
    scene: Scene, *, lat: Floats, lon: Floats, azimuth_deg: Floats, ground_m: Floats
) -> SkylineRays:
    """Look from each place on its azimuths; places of shape (n,), azimuths (..., n)."""
    elevation = scene.elevation
    assert elevation is not None  # noqa: S101  # callers ask only over a raster
    shape = azimuth_deg.shape
    each = [np.broadcast_to(v, shape).ravel() for v in (lat, lon, azimuth_deg, ground_m)]
    seen = elevation.skylines(
        lat=each[0],
        lon=each[1],
        azimuths_deg=each[2],
        eye_height_m=scene.framing.eye_height_m,
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
