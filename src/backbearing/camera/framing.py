"""Where a direction falls in the frame, and what a place in the frame looks at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, overload

import numpy as np

from backbearing.base.errors import CameraError
from backbearing.camera._numbers import Floats, plain, require_number, within
from backbearing.camera.angles import (
    FieldOfView,
    SubjectAngle,
    angle_from_axis_deg,
    angle_of_view,
    field_of_view,
    height_on_sensor_mm,
    subject_angle_deg,
)
from backbearing.camera.bodies_and_lenses import Camera, Lens, check_pair
from backbearing.camera.projection import (
    directions_of_rays,
    rays_of_directions,
    rays_of_sensor,
    sensor_of_rays,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = [
    "FieldOfView",
    "Frame",
    "SubjectAngle",
    "angle_from_axis_deg",
    "angle_of_view",
    "field_of_view",
    "frame_direction",
    "frame_position",
    "height_on_sensor_mm",
    "subject_angle_deg",
]


def frame_position(
    camera: Camera,
    lens: Lens,
    *,
    axis_azimuth_deg: ArrayLike,
    pitch_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    altitude_deg: ArrayLike,
) -> tuple[Floats, Floats]:
    """Find where directions fall in the frame of a level camera.

    Exact projection [Calabretta2002], no lens distortion.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    axis_azimuth_deg, pitch_deg : array_like
        Where the lens's axis points, degrees; pitch is positive upwards.
    azimuth_deg, altitude_deg : array_like
        Directions, degrees. All four broadcast together.

    Returns
    -------
    x, y : ndarray
        Fractions of the frame from its left and its bottom edge; outside 0..1 is out
        of frame, NaN is behind a rectilinear camera or unknown.

    Raises
    ------
    CameraError
        For a pitch beyond 90 degrees, or a fisheye that cannot fill the frame.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, frame_position
    >>> x, y = frame_position(
    ...     Camera(), Lens(focal_length_mm=50.0),
    ...     axis_azimuth_deg=149.0, pitch_deg=6.6, azimuth_deg=149.0, altitude_deg=15.0,
    ... )
    >>> f"{float(x):.2f} from the left, {float(y):.2f} from below"
    '0.50 from the left, 0.81 from below'
    """
    check_pair(camera, lens)
    right, up, forward = rays_of_directions(
        np.asarray(azimuth_deg, dtype=np.float64),
        within(altitude_deg, "altitude_deg", "degrees", low=-90.0, high=90.0),
        axis_azimuth_deg=np.asarray(axis_azimuth_deg, dtype=np.float64),
        pitch_deg=within(pitch_deg, "pitch_deg", "degrees", low=-90.0, high=90.0),
    )
    x_mm, y_mm = sensor_of_rays(lens, right, up, forward)
    return (
        np.asarray(0.5 + x_mm / camera.frame_width_mm),
        np.asarray(0.5 + (y_mm - lens.rise_mm) / camera.frame_height_mm),
    )


def frame_position_of_vectors(  # a frame and a vector
    camera: Camera,
    lens: Lens,
    *,
    axis_azimuth_deg: float,
    pitch_deg: float,
    east: Floats,
    north: Floats,
    up: Floats,
) -> tuple[Floats, Floats]:
    """Do as `frame_position` for vectors from the lens, of any length; no angles are needed.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    axis_azimuth_deg, pitch_deg : float
        Where the lens's axis points, degrees.
    east, north, up : ndarray
        Of shapes that broadcast together.

    Returns
    -------
    x, y : ndarray
        Fractions of the frame from its left and its bottom edge; NaN behind a rectilinear
        camera, and for no vector at all.
    """
    vectors = turned_into_axes(
        axis_azimuth_deg=axis_azimuth_deg, pitch_deg=pitch_deg, east=east, north=north, up=up
    )
    return vectors.frame_position(camera, lens)


class VectorsInAxes(NamedTuple):
    """Vectors from the lens along the camera's axes, of any length; see `turned_into_axes`.

    ``upward_by`` and ``forward_by`` are what a metre straight up adds to two of them.
    """

    right: Floats
    upward: Floats
    forward: Floats
    upward_by: Floats
    forward_by: Floats

    def raised(self, over_m: float) -> VectorsInAxes:
        """The same with their ends so much higher."""
        return self._replace(
            upward=self.upward + self.upward_by * over_m,
            forward=self.forward + self.forward_by * over_m,
        )

    def rows(self, some: NDArray[np.bool_]) -> VectorsInAxes:
        """Some of the vectors, all of one camera."""
        return self._replace(
            right=self.right[some], upward=self.upward[some], forward=self.forward[some]
        )

    def frame_position(self, camera: Camera, lens: Lens) -> tuple[Floats, Floats]:
        """Where they lie in the frame; see `frame_position_of_vectors`."""
        right, upward, forward = self.right, self.upward, self.forward
        with np.errstate(invalid="ignore", divide="ignore"):
            # A rectilinear frame only divides by what lies ahead: it needs no unit vectors.
            if lens.projection != "rectilinear":
                scale = 1.0 / np.sqrt(right**2 + upward**2 + forward**2)
                right, upward, forward = right * scale, upward * scale, forward * scale
            x_mm, y_mm = sensor_of_rays(lens, right, upward, forward)
        return (
            np.asarray(0.5 + x_mm / camera.frame_width_mm),
            np.asarray(0.5 + (y_mm - lens.rise_mm) / camera.frame_height_mm),
        )


def turned_into_axes(
    *, axis_azimuth_deg: float, pitch_deg: float, east: Floats, north: Floats, up: Floats
) -> VectorsInAxes:
    """Turn vectors from the lens, of shapes that broadcast together, into the camera's axes.

    For many heights over the same ground: turned once, then raised.
    """
    azimuth, pitch = np.radians(axis_azimuth_deg), np.radians(pitch_deg)
    right = east * np.cos(azimuth) - north * np.sin(azimuth)
    level = east * np.sin(azimuth) + north * np.cos(azimuth)
    with np.errstate(invalid="ignore"):
        upward = np.cos(pitch) * up - np.sin(pitch) * level
        forward = np.cos(pitch) * level + np.sin(pitch) * up
    return VectorsInAxes(right, upward, forward, np.cos(pitch), np.sin(pitch))


def frame_direction(
    camera: Camera,
    lens: Lens,
    *,
    axis_azimuth_deg: ArrayLike,
    pitch_deg: ArrayLike,
    x: ArrayLike,
    y: ArrayLike,
) -> tuple[Floats, Floats]:
    """Find the directions that places in the frame look at: `frame_position` undone.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    axis_azimuth_deg, pitch_deg : array_like
        Where the lens's axis points, degrees.
    x, y : array_like
        Fractions from the left and the bottom edge; may lie outside 0..1. All four
        broadcast together.

    Returns
    -------
    azimuth_deg, altitude_deg : ndarray
        Azimuth 0 to below 360; NaN beyond the image of a fisheye.

    Raises
    ------
    CameraError
        For a pitch beyond 90 degrees, or a fisheye that cannot fill the frame.

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens, frame_direction
    >>> azimuth_deg, altitude_deg = frame_direction(
    ...     Camera(), Lens(focal_length_mm=20.0),
    ...     axis_azimuth_deg=159.0, pitch_deg=19.0, x=1.0, y=1.0,
    ... )
    >>> f"upper right corner: {float(azimuth_deg):.1f}, {float(altitude_deg):.1f} degrees"
    'upper right corner: 209.2, 37.3 degrees'
    """
    check_pair(camera, lens)
    x_mm = (np.asarray(x, dtype=np.float64) - 0.5) * camera.frame_width_mm
    y_mm = (np.asarray(y, dtype=np.float64) - 0.5) * camera.frame_height_mm + lens.rise_mm
    azimuth, altitude = directions_of_rays(
        *rays_of_sensor(lens, x_mm, y_mm),
        axis_azimuth_deg=np.asarray(axis_azimuth_deg, dtype=np.float64),
        pitch_deg=within(pitch_deg, "pitch_deg", "degrees", low=-90.0, high=90.0),
    )
    shape = np.broadcast_shapes(azimuth.shape, altitude.shape)
    return np.broadcast_to(azimuth, shape).copy(), np.broadcast_to(altitude, shape).copy()


@dataclass(frozen=True, slots=True)
class Frame:
    """A camera and lens pointed somewhere, level.

    Parameters
    ----------
    camera : Camera
    lens : Lens
    pitch_deg : float
        Altitude of the lens's axis, degrees; it is also that of the frame's centre
        unless the lens has a rise.
    azimuth_deg : float
        Azimuth of the lens's axis, degrees.

    Raises
    ------
    CameraError
        For angles that are not finite, a pitch beyond 90 degrees, or a fisheye that
        cannot fill the frame.

    Examples
    --------
    >>> from backbearing.camera import Camera, Frame, Lens
    >>> frame = Frame(Camera(), Lens(focal_length_mm=20.0), pitch_deg=19.0, azimuth_deg=159.0)
    >>> x, y = frame.place(165.0, 25.0)
    >>> f"{x:.2f} from the left, {y:.2f} from below"
    '0.55 from the left, 0.59 from below'
    """

    camera: Camera
    lens: Lens
    pitch_deg: float
    azimuth_deg: float

    def __post_init__(self) -> None:
        require_number(self.azimuth_deg, "azimuth_deg", "degrees", above=-np.inf)
        require_number(self.pitch_deg, "pitch_deg", "degrees", above=-np.inf)
        within(self.pitch_deg, "pitch_deg", "degrees", low=-90.0, high=90.0)
        check_pair(self.camera, self.lens)

    @overload
    def place(self, azimuth_deg: float, altitude_deg: float) -> tuple[float, float]: ...
    @overload
    def place(self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> tuple[Floats, Floats]: ...
    def place(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike
    ) -> tuple[float | Floats, float | Floats]:
        """Return ``x, y`` of directions as fractions of the frame; see `frame_position`."""
        x, y = frame_position(
            self.camera,
            self.lens,
            axis_azimuth_deg=self.azimuth_deg,
            pitch_deg=self.pitch_deg,
            azimuth_deg=azimuth_deg,
            altitude_deg=altitude_deg,
        )
        return plain(x), plain(y)

    @overload
    def direction(self, x: float, y: float) -> tuple[float, float]: ...
    @overload
    def direction(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]: ...
    def direction(self, x: ArrayLike, y: ArrayLike) -> tuple[float | Floats, float | Floats]:
        """Return azimuth and altitude of places in the frame; see `frame_direction`."""
        azimuth, altitude = frame_direction(
            self.camera,
            self.lens,
            axis_azimuth_deg=self.azimuth_deg,
            pitch_deg=self.pitch_deg,
            x=x,
            y=y,
        )
        return plain(azimuth), plain(altitude)

    def outline(self, points_per_edge: int = 2) -> tuple[Floats, Floats]:
        """Return the directions around the frame's edge, anticlockwise from lower left.

        Parameters
        ----------
        points_per_edge : int
            Points on each edge, its first corner included and its last left out; 1
            gives the four corners.

        Returns
        -------
        azimuth_deg, altitude_deg : ndarray, shape (4 * points_per_edge,)
        """
        if points_per_edge < 1:
            raise CameraError(f"points_per_edge is {points_per_edge}", hint="write 1 or more")
        step = np.arange(points_per_edge) / points_per_edge
        zero, one = np.zeros_like(step), np.ones_like(step)
        x = np.concatenate([step, one, 1.0 - step, zero])
        y = np.concatenate([zero, step, one, 1.0 - step])
        return self.direction(x, y)

    def holds(
        self, azimuth_deg: ArrayLike, altitude_deg: ArrayLike, *, edge_margin: float = 0.0
    ) -> NDArray[np.bool_]:
        """Tell which directions lie in the frame, `edge_margin` (a fraction) from its edges."""
        x, y = self.place(np.asarray(azimuth_deg), np.asarray(altitude_deg))
        low, high = edge_margin, 1.0 - edge_margin
        return np.asarray((x >= low) & (x <= high) & (y >= low) & (y <= high))
