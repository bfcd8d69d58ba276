"""How far the stars run across the pixels while the shutter is open."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, overload

import numpy as np

from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.camera._numbers import Floats, plain, positive, within
from backbearing.camera.bodies_and_lenses import Camera, Lens, check_pair
from backbearing.camera.projection import rays_of_directions, rays_of_sensor, sensor_of_rays

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

_LONGEST_CHORD_RAD = math.radians(1.0)


@overload
def trail_length_px(
    shutter_s: float, focal_length_mm: float, pixel_pitch_um: float, declination_deg: float
) -> float: ...
@overload
def trail_length_px(
    shutter_s: ArrayLike,
    focal_length_mm: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
) -> Floats: ...
def trail_length_px(
    shutter_s: ArrayLike,
    focal_length_mm: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
) -> float | Floats:
    """Trail of a star at the frame's centre, pixels: ``L = f w t cos(dec)``.

    Small-angle geometry, with the sidereal rate w [Urban2013]; `trail_at` is exact, and
    longer towards the corners of a rectilinear frame.

    Parameters
    ----------
    shutter_s : array_like
        Seconds.
    focal_length_mm : array_like
        Millimetres.
    pixel_pitch_um : array_like
        Micrometres.
    declination_deg : array_like
        Degrees. All four broadcast together.

    Returns
    -------
    float or ndarray
        Pixels.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a declination beyond 90 degrees.

    Examples
    --------
    >>> from backbearing.camera import trail_length_px
    >>> f"{trail_length_px(10.0, 35.0, 5.98, -29.0):.1f} pixels"
    '3.7 pixels'
    """
    shutter = positive(shutter_s, "shutter_s", "seconds")
    return plain(np.asarray(shutter * _rate_px_s(focal_length_mm, pixel_pitch_um, declination_deg)))


@overload
def longest_shutter_s(
    max_trail_px: float, focal_length_mm: float, pixel_pitch_um: float, declination_deg: float
) -> float: ...
@overload
def longest_shutter_s(
    max_trail_px: ArrayLike,
    focal_length_mm: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
) -> Floats: ...
def longest_shutter_s(
    max_trail_px: ArrayLike,
    focal_length_mm: ArrayLike,
    pixel_pitch_um: ArrayLike,
    declination_deg: ArrayLike,
) -> float | Floats:
    """Longest shutter that keeps the trail at the frame's centre: `trail_length_px` undone.

    Parameters
    ----------
    max_trail_px : array_like
        Trail to stay within, pixels.
    focal_length_mm : array_like
        Millimetres.
    pixel_pitch_um : array_like
        Micrometres.
    declination_deg : array_like
        Degrees. All four broadcast together.

    Returns
    -------
    float or ndarray
        Seconds; infinite at the celestial poles.

    Raises
    ------
    CameraError
        For a value that is not above zero, or a declination beyond 90 degrees.

    Examples
    --------
    >>> from backbearing.camera import longest_shutter_s
    >>> f"{longest_shutter_s(4.0, 35.0, 5.98, -29.0):.1f} s for a trail of 4 pixels"
    '10.7 s for a trail of 4 pixels'
    """
    trail = positive(max_trail_px, "max_trail_px", "pixels")
    rate = _rate_px_s(focal_length_mm, pixel_pitch_um, declination_deg)
    with np.errstate(divide="ignore"):
        return plain(np.asarray(trail / rate))


def _rate_px_s(
    focal_length_mm: ArrayLike, pixel_pitch_um: ArrayLike, declination_deg: ArrayLike
) -> Floats:
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    pitch_mm = positive(pixel_pitch_um, "pixel_pitch_um", "micrometres") / 1e3
    declination = within(declination_deg, "declination_deg", "degrees", low=-90.0, high=90.0)
    cosine = np.where(np.abs(declination) == 90.0, 0.0, np.cos(np.radians(declination)))
    return np.asarray(focal / pitch_mm * SIDEREAL_RATE_RAD_S * cosine)


@overload
def trail_at(
    camera: Camera,
    lens: Lens,
    *,
    pitch_deg: float,
    azimuth_deg: float,
    lat: float,
    x: float,
    y: float,
    shutter_s: float,
) -> float: ...
@overload
def trail_at(
    camera: Camera,
    lens: Lens,
    *,
    pitch_deg: float,
    azimuth_deg: float,
    lat: float,
    x: ArrayLike,
    y: ArrayLike,
    shutter_s: ArrayLike,
) -> Floats: ...
def trail_at(
    camera: Camera,
    lens: Lens,
    *,
    pitch_deg: float,
    azimuth_deg: float,
    lat: float,
    x: ArrayLike,
    y: ArrayLike,
    shutter_s: ArrayLike,
) -> float | Floats:
    """Trail of the stars that start at places in the frame, exactly projected.

    The directions turn about the celestial pole by the sidereal rate [Urban2013] and are
    projected again; trails of more than one degree of turn are summed along the curve.
    Refraction, which bends trails near the horizon a little, is left out.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    pitch_deg, azimuth_deg : float
        Where the lens's axis points, degrees; the camera is level.
    lat : float
        Latitude of the stand, degrees.
    x, y : array_like
        Places in the frame, fractions from its left and bottom edge.
    shutter_s : array_like
        Seconds; broadcasts with `x` and `y`.

    Returns
    -------
    float or ndarray
        Pixels; NaN where a star comes from or goes behind a rectilinear camera, or
        beyond the image of a fisheye.

    Raises
    ------
    CameraError
        For a latitude or pitch beyond 90 degrees, a shutter that is not above zero, or
        a fisheye that cannot fill the frame.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, trail_at
    >>> trail = trail_at(
    ...     Camera(), Lens(focal_length_mm=14.0),
    ...     pitch_deg=25.0, azimuth_deg=170.0, lat=36.4, x=[0.5, 0.0], y=[0.5, 1.0], shutter_s=25.0,
    ... )
    >>> f"{trail[0]:.1f} pixels in the middle, {trail[1]:.1f} in the upper left corner"
    '3.8 pixels in the middle, 10.9 in the upper left corner'
    """
    check_pair(camera, lens)
    shutter = positive(shutter_s, "shutter_s", "seconds")
    x_mm = (np.asarray(x, dtype=np.float64) - 0.5) * camera.frame_width_mm
    y_mm = (np.asarray(y, dtype=np.float64) - 0.5) * camera.frame_height_mm + lens.rise_mm
    right, up, forward = rays_of_sensor(lens, x_mm, y_mm)
    pole = _pole(pitch_deg, azimuth_deg, lat)
    longest = float(np.nanmax(shutter)) if np.any(np.isfinite(shutter)) else 0.0
    pieces = max(1, math.ceil(SIDEREAL_RATE_RAD_S * longest / _LONGEST_CHORD_RAD))
    per_mm = (
        camera.frame_width_px / camera.frame_width_mm,
        camera.frame_height_px / camera.frame_height_mm,
    )
    length: Floats = np.zeros(np.broadcast_shapes(x_mm.shape, y_mm.shape, shutter.shape))
    before = sensor_of_rays(lens, right, up, forward)
    for piece in range(1, pieces + 1):
        turn = SIDEREAL_RATE_RAD_S * shutter * (piece / pieces)
        after = sensor_of_rays(lens, *_turned(pole, (right, up, forward), turn))
        length = length + np.hypot(
            (after[0] - before[0]) * per_mm[0], (after[1] - before[1]) * per_mm[1]
        )
        before = after
    return plain(length)


def _pole(pitch_deg: float, azimuth_deg: float, lat: float) -> tuple[Floats, Floats, Floats]:
    """Return the north celestial pole along the camera's axes."""
    return rays_of_directions(
        np.zeros(()),
        within(lat, "lat", "degrees", low=-90.0, high=90.0),
        axis_azimuth_deg=np.asarray(azimuth_deg, dtype=np.float64),
        pitch_deg=within(pitch_deg, "pitch_deg", "degrees", low=-90.0, high=90.0),
    )


def _turned(
    pole: tuple[Floats, Floats, Floats], ray: tuple[Floats, Floats, Floats], turn: Floats
) -> tuple[Floats, Floats, Floats]:
    """Turn rays about the pole as the sky does, by the Rodrigues formula.

    Right, up and forward are a left-handed set: in it a positive angle is the sky's own
    sense, from east over south to west seen from the north.
    """
    (p1, p2, p3), (r1, r2, r3) = pole, ray
    along = p1 * r1 + p2 * r2 + p3 * r3
    sine, cosine = np.sin(turn), np.cos(turn)
    lift = along * (1.0 - cosine)
    return (
        r1 * cosine + (p2 * r3 - p3 * r2) * sine + p1 * lift,
        r2 * cosine + (p3 * r1 - p1 * r3) * sine + p2 * lift,
        r3 * cosine + (p1 * r2 - p2 * r1) * sine + p3 * lift,
    )
