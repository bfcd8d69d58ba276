"""How a subject fills a lens's frame: by height or by width, tilted or level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.camera.angles import angle_from_axis_deg, height_on_sensor_mm
from backbearing.camera.framing import frame_position

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject

    Floats = NDArray[np.float64]


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
        """Fraction of the frame's width between the outermost projected points."""
        hull = np.array(self.subject.shape.hull())
        points = (slice(None), *(None,) * np.ndim(distance_m))
        across, up = hull[:, 0][points], hull[:, 1][points]
        height = distance_m * np.tan(np.radians(base_altitude_deg)) + up
        x, _ = frame_position(
            self.camera,
            self.lens,
            axis_azimuth_deg=0.0,
            pitch_deg=np.clip(self.pitch_deg(base_altitude_deg), -90.0, 90.0),
            azimuth_deg=np.degrees(np.arctan2(across, distance_m)),
            altitude_deg=np.degrees(np.arctan2(height, np.hypot(distance_m, across))),
        )
        return np.asarray(x.max(axis=0) - x.min(axis=0))

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
