"""Subject, camera and exposure of an outing file, made from their checked shapes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.camera.bodies_and_lenses import FORMATS_MM, Camera
from backbearing.camera.sensor import Sensor
from backbearing.outing.outline import Outline
from backbearing.outing.outline_svg import read_outline
from backbearing.outing.request import ExposureRequest
from backbearing.outing.subject import Subject

if TYPE_CHECKING:
    from pathlib import Path


def subject_of(folder: Path, shape: Any) -> Subject:
    """Make the subject, with its outline from an SVG file or from widths at heights."""
    asked = shape.model_dump(exclude={"outline", "widths_m"})
    outline: Outline | None = None
    if shape.outline is not None:
        # A size that cannot exist is refused by the subject before a drawing is scaled to it.
        Subject(**asked)
        outline = read_outline(
            (folder / shape.outline).resolve(), height_m=shape.height_m, width_m=shape.width_m
        )
    elif shape.widths_m is not None:
        outline = Outline.of_widths(shape.widths_m, height_m=shape.height_m)
    return Subject(**asked, outline=outline)


def camera_of(shape: Any) -> Camera:
    """Make the camera, by its format's name or by its size, cropped where asked."""
    held = {"orientation": shape.orientation}
    if shape.sensor_format is not None:
        camera = Camera.of_format(shape.sensor_format, width_px=shape.width_px, **held)
        if shape.height_px is not None:
            width_mm, height_mm = FORMATS_MM[shape.sensor_format]
            camera = Camera(width_mm, height_mm, shape.width_px, shape.height_px, **held)
    else:
        camera = Camera(
            shape.sensor_width_mm, shape.sensor_height_mm, shape.width_px, shape.height_px, **held
        )
    if shape.crop_px is None:
        return camera
    return camera.cropped(width_px=shape.crop_px[0], height_px=shape.crop_px[1])


def exposure_of(shape: Any) -> ExposureRequest:
    """Make the exposure request with its sensor."""
    own = {"quantum_efficiency", "read_noise_e", "full_well_e", "base_iso"}
    sensor = Sensor(**shape.model_dump(include=own))
    return ExposureRequest(**shape.model_dump(exclude=own), sensor=sensor)
