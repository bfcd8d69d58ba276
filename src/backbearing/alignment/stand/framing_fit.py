"""How subjects fill a lens's frame: by height or by width, tilted or level."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from backbearing.alignment.stand.outline_edges import outer_sides, outermost
from backbearing.alignment.stand.solve import level_distance_m
from backbearing.camera.angles import (
    angle_from_axis_deg,
    height_on_sensor_mm,
    subject_angle_deg,
)
from backbearing.camera.bodies_and_lenses import check_pair
from backbearing.camera.projection import sensor_of_rays

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.outline import Outline
    from backbearing.outing.subject import Framing

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Flags = NDArray[np.bool_]

AT_ONCE: Final = 4_000_000
"""Points of subjects looked at from places, at once: what memory they take."""

BOX_POINTS: Final = 17
"""Points along an upright side of a box, where a lens bends it; a parabola lies between."""


class Shapes(Protocol):
    """Outlines of the subjects of n rows."""

    def heights_m(self, which: Ints) -> Floats:
        """Heights of some rows' subjects, of a shape that broadcasts with them."""
        ...

    def widths_m(self, which: Ints) -> Floats:
        """Their widths, likewise."""
        ...

    def corners_m(self, which: Ints) -> tuple[Floats, Floats]:
        """Across and up from the middle of the base: all that can lie outermost, (p, ...)."""
        ...

    def sides_m(self, which: Ints) -> tuple[Floats, Floats, Flags]:
        """The same for a lens that bends straight sides, and which points lie within one."""
        ...

    def side_points(self) -> int:
        """How many points `sides_m` gives of a row."""
        ...


@dataclass(frozen=True)
class OneShape:
    """The same outline in every row."""

    outline: Outline

    def heights_m(self, which: Ints) -> Floats:
        """The outline's height, shape ()."""
        del which
        return self._height_m

    def widths_m(self, which: Ints) -> Floats:
        """The outline's width, shape ()."""
        del which
        return np.asarray(self.outline.width_m)

    def corners_m(self, which: Ints) -> tuple[Floats, Floats]:
        """Corners of the outline's hull."""
        corners = (slice(None), *(None,) * which.ndim)
        return self._hull[0][corners], self._hull[1][corners]

    @cached_property
    def _height_m(self) -> Floats:
        return np.asarray(self.outline.height_m)

    @cached_property
    def _hull(self) -> Floats:
        return np.array(self.outline.hull()).T

    def sides_m(self, which: Ints) -> tuple[Floats, Floats, Flags]:
        """Points along the outline's outer sides."""
        sides = outer_sides(self.outline)
        points = (slice(None), *(None,) * which.ndim)
        return sides.across_m[points], sides.up_m[points], sides.inner

    def side_points(self) -> int:
        """How many points the sides have."""
        return len(outer_sides(self.outline).across_m)


@dataclass(frozen=True, slots=True)
class Boxes:
    """Plain boxes, each row its own; shapes (n,)."""

    height_m: Floats
    width_m: Floats

    def heights_m(self, which: Ints) -> Floats:
        """Heights of some of the boxes."""
        return self.height_m[which]

    def widths_m(self, which: Ints) -> Floats:
        """Widths of some of the boxes."""
        return self.width_m[which]

    def corners_m(self, which: Ints) -> tuple[Floats, Floats]:
        """The four corners of each box."""
        half, tall = 0.5 * self.width_m[which], self.height_m[which]
        low = np.zeros_like(tall)
        return np.stack([-half, half, half, -half]), np.stack([low, low, tall, tall])

    def sides_m(self, which: Ints) -> tuple[Floats, Floats, Flags]:
        """Points along both upright sides."""
        half, tall = 0.5 * self.width_m[which], self.height_m[which]
        share = np.linspace(0.0, 1.0, BOX_POINTS)
        up = share[(slice(None), *(None,) * which.ndim)] * tall
        across = np.broadcast_to(half, up.shape)
        inner = (share > 0.0) & (share < 1.0)
        return np.concatenate([-across, across]), np.concatenate([up, up]), np.tile(inner, 2)

    def side_points(self) -> int:
        """How many points both sides have."""
        return 2 * BOX_POINTS


@dataclass(frozen=True, slots=True)
class FramingFit:
    """One lens's way from where a subject stands to fractions of the frame.

    ``distance_m`` and ``rise_m``, how high the subject's base stands over the eye's horizontal
    as it is seen, broadcast with ``which``, the rows that they belong to.

    Attributes
    ----------
    angle_deg : float
        Angle from base to top that gives the asked share of the height, tilted.
    base_from_axis_deg : float
        Angle from the axis at which the asked margin puts the base, upwards.

    Raises
    ------
    CameraError
        For a fisheye that cannot fill the camera's frame.
    """

    shapes: Shapes
    framing: Framing
    camera: Camera
    lens: Lens
    angle_deg: float = field(init=False)
    base_from_axis_deg: float = field(init=False)

    def __post_init__(self) -> None:
        check_pair(self.camera, self.lens)
        margin = (self.framing.base_margin - 0.5) * self.camera.frame_height_mm
        base = angle_from_axis_deg(self.lens, self.lens.rise_mm + margin)
        object.__setattr__(self, "base_from_axis_deg", base)
        angle = subject_angle_deg(
            self.camera, self.lens, self.framing.share, self.framing.base_margin
        )
        object.__setattr__(self, "angle_deg", angle.subtended_deg)

    @property
    def by_angle(self) -> bool:
        """Whether share and margin set the angle from base to top, wherever the stand is."""
        return not (self.framing.level or self.framing.share_of == "width")

    def pitch_deg(self, base_altitude_deg: Floats) -> Floats:
        """Pitch of the lens's axis: level, or so that the base keeps its margin."""
        if self.framing.level:
            return np.where(np.isfinite(base_altitude_deg), 0.0, np.nan)
        return base_altitude_deg - self.base_from_axis_deg

    def height(self, which: Ints, distance_m: Floats, rise_m: Floats) -> Floats:
        """Fraction of the frame's height from base to top, in the plane of the axis."""
        tall = self.shapes.heights_m(which)
        base = np.degrees(np.arctan2(rise_m, distance_m))
        pitch = self.pitch_deg(base)
        top = np.degrees(np.arctan2(rise_m + tall, distance_m))
        high = np.asarray(height_on_sensor_mm(self.lens, top - pitch))
        low = np.asarray(height_on_sensor_mm(self.lens, base - pitch))
        return (high - low) / self.camera.frame_height_mm

    def width(self, which: Ints, distance_m: Floats, rise_m: Floats) -> Floats:
        """Fraction of the frame's width between the outermost projected points.

        Straight lines stay straight in a rectilinear frame, and the corners of the hull are
        enough. A fisheye bends them: its outermost point may lie within a straight side.
        """
        if self.lens.projection == "rectilinear":
            across, up = self.shapes.corners_m(which)
            x_mm = self._across_mm(across, rise_m + up, distance_m, rise_m)
            return np.asarray(x_mm.max(axis=0) - x_mm.min(axis=0)) / self.camera.frame_width_mm
        shape = np.broadcast_shapes(which.shape, rise_m.shape)
        rows = np.broadcast_to(which, shape).ravel()
        distance, rise = (np.broadcast_to(v, shape).ravel() for v in (distance_m, rise_m))
        out = np.empty(len(rows))
        at_once = max(1, AT_ONCE // self.shapes.side_points())
        for i in range(0, len(rows), at_once):
            part = slice(i, i + at_once)
            across, up, inner = self.shapes.sides_m(rows[part])
            x_mm = self._across_mm(across, rise[part] + up, distance[part], rise[part])
            out[part] = outermost(x_mm, inner) + outermost(-x_mm, inner)
        return out.reshape(shape) / self.camera.frame_width_mm

    def _across_mm(
        self, across_m: Floats, up_m: Floats, distance_m: Floats, rise_m: Floats
    ) -> Floats:
        """Where points fall across the sensor, the axis towards the middle of the subject."""
        # The pitch is the base's altitude less an angle of the lens's own: no arcs are needed.
        turn = 0.0 if self.framing.level else np.radians(self.base_from_axis_deg)
        base = np.hypot(distance_m, rise_m)
        level, steep = (1.0, 0.0) if self.framing.level else (distance_m / base, rise_m / base)
        cosine = level * np.cos(turn) + steep * np.sin(turn)
        sine = steep * np.cos(turn) - level * np.sin(turn)
        away = np.sqrt(distance_m**2 + across_m**2 + up_m**2)
        forward = (cosine * distance_m + sine * up_m) / away
        upward = (cosine * up_m - sine * distance_m) / away
        x_mm, _ = sensor_of_rays(self.lens, across_m / away, upward, forward)
        return x_mm

    def excess(self, which: Ints, distance_m: Floats, rise_m: Floats) -> Floats:
        """How much larger than asked the subject looks: degrees, or fractions of the frame."""
        if self.framing.share_of == "width":
            return self.width(which, distance_m, rise_m) - self.framing.share
        if self.framing.level:
            return self.height(which, distance_m, rise_m) - self.framing.share
        tall = self.shapes.heights_m(which)
        # The angle between two directions in a plane, from their cross and dot products.
        seen = np.arctan2(tall * distance_m, distance_m**2 + rise_m * (rise_m + tall))
        return np.degrees(seen) - self.angle_deg

    def level_m(self, base_over_eye_m: Floats) -> Floats:
        """Distance about which to seek: that of level ground; NaN where none would do.

        By frame fractions it is that with the subject across the middle of the axis.
        """
        every, focal = np.arange(len(base_over_eye_m)), self.lens.focal_length_mm
        if self.by_angle:
            level = level_distance_m(self.angle_deg, self.shapes.heights_m(every), base_over_eye_m)
        elif self.framing.share_of == "width":
            wide = self.shapes.widths_m(every)
            level = wide * focal / (self.framing.share * self.camera.frame_width_mm)
        else:
            tall = self.shapes.heights_m(every)
            level = tall * focal / (self.framing.share * self.camera.frame_height_mm)
        return np.broadcast_to(level, base_over_eye_m.shape)
