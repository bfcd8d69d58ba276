"""The ground that a frame shows, and where something of a height would show in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.blind_patch import polygons_of
from backbearing.camera.framing import frame_position_of_vectors

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.blind_patch import Eye, GroundAt
    from backbearing.camera.bodies_and_lenses import Camera, Lens

    Floats = NDArray[np.float64]

CELLS: Final = 160
"""Cells across the square that is looked at."""

LOOKS: Final = 7
"""Heights at which an upright thing is looked at, its foot and top included."""


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
        known = ground_at(east_m, north_m) if heights_m is None else heights_m
        over = self._shares(height_m) * height_m
        return np.asarray(self._outside(east_m, north_m, known, over).min(axis=0))

    def _shares(self, height_m: float) -> Floats:
        """At which shares of its height a thing is looked at."""
        return np.linspace(0.0, 1.0, LOOKS) if height_m > 0.0 else np.zeros(1)

    def _outside(self, east_m: Floats, north_m: Floats, ground_m: Floats, over_m: Floats) -> Floats:
        """How far outside the frame points over the ground lie, a row for each height."""
        east, north = east_m - self.eye.east_m, north_m - self.eye.north_m
        high = (ground_m - self.eye.up_m) + over_m[(slice(None), *(None,) * east.ndim)]
        x, y = frame_position_of_vectors(
            self.camera,
            self.lens,
            axis_azimuth_deg=self.bearing_deg,
            pitch_deg=self.pitch_deg,
            east=east,
            north=north,
            up=high,
        )
        out = np.maximum(np.abs(x - 0.5), np.abs(y - 0.5)) - 0.5
        # One for what is behind the camera too.
        return np.fmin(out, 1.0)

    def _outside_near_the_edge(
        self, east_m: Floats, north_m: Floats, ground_m: Floats, height_m: float
    ) -> Floats:
        """The same on a grid as the least of a row; one where no neighbour can show.

        A rectilinear frame shows an upright thing as a straight line, so that what lies between
        its ends lies within their box.
        """
        over = self._shares(height_m) * height_m
        if self.lens.projection != "rectilinear" or len(over) == 1:
            return np.asarray(self._outside(east_m, north_m, ground_m, over).min(axis=0))
        may = self._may_show(east_m, north_m, ground_m, height_m)
        least = np.ones(east_m.shape)
        found = self._outside(east_m[may], north_m[may], ground_m[may], over)
        least[may] = found.min(axis=0)
        return least

    def _may_show(
        self, east_m: Floats, north_m: Floats, ground_m: Floats, height_m: float
    ) -> NDArray[np.bool_]:
        """Points of a grid on which something upright may show, and their neighbours."""
        x, y = frame_position_of_vectors(
            self.camera,
            self.lens,
            axis_azimuth_deg=self.bearing_deg,
            pitch_deg=self.pitch_deg,
            east=east_m - self.eye.east_m,
            north=north_m - self.eye.north_m,
            up=np.stack([ground_m, ground_m + height_m]) - self.eye.up_m,
        )
        # Where one end lies behind the camera and the other does not, nothing is known.
        behind = np.isnan(x)
        inside = (x.min(axis=0) < 1.0) & (x.max(axis=0) > 0.0)
        inside &= (y.min(axis=0) < 1.0) & (y.max(axis=0) > 0.0)
        may = np.pad(inside | (behind.any(axis=0) & ~behind.all(axis=0)), 1)
        for axis in (0, 1):
            may = may | np.roll(may, 1, axis) | np.roll(may, -1, axis)
        return np.asarray(may[1:-1, 1:-1])

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
        known = ground_at(east, north) if heights_m is None else heights_m
        out = self._outside_near_the_edge(east, north, known, height_m)
        filled = contour_generator(axis, axis, -out, fill_type=FillType.OuterOffset).filled(
            0.0, 1e9
        )
        shown = polygons_of(filled, lambda x, y: (x, y))
        return shown.intersection(shapely.Point(0.0, 0.0).buffer(reach_m, quad_segs=32))
