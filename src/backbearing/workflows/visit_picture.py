"""The scale of a picture taken on a visit: from what is told, the camera asked, and its EXIF."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num
from backbearing.base.reading_errors import CLINOMETER_SIGMA_DEG
from backbearing.measuring.pictures import PictureScale, pitch_of_horizon
from backbearing.measuring.readings import Reading
from backbearing.review.exif import read_exif

if TYPE_CHECKING:
    from collections.abc import Mapping

    from backbearing.camera.bodies_and_lenses import Camera
    from backbearing.outing.request import Outing
    from backbearing.review.exif import FrameExif

OTHER_SHAPE: Final = 0.03
"""A picture whose sides' ratio differs by more from the sensor's was cut (our own choice)."""


ANY_FOCAL: Final = (1.2, 0.5)
"""Focal length by the picture's long side where nobody tells it, and one sigma: from 25 to 61 mm on
135 film (our own choice)."""


def scale_of_picture(
    answers: Mapping[str, Any], outing: Outing | None, *, roughly: bool = False
) -> PictureScale:
    """Find how a picture turns pixels into angles.

    The focal length is the one told, else the picture's own; the sensor's size is the one told,
    else the outing's camera's. Without a sensor's size the equivalent on 135 film serves, and
    where a rough one will do, any.

    Raises
    ------
    MeasureError
        Where neither tells.
    FrameError
        For a file that is no picture.
    """
    frame = read_exif(answers["picture"])
    wide, high = frame.width_px, frame.height_px
    focal = answers.get("focal_length_mm", frame.focal_length_mm)
    sensor = answers.get("sensor_width_mm")
    if sensor is None and outing is not None:
        sensor = outing.camera.sensor_width_mm
    if sensor is not None and math.isfinite(focal):
        # The sensor's long side lies along the picture's.
        across = sensor * wide / max(wide, high)
        scale = PictureScale.of_lens(focal, sensor_width_mm=across, width_px=wide, height_px=high)
    elif math.isfinite(frame.focal_length_135_mm) and "focal_length_mm" not in answers:
        scale = PictureScale.of_equivalent(frame.focal_length_135_mm, width_px=wide, height_px=high)
    elif roughly:
        middle, sigma = (share * max(wide, high) for share in ANY_FOCAL)
        scale = PictureScale(wide, high, Reading(middle, sigma))
    else:
        raise _unknown(frame, focal)
    if outing is not None and "sensor_width_mm" not in answers:
        _check_whole(frame, outing.camera)
    px = answers.get("px_sigma")
    return _tilted(scale if px is None else replace(scale, spot_sigma_px=px), answers)


def _tilted(scale: PictureScale, answers: Mapping[str, Any]) -> PictureScale:
    """Tell the scale the camera's tilt, where that is known."""
    if "pitch_deg" in answers:
        sigma = answers.get("pitch_sigma_deg", CLINOMETER_SIGMA_DEG)
        return replace(scale, pitch_deg=Reading(answers["pitch_deg"], sigma))
    if "horizon_row_px" in answers:
        row = Reading(answers["horizon_row_px"], scale.spot_sigma_px)
        return replace(scale, pitch_deg=pitch_of_horizon(scale, row))
    return scale


def _check_whole(frame: FrameExif, camera: Camera) -> None:
    """Refuse a picture of another shape than the sensor: its sides were cut."""
    shape = max(frame.width_px, frame.height_px) / min(frame.width_px, frame.height_px)
    sensor = camera.sensor_width_mm / camera.sensor_height_mm
    if abs(shape / sensor - 1.0) > OTHER_SHAPE:
        raise MeasureError(
            f"{frame.path.name} is {num(shape, 2)} times as long as wide and the outing's sensor "
            f"{num(sensor, 2)} times",
            hint="take the whole picture, or give the sensor_width_mm that it covers",
        )


def _unknown(frame: FrameExif, focal: float) -> MeasureError:
    missing = "sensor_width_mm" if math.isfinite(focal) else "focal_length_mm and sensor_width_mm"
    return MeasureError(
        f"{frame.path.name} does not say how wide it sees",
        hint=f"give {missing}, or an outing whose camera took it",
    )
