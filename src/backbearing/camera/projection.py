"""From directions to millimetres on the sensor and back, exactly.

Camera axes: ``right``, ``up`` and ``forward`` along the lens's axis, the camera level
(no roll). On the sensor ``x_mm`` runs to the right and ``y_mm`` upwards in the upright
picture, both from the lens's axis.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.errors import CameraError

if TYPE_CHECKING:
    from backbearing.camera._numbers import Floats
    from backbearing.camera.bodies_and_lenses import Lens, Projection


def rays_of_directions(
    azimuth_deg: Floats, altitude_deg: Floats, *, axis_azimuth_deg: Floats, pitch_deg: Floats
) -> tuple[Floats, Floats, Floats]:
    """Turn directions into unit vectors along the camera's axes.

    Parameters
    ----------
    azimuth_deg, altitude_deg : ndarray
        Directions, degrees; any shapes that broadcast.
    axis_azimuth_deg, pitch_deg : ndarray
        Where the lens's axis points, degrees.

    Returns
    -------
    tuple of ndarray
        ``right, up, forward``.
    """
    turn = np.radians(azimuth_deg - axis_azimuth_deg)
    altitude, pitch = np.radians(altitude_deg), np.radians(pitch_deg)
    level = np.cos(altitude) * np.cos(turn)
    height = np.sin(altitude)
    right = np.cos(altitude) * np.sin(turn)
    up = np.cos(pitch) * height - np.sin(pitch) * level
    forward = np.cos(pitch) * level + np.sin(pitch) * height
    return right, up, forward


def directions_of_rays(
    right: Floats, up: Floats, forward: Floats, *, axis_azimuth_deg: Floats, pitch_deg: Floats
) -> tuple[Floats, Floats]:
    """Turn vectors along the camera's axes into azimuth and altitude.

    Parameters
    ----------
    right, up, forward : ndarray
        Vectors of any length; any shapes that broadcast.
    axis_azimuth_deg, pitch_deg : ndarray
        Where the lens's axis points, degrees.

    Returns
    -------
    tuple of ndarray
        Azimuth 0 to below 360, and altitude, degrees.
    """
    pitch = np.radians(pitch_deg)
    level = np.cos(pitch) * forward - np.sin(pitch) * up
    height = np.sin(pitch) * forward + np.cos(pitch) * up
    azimuth = wrap_360_deg(np.asarray(np.degrees(np.arctan2(right, level)) + axis_azimuth_deg))
    altitude = np.degrees(np.arctan2(height, np.hypot(right, level)))
    return azimuth, altitude


def sensor_of_rays(lens: Lens, right: Floats, up: Floats, forward: Floats) -> tuple[Floats, Floats]:
    """Project unit vectors onto the sensor.

    Rectilinear: gnomonic, ``r = f tan(theta)`` [Calabretta2002 TAN]. Equisolid:
    ``r = 2 f sin(theta / 2)``, the zenithal equal-area projection [Calabretta2002 ZEA].

    Parameters
    ----------
    lens : Lens
    right, up, forward : ndarray
        Unit vectors along the camera's axes; of any length for a rectilinear lens.

    Returns
    -------
    tuple of ndarray
        ``x_mm, y_mm`` from the axis; NaN behind a rectilinear camera, and exactly
        opposite to the axis of a fisheye.
    """
    if lens.projection == "rectilinear":
        depth = np.where(forward > 0.0, forward, np.nan)
    else:
        half_cosine = np.sqrt(np.maximum(0.0, (1.0 + forward) / 2.0))
        depth = np.where(half_cosine > 0.0, half_cosine, np.nan)
    scale = lens.focal_length_mm / depth
    return right * scale, up * scale


def rays_of_sensor(lens: Lens, x_mm: Floats, y_mm: Floats) -> tuple[Floats, Floats, Floats]:
    """Find the unit vectors that meet the sensor at the given places.

    The inverse of `sensor_of_rays`, same formulas.

    Parameters
    ----------
    lens : Lens
    x_mm, y_mm : ndarray
        Millimetres from the axis.

    Returns
    -------
    tuple of ndarray
        ``right, up, forward``; NaN beyond the image of a fisheye, two focal lengths
        from the axis.
    """
    x, y = x_mm / lens.focal_length_mm, y_mm / lens.focal_length_mm
    if lens.projection == "rectilinear":
        forward = 1.0 / np.sqrt(1.0 + x * x + y * y)
        return x * forward, y * forward, forward
    half_sine_squared = (x * x + y * y) / 4.0
    known = np.where(half_sine_squared <= 1.0, half_sine_squared, np.nan)
    half_cosine = np.sqrt(1.0 - known)
    return x * half_cosine, y * half_cosine, 1.0 - 2.0 * known


def radius_of_angle_mm(
    focal_length_mm: Floats, angle_deg: Floats, projection: Projection
) -> Floats:
    """Signed distance from the axis at which a signed angle lands, millimetres.

    Parameters
    ----------
    focal_length_mm, angle_deg : ndarray
        Any shapes that broadcast.
    projection : {"rectilinear", "equisolid"}

    Returns
    -------
    ndarray
        NaN at 90 degrees and beyond for rectilinear, beyond 180 for equisolid.

    Raises
    ------
    CameraError
        For an unknown projection.
    """
    check_projection(projection)
    if projection == "rectilinear":
        seen = np.where(np.abs(angle_deg) < 90.0, angle_deg, np.nan)
        return np.asarray(focal_length_mm * np.tan(np.radians(seen)))
    seen = np.where(np.abs(angle_deg) <= 180.0, angle_deg, np.nan)
    return np.asarray(2.0 * focal_length_mm * np.sin(np.radians(seen) / 2.0))


def angle_of_radius_deg(
    focal_length_mm: Floats, radius_mm: Floats, projection: Projection
) -> Floats:
    """Signed angle from the axis of a signed distance on the sensor, degrees.

    Parameters
    ----------
    focal_length_mm, radius_mm : ndarray
        Any shapes that broadcast.
    projection : {"rectilinear", "equisolid"}

    Returns
    -------
    ndarray
        NaN beyond two focal lengths for equisolid.

    Raises
    ------
    CameraError
        For an unknown projection.
    """
    check_projection(projection)
    ratio = np.asarray(radius_mm / focal_length_mm)
    if projection == "rectilinear":
        return np.asarray(np.degrees(np.arctan(ratio)))
    half = np.where(np.abs(ratio) <= 2.0, ratio / 2.0, np.nan)
    return np.asarray(2.0 * np.degrees(np.arcsin(half)))


def check_projection(projection: str) -> None:
    """Refuse a projection that is not known.

    Raises
    ------
    CameraError
        When it is neither ``"rectilinear"`` nor ``"equisolid"``.
    """
    if projection not in ("rectilinear", "equisolid"):
        raise CameraError(
            f"Lens projection is {projection!r}",
            hint='write "rectilinear" for an ordinary lens or "equisolid" for a fisheye',
            key="projection",
        )
