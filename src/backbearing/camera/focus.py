"""What is sharp, by the classic circle of confusion and by the pixel: thin-lens optics."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, overload

import numpy as np

from backbearing.base.errors import CameraError
from backbearing.camera._numbers import Floats, plain, positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from backbearing.camera.bodies_and_lenses import Camera, Lens

FULL_FRAME_CIRCLE_MM: Final = 0.030
"""Circle of confusion for 36 x 24 mm, millimetres (common practice, no source)."""


def circle_of_confusion_mm(camera: Camera) -> float:
    """Classic circle of confusion, in proportion to the sensor's diagonal.

    0.030 mm on 36 x 24 mm (common practice, no source).

    Examples
    --------
    >>> from backbearing.camera import Camera, circle_of_confusion_mm
    >>> small = Camera(sensor_width_mm=23.5, sensor_height_mm=15.7, width_px=6000, height_px=4000)
    >>> f"{circle_of_confusion_mm(small):.4f} mm"
    '0.0196 mm'
    """
    return float(FULL_FRAME_CIRCLE_MM * camera.frame_diagonal_mm / np.hypot(36.0, 24.0))


@overload
def hyperfocal_distance_m(
    focal_length_mm: float, f_number: float, coc_mm: float = ...
) -> float: ...
@overload
def hyperfocal_distance_m(
    focal_length_mm: ArrayLike, f_number: ArrayLike, coc_mm: ArrayLike = ...
) -> Floats: ...
def hyperfocal_distance_m(
    focal_length_mm: ArrayLike, f_number: ArrayLike, coc_mm: ArrayLike = FULL_FRAME_CIRCLE_MM
) -> float | Floats:
    """Focus distance from which infinity is just sharp, ``H = f^2 / (N c) + f`` [Greenleaf1950].

    Parameters
    ----------
    focal_length_mm : array_like
        Millimetres.
    f_number : array_like
    coc_mm : array_like, optional
        Largest blur that counts as sharp, millimetres. All three broadcast together.

    Returns
    -------
    float or ndarray
        Metres.

    Raises
    ------
    CameraError
        For a value that is not above zero.

    Examples
    --------
    >>> from backbearing.camera import hyperfocal_distance_m
    >>> f"{hyperfocal_distance_m(35.0, 2.0, coc_mm=0.030):.1f} m"
    '20.5 m'
    """
    focal, number, circle = _optics(focal_length_mm, f_number, coc_mm)
    return plain(np.asarray((focal**2 / (number * circle) + focal) / 1e3))


@overload
def near_limit_m(
    focus_m: float,
    focal_length_mm: float,
    f_number: float,
    coc_mm: float = ...,
) -> float: ...
@overload
def near_limit_m(
    focus_m: ArrayLike,
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    coc_mm: ArrayLike = ...,
) -> Floats: ...
def near_limit_m(
    focus_m: ArrayLike,
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    coc_mm: ArrayLike = FULL_FRAME_CIRCLE_MM,
) -> float | Floats:
    """Nearest distance that is sharp, ``s (H - f) / (H + s - 2 f)`` [Greenleaf1950].

    Parameters
    ----------
    focus_m : array_like
        Distance in focus, metres; infinite gives ``H - f = f^2 / (N c)``.
    focal_length_mm, f_number, coc_mm : array_like
        Millimetres, pure number, millimetres. All four broadcast together.

    Returns
    -------
    float or ndarray
        Metres.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a focus within the focal length.

    Examples
    --------
    >>> from math import inf
    >>> from backbearing.camera import near_limit_m
    >>> f"sharp from {near_limit_m(inf, 35.0, 2.0):.1f} m on, focused on the stars"
    'sharp from 20.4 m on, focused on the stars'
    """
    focal, number, circle = _optics(focal_length_mm, f_number, coc_mm)
    inverse = _inverse_mm(focus_m, "focus_m", focal)
    reach = focal**2 / (number * circle)
    return plain(np.asarray(reach / (1.0 + (reach - focal) * inverse) / 1e3))


@overload
def far_limit_m(
    focus_m: float,
    focal_length_mm: float,
    f_number: float,
    coc_mm: float = ...,
) -> float: ...
@overload
def far_limit_m(
    focus_m: ArrayLike,
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    coc_mm: ArrayLike = ...,
) -> Floats: ...
def far_limit_m(
    focus_m: ArrayLike,
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    coc_mm: ArrayLike = FULL_FRAME_CIRCLE_MM,
) -> float | Floats:
    """Farthest distance that is sharp, ``s (H - f) / (H - s)`` [Greenleaf1950].

    Parameters
    ----------
    focus_m : array_like
        Distance in focus, metres; may be infinite.
    focal_length_mm, f_number, coc_mm : array_like
        Millimetres, pure number, millimetres. All four broadcast together.

    Returns
    -------
    float or ndarray
        Metres; infinite from the hyperfocal distance on.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a focus within the focal length.

    Examples
    --------
    >>> from backbearing.camera import far_limit_m
    >>> f"{far_limit_m(10.0, 35.0, 2.0):.1f} m"
    '19.5 m'
    """
    focal, number, circle = _optics(focal_length_mm, f_number, coc_mm)
    inverse = _inverse_mm(focus_m, "focus_m", focal)
    reach = focal**2 / (number * circle)
    room = (reach + focal) * inverse - 1.0
    sharp_to = reach / np.where(room <= 0.0, np.nan, room)
    return plain(np.asarray(np.where(room <= 0.0, np.inf, sharp_to) / 1e3))


@overload
def blur_diameter_mm(
    focal_length_mm: float,
    f_number: float,
    *,
    focus_m: float,
    object_m: float,
) -> float: ...
@overload
def blur_diameter_mm(
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    *,
    focus_m: ArrayLike,
    object_m: ArrayLike,
) -> Floats: ...
def blur_diameter_mm(
    focal_length_mm: ArrayLike,
    f_number: ArrayLike,
    *,
    focus_m: ArrayLike,
    object_m: ArrayLike,
) -> float | Floats:
    """Blur on the sensor of a point, ``f^2 |d - s| / (N d (s - f))`` [Ray2002], exact thin lens.

    Diffraction, aberrations and seeing are left out.

    Parameters
    ----------
    focal_length_mm : array_like
        Millimetres.
    f_number : array_like
    focus_m : array_like
        Distance in focus, metres; may be infinite: then ``f^2 / (N d)``.
    object_m : array_like
        Distance of the point, metres; may be infinite, for stars: then
        ``f^2 / (N (s - f))``. All four broadcast together.

    Returns
    -------
    float or ndarray
        Millimetres.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a distance within the focal length.

    Examples
    --------
    >>> from math import inf
    >>> from backbearing.camera import blur_diameter_mm
    >>> blur = blur_diameter_mm(50.0, 2.8, focus_m=inf, object_m=35.0)
    >>> f"{1000.0 * blur:.0f} um on the sensor"
    '26 um on the sensor'
    """
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    number = positive(f_number, "f_number", "such as 2.8")
    focus = _inverse_mm(focus_m, "focus_m", focal)
    point = _inverse_mm(object_m, "object_m", focal)
    return plain(np.asarray(focal**2 * np.abs(focus - point) / (number * (1.0 - focal * focus))))


@overload
def subject_blur_px(camera: Camera, lens: Lens, distance_m: float) -> float: ...
@overload
def subject_blur_px(camera: Camera, lens: Lens, distance_m: ArrayLike) -> Floats: ...
def subject_blur_px(camera: Camera, lens: Lens, distance_m: ArrayLike) -> float | Floats:
    """Blur of a subject when the stars are in focus, pixels: `blur_diameter_mm` by pixel.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    distance_m : array_like
        Distance of the subject, metres.

    Returns
    -------
    float or ndarray
        Pixels.

    Raises
    ------
    CameraError
        For a distance within the focal length.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, subject_blur_px
    >>> f"{subject_blur_px(Camera(), Lens(focal_length_mm=40.0, f_number=2.0), 25.0):.1f} pixels"
    '5.3 pixels'
    """
    blur_mm = blur_diameter_mm(
        lens.focal_length_mm, lens.f_number, focus_m=np.inf, object_m=distance_m
    )
    return plain(np.asarray(blur_mm * 1e3 / camera.pixel_pitch_um))


@overload
def star_blur_px(camera: Camera, lens: Lens, focus_m: float) -> float: ...
@overload
def star_blur_px(camera: Camera, lens: Lens, focus_m: ArrayLike) -> Floats: ...
def star_blur_px(camera: Camera, lens: Lens, focus_m: ArrayLike) -> float | Floats:
    """Blur of a star when the focus is at `focus_m`, pixels: `blur_diameter_mm` by pixel.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    focus_m : array_like
        Distance in focus, metres.

    Returns
    -------
    float or ndarray
        Pixels.

    Raises
    ------
    CameraError
        For a distance within the focal length.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, star_blur_px
    >>> f"{star_blur_px(Camera(), Lens(focal_length_mm=40.0, f_number=2.0), 25.0):.1f} pixels"
    '5.3 pixels'
    """
    blur_mm = blur_diameter_mm(
        lens.focal_length_mm, lens.f_number, focus_m=focus_m, object_m=np.inf
    )
    return plain(np.asarray(blur_mm * 1e3 / camera.pixel_pitch_um))


def _optics(
    focal_length_mm: ArrayLike, f_number: ArrayLike, coc_mm: ArrayLike
) -> tuple[Floats, Floats, Floats]:
    return (
        positive(focal_length_mm, "focal_length_mm", "millimetres"),
        positive(f_number, "f_number", "such as 2.8"),
        positive(coc_mm, "coc_mm", "millimetres"),
    )


def _inverse_mm(distance_m: ArrayLike, key: str, focal_mm: Floats) -> Floats:
    """Return 1 / distance in 1/mm, so that infinity is an ordinary zero."""
    inverse = 1e-3 / positive(distance_m, key, "metres", infinite=True)
    if np.any(inverse * focal_mm >= 1.0):
        raise CameraError(
            f"{key} lies within the focal length, where nothing can be in focus",
            hint="write a larger distance in metres",
            key=key,
        )
    return np.asarray(inverse)
