"""The ground that a frame shows, and where something of a height would show in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.blind_patch import polygons_of
from backbearing.camera.framing import frame_position

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.blind_patch import Eye, GroundAt
    from backbearing.camera.bodies_and_lenses import Camera, Lens

    Floats = NDArray[np.float64]

CELLS: Final = 160
"""Cells across the square that is looked at."""


def square(reach_m: float) -> tuple[Floats, Floats, Floats]:
    """Axis, east and north of the square about the subject that is looked at, metres."""
    axis = np.linspace(-1.0, 1.0, CELLS + 1) * reach_m
    east, north = np.meshgrid(axis, axis)
    return axis, east, north


@dataclass(frozen=True, slots=True)
class HeldCamera:
    """A camera on the local map: where, with what, and how it is held."""

    eye: Eye
    camera: Camera
    lens: Lens
    bearing_deg: float
    pitch_deg: float

    def outside_by(
        self,
        ground_at: GroundAt,
        east_m: Floats,
        north_m: Floats,
        *,
        height_m: float,
        heights_m: Floats | None = None,
    ) -> Floats:
        """How far outside the frame a thing so high stays, in frames; negative shows.

        One for what lies behind the camera. ``heights_m`` are those of the ground there,
        when they are known already.
        """
        east, north = east_m - self.eye.east_m, north_m - self.eye.north_m
        away = np.hypot(east, north)
        known = ground_at(east_m, north_m) if heights_m is None else heights_m
        ground = known - self.eye.up_m
        least = np.ones(np.shape(east_m))
        for share in np.linspace(0.0, 1.0, 7) if height_m > 0.0 else (0.0,):
            x, y = frame_position(
                self.camera,
                self.lens,
                axis_azimuth_deg=self.bearing_deg,
                pitch_deg=self.pitch_deg,
                azimuth_deg=np.degrees(np.arctan2(east, north)),
                altitude_deg=np.degrees(np.arctan2(ground + share * height_m, away)),
            )
            out = np.max([-x, x - 1.0, -y, y - 1.0], axis=0)
            least = np.fmin(least, np.clip(np.nan_to_num(out, nan=1.0), -1.0, 1.0))
        return least

    def shows(
        self, ground_at: GroundAt, east_m: float, north_m: float, *, height_m: float, width_m: float
    ) -> bool:
        """Whether anything of an upright box would show in the frame."""
        line = np.array([east_m - self.eye.east_m, north_m - self.eye.north_m])
        away = float(np.hypot(*line))
        if away == 0.0:
            return False
        aside = np.array([line[1], -line[0]]) / away
        offsets = np.linspace(-0.5, 0.5, 5) * width_m
        out = self.outside_by(
            ground_at, east_m + offsets * aside[0], north_m + offsets * aside[1], height_m=height_m
        )
        return bool((out < 0.0).any())

    def ground_shown(
        self,
        ground_at: GroundAt,
        *,
        reach_m: float,
        height_m: float,
        heights_m: Floats | None = None,
    ) -> BaseGeometry:
        """Polygon within the reach of the subject on which such a thing would show, metres.

        ``heights_m`` are those of :func:`square`, when they are known already.
        """
        import shapely
        from contourpy import FillType, contour_generator

        axis, east, north = square(reach_m)
        out = self.outside_by(ground_at, east, north, height_m=height_m, heights_m=heights_m)
        filled = contour_generator(axis, axis, -out, fill_type=FillType.OuterOffset).filled(
            0.0, 1e9
        )
        shown = polygons_of(filled, lambda x, y: (x, y))
        return shown.intersection(shapely.Point(0.0, 0.0).buffer(reach_m, quad_segs=32))
