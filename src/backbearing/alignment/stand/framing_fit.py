"""How a subject fills a lens's frame: by height or by width, tilted or level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.outline_edges import outer_sides, outermost
from backbearing.camera.angles import angle_from_axis_deg, height_on_sensor_mm
from backbearing.camera.framing import frame_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject

    Floats = NDArray[np.float64]

AT_ONCE: Final = 4_000_000
"""Points of a subject looked at from places, at once: what memory they take."""


@dataclass(frozen=True, slots=True)
class Fill:
    """One lens's way from distances and altitudes to fractions of the frame."""

    subject: Subject
    framing: Framing
    camera: Camera
    lens: Lens

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

    def width(self, distance_m: Floats, base_altitude_deg: Floats) -> Floats:
        """Fraction of the frame's width between the outermost projected points.

        Straight lines stay straight in a rectilinear frame, and the corners of the hull are
        enough. A fisheye bends them: its outermost point may lie within a straight side.
        """
        if self.lens.projection == "rectilinear":
            across, up = np.array(self.subject.shape.hull()).T
            x = self._across(across, up, distance_m, base_altitude_deg)
            return np.asarray(x.max(axis=0) - x.min(axis=0))
        sides = outer_sides(self.subject.shape)
        distance, base = np.broadcast_arrays(distance_m, base_altitude_deg)
        out = np.empty(distance.size)
        at_once = max(1, AT_ONCE // len(sides.across_m))
        for i in range(0, distance.size, at_once):
            each = distance.ravel()[i : i + at_once], base.ravel()[i : i + at_once]
            x = self._across(sides.across_m, sides.up_m, *each)
            out[i : i + at_once] = outermost(x, sides.inner) + outermost(-x, sides.inner)
        return out.reshape(distance.shape)

    def _across(
        self, across_m: Floats, up_m: Floats, distance_m: Floats, base_altitude_deg: Floats
    ) -> Floats:
        """Where points of the subject fall across the frame; the points come first."""
        points = (slice(None), *(None,) * np.ndim(distance_m))
        across, up = across_m[points], up_m[points]
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
        self, distance_m: Floats, base_altitude_deg: Floats, top_altitude_deg: Floats
    ) -> Floats:
        """How much more of the frame the subject takes than asked, a fraction."""
        if self.framing.share_of == "width":
            return self.width(distance_m, base_altitude_deg) - self.framing.share
        return self.height(base_altitude_deg, top_altitude_deg) - self.framing.share

    def guess_m(self) -> float:
        """Distance that would do with the subject across the middle of the axis, metres."""
        focal = self.lens.focal_length_mm
        if self.framing.share_of == "width":
            return (
                self.subject.shape.width_m
                * focal
                / (self.framing.share * self.camera.frame_width_mm)
            )
        return self.subject.height_m * focal / (self.framing.share * self.camera.frame_height_mm)
