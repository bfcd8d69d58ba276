"""Cameras, lenses and what they make of a direction: framing, trailing, focus."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from backbearing.camera.angles import (
        FieldOfView,
        SubjectAngle,
        angle_from_axis_deg,
        angle_of_view,
        field_of_view,
        height_on_sensor_mm,
        subject_angle_deg,
    )
    from backbearing.camera.bodies_and_lenses import FORMATS_MM, Camera, Lens
    from backbearing.camera.exposure import (
        exact_f_number,
        exact_shutter_s,
        exposure_value,
        standard_shutter_s,
    )
    from backbearing.camera.exposure_model import (
        Exposure,
        electrons_a_pixel,
        expose,
        frames_for_gain,
        photon_radiance,
        signal_to_noise,
    )
    from backbearing.camera.focus import (
        blur_diameter_mm,
        circle_of_confusion_mm,
        far_limit_m,
        hyperfocal_distance_m,
        near_limit_m,
        star_blur_px,
        subject_blur_px,
    )
    from backbearing.camera.frame_trails import (
        FrameTrails,
        longest_shutter_in_frame_s,
        trails_in_frame,
    )
    from backbearing.camera.framing import Frame, frame_direction, frame_position
    from backbearing.camera.panorama import Panorama, PanoramaRow, plan_panorama
    from backbearing.camera.sensor import Sensor
    from backbearing.camera.shutter_rules import (
        ShutterRule,
        common_rules,
        focal_length_rule_s,
        npf_full_s,
        npf_simple_s,
    )
    from backbearing.camera.stacking import FocusCheck, FocusStack, check_focus, focus_stack
    from backbearing.camera.trailing import longest_shutter_s, trail_at, trail_length_px

_HOME = {
    "Camera": "bodies_and_lenses",
    "Exposure": "exposure_model",
    "FORMATS_MM": "bodies_and_lenses",
    "FieldOfView": "angles",
    "FocusCheck": "stacking",
    "FocusStack": "stacking",
    "Frame": "framing",
    "FrameTrails": "frame_trails",
    "Lens": "bodies_and_lenses",
    "Panorama": "panorama",
    "PanoramaRow": "panorama",
    "Sensor": "sensor",
    "ShutterRule": "shutter_rules",
    "SubjectAngle": "angles",
    "angle_from_axis_deg": "angles",
    "angle_of_view": "angles",
    "blur_diameter_mm": "focus",
    "check_focus": "stacking",
    "circle_of_confusion_mm": "focus",
    "common_rules": "shutter_rules",
    "electrons_a_pixel": "exposure_model",
    "exact_f_number": "exposure",
    "exact_shutter_s": "exposure",
    "expose": "exposure_model",
    "exposure_value": "exposure",
    "far_limit_m": "focus",
    "field_of_view": "angles",
    "focal_length_rule_s": "shutter_rules",
    "focus_stack": "stacking",
    "frame_direction": "framing",
    "frame_position": "framing",
    "frames_for_gain": "exposure_model",
    "height_on_sensor_mm": "angles",
    "hyperfocal_distance_m": "focus",
    "longest_shutter_in_frame_s": "frame_trails",
    "longest_shutter_s": "trailing",
    "near_limit_m": "focus",
    "npf_full_s": "shutter_rules",
    "npf_simple_s": "shutter_rules",
    "photon_radiance": "exposure_model",
    "plan_panorama": "panorama",
    "signal_to_noise": "exposure_model",
    "standard_shutter_s": "exposure",
    "star_blur_px": "focus",
    "subject_angle_deg": "angles",
    "subject_blur_px": "focus",
    "trail_at": "trailing",
    "trail_length_px": "trailing",
    "trails_in_frame": "frame_trails",
}

__all__ = [
    "FORMATS_MM",
    "Camera",
    "Exposure",
    "FieldOfView",
    "FocusCheck",
    "FocusStack",
    "Frame",
    "FrameTrails",
    "Lens",
    "Panorama",
    "PanoramaRow",
    "Sensor",
    "ShutterRule",
    "SubjectAngle",
    "angle_from_axis_deg",
    "angle_of_view",
    "blur_diameter_mm",
    "check_focus",
    "circle_of_confusion_mm",
    "common_rules",
    "electrons_a_pixel",
    "exact_f_number",
    "exact_shutter_s",
    "expose",
    "exposure_value",
    "far_limit_m",
    "field_of_view",
    "focal_length_rule_s",
    "focus_stack",
    "frame_direction",
    "frame_position",
    "frames_for_gain",
    "height_on_sensor_mm",
    "hyperfocal_distance_m",
    "longest_shutter_in_frame_s",
    "longest_shutter_s",
    "near_limit_m",
    "npf_full_s",
    "npf_simple_s",
    "photon_radiance",
    "plan_panorama",
    "signal_to_noise",
    "standard_shutter_s",
    "star_blur_px",
    "subject_angle_deg",
    "subject_blur_px",
    "trail_at",
    "trail_length_px",
    "trails_in_frame",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
