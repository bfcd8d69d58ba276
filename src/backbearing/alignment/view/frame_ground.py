"""The ground that a frame shows, and where something of a height would show in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.session.blind_patch import polygons_of
from backbearing.camera.framing import turned_into_axes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.blind_patch import Eye, GroundAt
    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.camera.framing import VectorsInAxes

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
        self, ground_at: GroundAt, east_m: Floats, north_m: Floats, *, height_m: float
    ) -> Floats:
        """How far outside the frame a thing so high stays, in frames; negative shows.

        One for what lies behind the camera.
        """
        feet = self._feet(east_m, north_m, ground_at(east_m, north_m))
        return self._least_outside(feet, self._shares(height_m) * height_m)

    def _feet(self, east_m: Floats, north_m: Floats, ground_m: Floats) -> VectorsInAxes:
        """Points of the ground from the lens, along the camera's axes."""
        return turned_into_axes(
            axis_azimuth_deg=self.bearing_deg,
            pitch_deg=self.pitch_deg,
            east=east_m - self.eye.east_m,
            north=north_m - self.eye.north_m,
            up=ground_m - self.eye.up_m,
        )

    def _shares(self, height_m: float) -> Floats:
        """At which shares of its height a thing is looked at."""
        return np.linspace(0.0, 1.0, LOOKS) if height_m > 0.0 else np.zeros(1)

    def _least_outside(self, feet: VectorsInAxes, over_m: Floats) -> Floats:
        """How far outside the frame things stay, the least at some heights over their feet."""
        least = np.ones(feet.forward.shape)
        for over in over_m.tolist():
            x, y = feet.raised(over).frame_position(self.camera, self.lens)
            least = np.fmin(least, _outside(x, y))
        return least

    def _outside_near_the_edge(
        self, feet: VectorsInAxes, foot: tuple[Floats, Floats], height_m: float
    ) -> Floats:
        """The same on a grid; one where no neighbour can show. ``foot`` is where the feet appear.

        A rectilinear frame shows an upright thing as a straight line, so that what lies between
        its ends lies within their box.
        """
        over = self._shares(height_m) * height_m
        if len(over) == 1:
            return np.fmin(_outside(*foot), 1.0)
        if self.lens.projection != "rectilinear":
            return self._least_outside(feet, over)
        top = feet.raised(height_m).frame_position(self.camera, self.lens)
        may = _may_show(foot, top)
        least = np.ones(may.shape)
        between = self._least_outside(feet.rows(may), over[1:-1])
        for x, y in (foot, top):
            between = np.fmin(between, _outside(x[may], y[may]))
        least[may] = between
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

    def ground_shown(self, ground_at: GroundAt, *, reach_m: float, height_m: float) -> BaseGeometry:
        """Polygon within the reach of the subject on which such a thing would show, metres."""
        _, east, north = square(reach_m)
        return self.grounds_shown(ground_at(east, north), reach_m=reach_m, heights_m=[height_m])[0]

    def grounds_shown(
        self, ground_m: Floats, *, reach_m: float, heights_m: Sequence[float]
    ) -> list[BaseGeometry]:
        """Do as `ground_shown` for things of some heights; the ground is that of :func:`square`."""
        import shapely
        from contourpy import FillType, contour_generator

        axis, east, north = square(reach_m)
        feet = self._feet(east, north, ground_m)
        foot = feet.frame_position(self.camera, self.lens)
        disk = shapely.Point(0.0, 0.0).buffer(reach_m, quad_segs=32)
        found = []
        for height_m in heights_m:
            out = self._outside_near_the_edge(feet, foot, height_m)
            filled = contour_generator(axis, axis, -out, fill_type=FillType.OuterOffset).filled(
                0.0, 1e9
            )
            found.append(polygons_of(filled, lambda x, y: (x, y)).intersection(disk))
        return found


def _outside(x: Floats, y: Floats) -> Floats:
    """How far outside the frame places lie, in frames; NaN for what is behind the camera."""
    return np.asarray(np.maximum(np.abs(x - 0.5), np.abs(y - 0.5)) - 0.5)


def _may_show(foot: tuple[Floats, Floats], top: tuple[Floats, Floats]) -> NDArray[np.bool_]:
    """Points of a grid on which something upright may show, and their neighbours."""
    (x0, y0), (x1, y1) = foot, top
    # Where one end lies behind the camera and the other does not, nothing is known.
    one, two = np.isnan(x0), np.isnan(x1)
    with np.errstate(invalid="ignore"):
        inside = (np.minimum(x0, x1) < 1.0) & (np.maximum(x0, x1) > 0.0)
        inside &= (np.minimum(y0, y1) < 1.0) & (np.maximum(y0, y1) > 0.0)
    may = np.pad(inside | (one ^ two), 1)
    for axis in (0, 1):
        may = may | np.roll(may, 1, axis) | np.roll(may, -1, axis)
    return np.asarray(may[1:-1, 1:-1])
