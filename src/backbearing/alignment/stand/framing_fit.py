"""How subjects fill a lens's frame: by height or by width, tilted or level."""

from __future__ import annotations

from dataclasses import dataclass
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
from backbearing.camera.framing import frame_position

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

    def sizes_m(self) -> tuple[Floats, Floats]:
        """Heights and widths, of shapes that broadcast to (n,)."""
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


@dataclass(frozen=True, slots=True)
class OneShape:
    """The same outline in every row."""

    outline: Outline

    def sizes_m(self) -> tuple[Floats, Floats]:
        """Height and width, shape ()."""
        return np.asarray(self.outline.height_m), np.asarray(self.outline.width_m)

    def corners_m(self, which: Ints) -> tuple[Floats, Floats]:
        """Corners of the outline's hull."""
        hull = np.array(self.outline.hull())
        corners = (slice(None), *(None,) * which.ndim)
        return hull[:, 0][corners], hull[:, 1][corners]

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

    def sizes_m(self) -> tuple[Floats, Floats]:
        """Heights and widths, shape (n,)."""
        return self.height_m, self.width_m

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
    """One lens's way from distances and altitudes to fractions of the frame.

    Arrays of distances and altitudes broadcast with ``which``, the rows that they belong to.

    Raises
    ------
    CameraError
        For a fisheye that cannot fill the camera's frame.
    """

    shapes: Shapes
    framing: Framing
    camera: Camera
    lens: Lens

    def __post_init__(self) -> None:
        check_pair(self.camera, self.lens)

    @property
    def by_angle(self) -> bool:
        """Whether share and margin set the angle from base to top, wherever the stand is."""
        return not (self.framing.level or self.framing.share_of == "width")

    def angle_deg(self) -> float:
        """Angle from base to top that gives the asked share of the height, tilted."""
        framing = self.framing
        angle = subject_angle_deg(self.camera, self.lens, framing.share, framing.base_margin)
        return float(angle.subtended_deg)

    def pitch_deg(self, base_altitude_deg: Floats) -> Floats:
        """Pitch of the lens's axis: level, or so that the base keeps its margin."""
        if self.framing.level:
            return np.where(np.isfinite(base_altitude_deg), 0.0, np.nan)
        margin = (self.framing.base_margin - 0.5) * self.camera.frame_height_mm
        return base_altitude_deg - angle_from_axis_deg(self.lens, self.lens.rise_mm + margin)

    def height(self, base_altitude_deg: Floats, top_altitude_deg: Floats) -> Floats:
        """Fraction of the frame's height from base to top, in the plane of the axis."""
        pitch = self.pitch_deg(base_altitude_deg)
        top = np.asarray(height_on_sensor_mm(self.lens, top_altitude_deg - pitch))
        base = np.asarray(height_on_sensor_mm(self.lens, base_altitude_deg - pitch))
        return (top - base) / self.camera.frame_height_mm

    def width(self, which: Ints, distance_m: Floats, base_altitude_deg: Floats) -> Floats:
        """Fraction of the frame's width between the outermost projected points.

        Straight lines stay straight in a rectilinear frame, and the corners of the hull are
        enough. A fisheye bends them: its outermost point may lie within a straight side.
        """
        if self.lens.projection == "rectilinear":
            x = self._across(*self.shapes.corners_m(which), distance_m, base_altitude_deg)
            return np.asarray(x.max(axis=0) - x.min(axis=0))
        rows, distance, base = np.broadcast_arrays(which, distance_m, base_altitude_deg)
        rows, flat_distance, flat_base = rows.ravel(), distance.ravel(), base.ravel()
        out = np.empty(distance.size)
        at_once = max(1, AT_ONCE // self.shapes.side_points())
        for i in range(0, distance.size, at_once):
            part = slice(i, i + at_once)
            across, up, inner = self.shapes.sides_m(rows[part])
            x = self._across(across, up, flat_distance[part], flat_base[part])
            out[part] = outermost(x, inner) + outermost(-x, inner)
        return out.reshape(distance.shape)

    def _across(
        self, across: Floats, up: Floats, distance_m: Floats, base_altitude_deg: Floats
    ) -> Floats:
        """Where points of the subject fall across the frame; the points come first."""
        height = distance_m * np.tan(np.radians(base_altitude_deg)) + up
        x, _ = frame_position(
            self.camera,
            self.lens,
            axis_azimuth_deg=0.0,
            pitch_deg=np.clip(self.pitch_deg(base_altitude_deg), -90.0, 90.0),
            azimuth_deg=np.degrees(np.arctan2(across, distance_m)),
            altitude_deg=np.degrees(np.arctan2(height, np.hypot(distance_m, across))),
        )
        return x

    def excess(
        self, which: Ints, distance_m: Floats, base_altitude_deg: Floats, top_altitude_deg: Floats
    ) -> Floats:
        """How much larger than asked the subject looks: degrees, or fractions of the frame."""
        if self.by_angle:
            return top_altitude_deg - base_altitude_deg - self.angle_deg()
        if self.framing.share_of == "width":
            return self.width(which, distance_m, base_altitude_deg) - self.framing.share
        return self.height(base_altitude_deg, top_altitude_deg) - self.framing.share

    def level_m(self, base_over_eye_m: Floats) -> Floats:
        """Distance about which to seek: that of level ground; NaN where none would do.

        By frame fractions it is that with the subject across the middle of the axis.
        """
        (tall, wide), focal = self.shapes.sizes_m(), self.lens.focal_length_mm
        if self.by_angle:
            level = level_distance_m(self.angle_deg(), tall, base_over_eye_m)
        elif self.framing.share_of == "width":
            level = wide * focal / (self.framing.share * self.camera.frame_width_mm)
        else:
            level = tall * focal / (self.framing.share * self.camera.frame_height_mm)
        return np.broadcast_to(level, base_over_eye_m.shape)
