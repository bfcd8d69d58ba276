"""Where a session's hidden light stands in a lens's picture: its ground, and the light itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import azimuth_altitude_of
from backbearing.base.local_plane import LocalPlane
from backbearing.plan.view import HiddenLight

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.camera.framing import Frame
    from backbearing.plan.lighting import HiddenSpot, Lighting
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import Stand
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Rings = tuple[Floats, ...]
    Seen = Callable[[Floats, Floats, Floats], Floats]


def turn_of(plan: Plan, stand: Stand) -> Shot | None:
    """The session's turn that is shot from a stand; None where it is none's."""
    for shot in plan.session.shots if plan.session else ():
        there = shot.stand
        if (there.lat, there.lon, there.time) == (stand.lat, stand.lon, stand.time):
            return shot
    return None


def hidden_light(
    plan: Plan, stand: Stand, frame: Frame, elevation: Elevation | None, *, base_up_m: float
) -> HiddenLight | None:
    """Project the session's blind patch, and the light in it, into a frame.

    Parameters
    ----------
    plan : Plan
    stand : Stand
        A turn's; from any other stand nothing is known of the light.
    frame : Frame
    elevation : Elevation or None
        Ground behind the subject; level where it is not known.
    base_up_m : float
        The subject's visible base over the lens, metres, as the silhouette has it.

    Returns
    -------
    HiddenLight or None
        None without a session, and where no ground hides the light from this stand.
    """
    shot = turn_of(plan, stand)
    lighting = plan.session.lighting if plan.session else None
    if shot is None or lighting is None:
        return None
    ground = _Ground(plan, stand, elevation, base_up_m)
    common = not lighting.blind.area.is_empty
    area = lighting.blind.area if common else _own(lighting, shot)
    rings = ground.rings(frame, area)
    if not rings:
        return None
    return HiddenLight(
        patch=rings,
        light=ground.light(frame, lighting, _spot_of(lighting, shot)),
        width_m=lighting.light_width_m,
        height_m=lighting.light_height_m,
        from_every_stand=common,
    )


def _own(lighting: Lighting, shot: Shot) -> BaseGeometry:
    """The blind patch of one stand alone: patches stand in the order of the turns."""
    _, area = lighting.blind.from_stands[shot.number - 1]
    return area


def _spot_of(lighting: Lighting, shot: Shot) -> HiddenSpot | None:
    """Where the light stands in a turn; None where no spot hides it from there."""
    spots = lighting.blind.spots
    return next((spot for spot in spots if shot.lens.label in spot.lenses), None)


class _Ground:
    """Ground behind the subject as a stand sees it: from places to fractions of the frame."""

    def __init__(
        self, plan: Plan, stand: Stand, elevation: Elevation | None, base_up_m: float
    ) -> None:

        self.local = LocalPlane(plan.subject.lat, plan.subject.lon)
        self.elevation = elevation
        east, north = self.local.metres(lat=stand.lat, lon=stand.lon)
        self.eye = float(east), float(north)
        # The ground at the subject, from which heights of the ground around are told.
        self.foot_up_m = base_up_m - plan.subject.base_height_m

    def rises(self, *, lat: Floats, lon: Floats) -> Floats:
        """Ground over that at the subject, metres; 0 where the raster does not know."""
        if self.elevation is None:
            return np.zeros(np.shape(lat))
        known = np.asarray(self.elevation.height_at(lat=lat, lon=lon), dtype=np.float64)
        at_subject = float(self.elevation.height_at(lat=self.local.lat, lon=self.local.lon))
        return np.nan_to_num(known - at_subject)

    def placed(self, frame: Frame, east_m: Floats, north_m: Floats, up_m: Floats) -> Floats:
        """Fractions of the frame, shape (n, 2), of points so high over the lens."""
        east, north = east_m - self.eye[0], north_m - self.eye[1]
        x, y = frame.place(*azimuth_altitude_of(east, north, up_m))
        line = np.stack([x, y], axis=1)
        return line[np.isfinite(line).all(axis=1)]

    def rings(self, frame: Frame, area: BaseGeometry) -> Rings:
        """Rings of an area of longitude and latitude, as the ground lies."""
        found = []
        for part in getattr(area, "geoms", [area]):
            for ring in () if part.is_empty else (part.exterior, *part.interiors):
                lon, lat = np.array(ring.coords)[:, :2].T
                east, north = self.local.metres(lat=lat, lon=lon)
                up = self.foot_up_m + self.rises(lat=lat, lon=lon)
                found.append(self.placed(frame, east, north, up))
        return tuple(ring for ring in found if len(ring) >= 3)

    def light(self, frame: Frame, lighting: Lighting, spot: HiddenSpot | None) -> Floats:
        """Outline of the light's box at its spot, turned to the stand."""
        if spot is None:
            return np.zeros((0, 2))
        lat, lon = np.array([spot.lat]), np.array([spot.lon])
        east, north = (float(v[0]) for v in self.local.metres(lat=lat, lon=lon))
        foot = self.foot_up_m + float(self.rises(lat=lat, lon=lon)[0])
        ahead = np.array([east - self.eye[0], north - self.eye[1]])
        ahead /= np.hypot(*ahead)
        half, tall = lighting.light_width_m / 2.0, lighting.light_height_m
        across = half * np.array([-1.0, 1.0, 1.0, 0.0, -1.0])
        up = foot + tall * np.array([0.0, 0.0, 1.0, 1.0, 1.0])
        return self.placed(frame, east + across * ahead[1], north - across * ahead[0], up)
