"""How wide a camera sees, and the vertical plane in which a subject stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple, overload

import numpy as np

from backbearing.camera._numbers import Floats, plain, positive, require_number
from backbearing.camera.bodies_and_lenses import Camera, Lens, Projection, check_pair
from backbearing.camera.projection import angle_of_radius_deg, radius_of_angle_mm, rays_of_sensor

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


class FieldOfView(NamedTuple):
    """Angles that a camera takes in through a lens, degrees.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, field_of_view
    >>> angles = field_of_view(Camera(), Lens(focal_length_mm=14.0))
    >>> f"{angles.horizontal_deg:.1f} by {angles.vertical_deg:.1f} degrees"
    '104.3 by 81.2 degrees'
    """

    horizontal_deg: float
    vertical_deg: float
    diagonal_deg: float


class SubjectAngle(NamedTuple):
    """How tall a subject must look, and where its base lies from the lens's axis.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, subject_angle_deg
    >>> angle = subject_angle_deg(Camera(), Lens(focal_length_mm=85.0), 0.36, 0.08)
    >>> f"{angle.subtended_deg:.1f} degrees tall, its base {angle.base_deg:.1f} from the axis"
    '5.8 degrees tall, its base -6.8 from the axis'
    """

    subtended_deg: float
    base_deg: float


@overload
def angle_of_view(
    focal_length_mm: float, sensor_mm: float, projection: Projection = ...
) -> float: ...
@overload
def angle_of_view(
    focal_length_mm: ArrayLike, sensor_mm: ArrayLike, projection: Projection = ...
) -> Floats: ...
def angle_of_view(
    focal_length_mm: ArrayLike, sensor_mm: ArrayLike, projection: Projection = "rectilinear"
) -> float | Floats:
    """Angle that a length on the sensor, centred on the axis, takes in; focus at infinity.

    Rectilinear ``2 atan(s / 2f)``, equisolid ``4 asin(s / 4f)`` [Ray2002].

    Parameters
    ----------
    focal_length_mm : array_like
        Focal length, millimetres.
    sensor_mm : array_like
        Width, height or diagonal, millimetres; broadcasts with the focal length.
    projection : {"rectilinear", "equisolid"}

    Returns
    -------
    float or ndarray
        Degrees; NaN where a fisheye's image ends before the sensor does.

    Raises
    ------
    CameraError
        For a length that is not above zero or an unknown projection.

    Examples
    --------
    >>> from backbearing.camera import angle_of_view
    >>> f"{angle_of_view(50.0, 36.0):.1f} degrees"
    '39.6 degrees'
    >>> f"{angle_of_view(15.0, 36.0, 'equisolid'):.1f} degrees with a fisheye"
    '147.5 degrees with a fisheye'
    """
    focal = positive(focal_length_mm, "focal_length_mm", "millimetres")
    half = positive(sensor_mm, "sensor_mm", "millimetres") / 2.0
    return plain(np.asarray(2.0 * angle_of_radius_deg(focal, half, projection)))


def field_of_view(camera: Camera, lens: Lens) -> FieldOfView:
    """Return the angles across the middle of the frame and from corner to corner.

    Parameters
    ----------
    camera : Camera
    lens : Lens
        With a rise, the angles are those between the directions of opposite edges'
        middles and of opposite corners.

    Returns
    -------
    FieldOfView

    Raises
    ------
    CameraError
        For a fisheye that cannot fill the frame.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, field_of_view
    >>> upright = Camera(orientation="portrait")
    >>> f"{field_of_view(upright, Lens(focal_length_mm=20.0)).vertical_deg:.1f} degrees high"
    '84.0 degrees high'
    """
    check_pair(camera, lens)
    if lens.rise_mm == 0.0:
        sizes = (camera.frame_width_mm, camera.frame_height_mm, camera.frame_diagonal_mm)
        return FieldOfView(
            *(angle_of_view(lens.focal_length_mm, size, lens.projection) for size in sizes)
        )
    half_width, half_height = camera.frame_width_mm / 2.0, camera.frame_height_mm / 2.0
    x = np.array([-half_width, 0.0, -half_width]), np.array([half_width, 0.0, half_width])
    y = (
        lens.rise_mm + np.array([0.0, -half_height, -half_height]),
        lens.rise_mm + np.array([0.0, half_height, half_height]),
    )
    first = np.stack(rays_of_sensor(lens, x[0], y[0]))
    second = np.stack(rays_of_sensor(lens, x[1], y[1]))
    chord = np.linalg.norm(second - first, axis=0)
    total = np.linalg.norm(second + first, axis=0)
    return FieldOfView(*(2.0 * np.degrees(np.arctan2(chord, total))).tolist())


@overload
def angle_from_axis_deg(lens: Lens, y_mm: float) -> float: ...
@overload
def angle_from_axis_deg(lens: Lens, y_mm: ArrayLike) -> Floats: ...
def angle_from_axis_deg(lens: Lens, y_mm: ArrayLike) -> float | Floats:
    """Signed angle from the lens's axis, in the vertical plane through it.

    Parameters
    ----------
    lens : Lens
    y_mm : array_like
        Height above the axis on the sensor (upright picture), millimetres.

    Returns
    -------
    float or ndarray
        Degrees, positive upwards; NaN beyond the image of a fisheye.

    Examples
    --------
    >>> from backbearing.camera import Lens, angle_from_axis_deg
    >>> f"{angle_from_axis_deg(Lens(focal_length_mm=24.0), 12.0):.2f} degrees at the upper edge"
    '26.57 degrees at the upper edge'
    """
    return plain(
        angle_of_radius_deg(
            np.asarray(lens.focal_length_mm), np.asarray(y_mm, dtype=np.float64), lens.projection
        )
    )


@overload
def height_on_sensor_mm(lens: Lens, angle_deg: float) -> float: ...
@overload
def height_on_sensor_mm(lens: Lens, angle_deg: ArrayLike) -> Floats: ...
def height_on_sensor_mm(lens: Lens, angle_deg: ArrayLike) -> float | Floats:
    """Height on the sensor of a signed angle in the vertical plane through the axis.

    The inverse of `angle_from_axis_deg`.

    Parameters
    ----------
    lens : Lens
    angle_deg : array_like
        Degrees from the axis, positive upwards.

    Returns
    -------
    float or ndarray
        Millimetres above the axis; NaN at 90 degrees and beyond for rectilinear.

    Examples
    --------
    >>> from backbearing.camera import Lens, height_on_sensor_mm
    >>> f"{height_on_sensor_mm(Lens(focal_length_mm=40.0), 10.0):.2f} mm above the axis"
    '7.05 mm above the axis'
    """
    return plain(
        radius_of_angle_mm(
            np.asarray(lens.focal_length_mm),
            np.asarray(angle_deg, dtype=np.float64),
            lens.projection,
        )
    )


def subject_angle_deg(camera: Camera, lens: Lens, share: float, base_margin: float) -> SubjectAngle:
    """Angles of a subject that takes `share` of the frame's height above `base_margin`.

    In the vertical plane through the lens's axis. The pitch that puts the base there
    is the base's altitude less ``base_deg``; the subject must subtend
    ``subtended_deg`` as seen from the lens.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    share : float
        Fraction of the frame's height.
    base_margin : float
        Fraction of the frame's height left below the base; negative puts the base
        below the frame.

    Returns
    -------
    SubjectAngle
        Subtended angle, and the base's angle from the axis (positive upwards), degrees.

    Raises
    ------
    CameraError
        For a share that is not above zero, or a fisheye that cannot fill the frame.

    Examples
    --------
    >>> from math import radians, tan
    >>> from backbearing.camera import Camera, Lens, subject_angle_deg
    >>> angle = subject_angle_deg(Camera(), Lens(focal_length_mm=85.0), 0.36, 0.08)
    >>> f"about {6.0 / tan(radians(angle.subtended_deg)):.0f} m from a tree of 6 m"
    'about 59 m from a tree of 6 m'
    """
    check_pair(camera, lens)
    require_number(share, "share", "a fraction of the frame's height")
    require_number(base_margin, "base_margin", "a fraction", above=-np.inf)
    base_mm = lens.rise_mm + (base_margin - 0.5) * camera.frame_height_mm
    base_deg = angle_from_axis_deg(lens, base_mm)
    top_deg = angle_from_axis_deg(lens, base_mm + share * camera.frame_height_mm)
    return SubjectAngle(top_deg - base_deg, base_deg)
