"""One frame or two: whether focus on the stars also holds the subject."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import CameraError
from backbearing.camera._numbers import require_number
from backbearing.camera.focus import (
    FULL_FRAME_CIRCLE_MM,
    blur_diameter_mm,
    circle_of_confusion_mm,
    hyperfocal_distance_m,
    near_limit_m,
    subject_blur_px,
)

if TYPE_CHECKING:
    from backbearing.camera.bodies_and_lenses import Camera, Lens


@dataclass(frozen=True, slots=True)
class FocusStack:
    """Focus distances for the frames of a stack.

    Attributes
    ----------
    focus_m : tuple of float
        Infinity first, for the stars; a second frame only when it is needed.
    handover_m : float
        Where the nearer frame takes over, metres; infinite with a single frame's
        stack, which has none.
    worst_blur_mm : float
        Largest blur from the nearest point to infinity, each point taken from the
        frame that shows it sharper.
    enough : bool
        Whether that stays within the asked circle.

    Examples
    --------
    >>> from backbearing.camera import focus_stack
    >>> stack = focus_stack(50.0, 2.8, 35.0, coc_mm=0.012)
    >>> [f"{metres:.1f} m" for metres in stack.focus_m]
    ['inf m', '52.5 m']
    """

    focus_m: tuple[float, ...]
    handover_m: float
    worst_blur_mm: float
    enough: bool


def focus_stack(
    focal_length_mm: float,
    f_number: float,
    nearest_m: float,
    *,
    coc_mm: float = FULL_FRAME_CIRCLE_MM,
) -> FocusStack:
    """Choose the focus distances that keep everything from `nearest_m` to the stars sharp.

    One frame at infinity if that does; else a second at the distance s that makes the
    largest blur least. The blurs of [Ray2002] at the nearest point n, and of both frames
    at the handover h, are then equal: ``h = 2 s - f`` and
    ``2 s^2 - (3 n + f) s + 2 n f = 0``, about one and a half times n, and a third of the
    blur of a single frame.

    Parameters
    ----------
    focal_length_mm : float
        Millimetres.
    f_number : float
    nearest_m : float
        The nearest thing that must be sharp, metres.
    coc_mm : float, optional
        Largest blur that counts as sharp, millimetres; for pixels, their pitch times
        their number.

    Returns
    -------
    FocusStack

    Raises
    ------
    CameraError
        For a value that is not above zero, or a distance within twice the focal length.

    Examples
    --------
    >>> from backbearing.camera import focus_stack
    >>> stack = focus_stack(35.0, 2.0, 25.0, coc_mm=0.012)
    >>> f"stars, then {stack.focus_m[1]:.1f} m; enough: {stack.enough}"
    'stars, then 37.5 m; enough: True'
    """
    focal = require_number(focal_length_mm, "focal_length_mm", "millimetres")
    near = 1e3 * require_number(nearest_m, "nearest_m", "metres")
    circle = require_number(coc_mm, "coc_mm", "millimetres")
    single = float(blur_diameter_mm(focal, f_number, focus_m=np.inf, object_m=nearest_m))
    if single <= circle:
        return FocusStack((np.inf,), np.inf, single, enough=True)
    if near < 2.0 * focal:
        raise CameraError(
            f"nearest_m is {nearest_m:g}, within twice the focal length of {focal:g} mm; "
            "a stack there is macro work, write a larger distance.",
            key="nearest_m",
        )
    total = 3.0 * near + focal
    second = (total + np.sqrt(total**2 - 16.0 * near * focal)) / 4.0
    handover_m = float((2.0 * second - focal) / 1e3)
    worst = float(blur_diameter_mm(focal, f_number, focus_m=np.inf, object_m=handover_m))
    return FocusStack((np.inf, float(second / 1e3)), handover_m, worst, enough=worst <= circle)


@dataclass(frozen=True, slots=True)
class FocusCheck:
    """Whether focus at infinity also holds the subject, by circle and by pixel.

    Attributes
    ----------
    subject_m : float
        Distance of the subject, metres.
    hyperfocal_m : float
        Hyperfocal distance for the circle, metres.
    near_by_circle_m, near_by_pixel_m : float
        Nearest sharp distance with focus at infinity, by each measure, metres.
    subject_blur_mm, subject_blur_px : float
        Blur of the subject with focus at infinity.
    sharp_by_circle, sharp_by_pixel : bool
        Whether that counts as sharp, by each measure.
    stack : FocusStack
        What to shoot to be sharp by the pixel.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, check_focus
    >>> check = check_focus(Camera(), Lens(focal_length_mm=50.0, f_number=2.8), 35.0)
    >>> check.sharp_by_circle, check.sharp_by_pixel, f"{check.subject_blur_px:.1f} pixels"
    (True, False, '4.3 pixels')
    """

    subject_m: float
    hyperfocal_m: float
    near_by_circle_m: float
    near_by_pixel_m: float
    subject_blur_mm: float
    subject_blur_px: float
    sharp_by_circle: bool
    sharp_by_pixel: bool
    stack: FocusStack


def check_focus(
    camera: Camera,
    lens: Lens,
    subject_m: float,
    *,
    coc_mm: float | None = None,
    max_blur_px: float = 2.0,
) -> FocusCheck:
    """Check the subject's sharpness with the lens focused on the stars.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    subject_m : float
        Distance of the subject, metres.
    coc_mm : float, optional
        Circle of confusion, millimetres; by the sensor's diagonal when not given.
    max_blur_px : float, optional
        Largest blur that counts as sharp on the pixels.

    Returns
    -------
    FocusCheck

    Raises
    ------
    CameraError
        For a value that is not above zero, or a subject within the focal length.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, check_focus
    >>> check = check_focus(Camera(), Lens(focal_length_mm=14.0, f_number=2.8), 11.0)
    >>> f"sharp from {check.near_by_pixel_m:.1f} m on by the pixel: {check.sharp_by_pixel}"
    'sharp from 5.8 m on by the pixel: True'
    """
    circle = circle_of_confusion_mm(camera) if coc_mm is None else coc_mm
    pixels_mm = require_number(max_blur_px, "max_blur_px", "pixels") * camera.pixel_pitch_um / 1e3
    focal, number = lens.focal_length_mm, lens.f_number
    distance = require_number(subject_m, "subject_m", "metres")
    blur_mm = float(blur_diameter_mm(focal, number, focus_m=np.inf, object_m=distance))
    return FocusCheck(
        subject_m=distance,
        hyperfocal_m=hyperfocal_distance_m(focal, number, circle),
        near_by_circle_m=float(near_limit_m(np.inf, focal, number, circle)),
        near_by_pixel_m=float(near_limit_m(np.inf, focal, number, pixels_mm)),
        subject_blur_mm=blur_mm,
        subject_blur_px=float(subject_blur_px(camera, lens, distance)),
        sharp_by_circle=blur_mm <= circle,
        sharp_by_pixel=blur_mm <= pixels_mm,
        stack=focus_stack(focal, number, distance, coc_mm=pixels_mm),
    )
