"""A session's cameras, light and people on the local map about the subject."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from backbearing.alignment.session.blind_patch import Eye, Light
from backbearing.alignment.view.frame_ground import HeldCamera, square
from backbearing.base.local_plane import LocalPlane

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.stand.scene import Scene
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.session_request import SessionRequest
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

ABOUT: Final = 3.0
"""Ground is asked for within so many reaches: shadows widen away from the cameras."""


@dataclass(frozen=True, slots=True)
class Stage:
    """The session on the local map; ``heights_m`` is the ground of its square, once known.

    ``lift_m`` is how much higher than the raster's the ground is taken to be.
    """

    scene: Scene
    local: LocalPlane
    light: Light
    person_height_m: float
    reach_m: float
    names: tuple[str, ...]
    cameras: tuple[HeldCamera, ...]
    lift_m: float = 0.0
    heights_m: Floats | None = None

    def ground_at(self, east_m: Floats, north_m: Floats) -> Floats:
        """Ground height; the subject's own where the raster does not know."""
        level, elevation = self.scene.subject_ground_m, self.scene.elevation
        if elevation is None:
            return np.full(np.shape(east_m), level)
        known = self._raster_at(elevation, east_m, north_m)
        return np.where(np.isfinite(known), known + self.lift_m, level)

    def known_at(self, east_m: Floats, north_m: Floats) -> Flags:
        """Whether the raster knows the ground; everywhere without a raster, which is level."""
        elevation = self.scene.elevation
        if elevation is None:
            return np.ones(np.shape(east_m), dtype=np.bool_)
        return np.isfinite(self._raster_at(elevation, east_m, north_m))

    def _raster_at(self, elevation: Elevation, east_m: Floats, north_m: Floats) -> Floats:
        lat, lon = self.local.lat, self.local.lon
        around = elevation.about(lat=lat, lon=lon, reach_m=ABOUT * self.reach_m)
        return around.height_along(
            np.degrees(np.arctan2(east_m, north_m)), np.hypot(east_m, north_m)
        )

    def shown(self, camera: HeldCamera, heights_m: Sequence[float]) -> list[BaseGeometry]:
        """Ground on which things so high would show in a frame, metres."""
        known = self.heights_m
        if known is None:
            _, east, north = square(self.reach_m)
            known = self.ground_at(east, north)
        return camera.grounds_shown(known, reach_m=self.reach_m, heights_m=heights_m)

    def towards_cameras(self) -> Floats:
        """Unit vector from the subject towards the middle of the stands."""
        eyes = np.array([[v.eye.east_m, v.eye.north_m] for v in self.cameras])
        ways = eyes / np.hypot(*eyes.T)[:, None]
        middle = ways.mean(axis=0)
        found: Floats = middle / np.hypot(*middle)
        return found


class Placed(Protocol):
    """A lens on its stand: a shot of a session, or a lens at some minute."""

    @property
    def lens(self) -> Lens:
        """What stands there."""

    @property
    def stand(self) -> Stand:
        """Where, and how it is aimed."""


def stage_of(scene: Scene, asked: SessionRequest, shots: Sequence[Placed]) -> Stage:
    """Put the shots of a session on the map."""
    local = LocalPlane(scene.subject.lat, scene.subject.lon)
    cameras = []
    for shot in shots:
        east, north = local.metres(lat=shot.stand.lat, lon=shot.stand.lon)
        eye = Eye(float(east), float(north), shot.stand.ground_m + scene.framing.eye_height_m)
        cameras.append(
            HeldCamera(eye, scene.camera, shot.lens, shot.stand.bearing_deg, shot.stand.pitch_deg)
        )
    stage = Stage(
        scene=scene,
        local=local,
        light=Light(asked.light_width_m, asked.light_height_m),
        person_height_m=asked.person_height_m,
        reach_m=asked.light_reach_m,
        names=tuple(shot.lens.label for shot in shots),
        cameras=tuple(cameras),
        lift_m=_lift_m(scene),
    )
    _, east, north = square(stage.reach_m)
    return replace(stage, heights_m=stage.ground_at(east, north))


def _lift_m(scene: Scene) -> float:
    """The raster's own height at the subject is the datum where the user set another."""
    if scene.elevation is None:
        return 0.0
    raster = float(scene.elevation.height_at(lat=scene.subject.lat, lon=scene.subject.lon))
    return scene.subject_ground_m - raster if math.isfinite(raster) else 0.0
