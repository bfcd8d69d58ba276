"""How a camera was held, from what is known in its frame; and where its pixels look.

Two or more points whose directions are known fix all three angles: the rotation that lays the
rays upon the directions best is found by a singular value decomposition [Markley1988]_. With one
point, or an azimuth and a tilt, the roll must be told.

Columns and rows count from 0 at the middle of the top left pixel, as programs that show pictures
do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.base.angles import angle_between_deg, unit_vectors, wrap_360_deg
from backbearing.base.errors import CameraError
from backbearing.base.numbers import num
from backbearing.camera.projection import directions_of_rays, rays_of_sensor

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from backbearing.camera._numbers import Floats
    from backbearing.camera.bodies_and_lenses import Lens

LEAST_APART_DEG = 1.0
"""Known points nearer one another than this do not tell how a camera was turned about them."""


class KnownPoint(NamedTuple):
    """A point of the frame whose direction is known, or one of its two angles; NaN is unknown."""

    column_px: float
    row_px: float
    azimuth_deg: float
    altitude_deg: float

    @property
    def is_whole(self) -> bool:
        """Whether both angles are known."""
        return math.isfinite(self.azimuth_deg) and math.isfinite(self.altitude_deg)


@dataclass(frozen=True, slots=True)
class FrameOptics:
    """A frame as it came from the camera, uncropped: its lens, pixels and their size.

    Attributes
    ----------
    lens : Lens
        No distortion is known of it.
    width_px, height_px : int
        Of the picture as one looks at it.
    pixel_mm : float
        From pixel to pixel on the sensor, millimetres.
    """

    lens: Lens
    width_px: int
    height_px: int
    pixel_mm: float

    @property
    def pixel_deg(self) -> float:
        """Angle of a pixel in the middle of the frame, degrees."""
        return math.degrees(math.atan(self.pixel_mm / self.lens.focal_length_mm))

    def rays(self, column_px: ArrayLike, row_px: ArrayLike) -> tuple[Floats, Floats, Floats]:
        """Unit vectors along the camera's own ``right, up, forward``."""
        column, row = (np.asarray(v, dtype=np.float64) for v in (column_px, row_px))
        x = (column - (self.width_px - 1) / 2.0) * self.pixel_mm
        y = ((self.height_px - 1) / 2.0 - row) * self.pixel_mm
        return rays_of_sensor(self.lens, x, y + self.lens.rise_mm)


@dataclass(frozen=True, slots=True)
class Attitude:
    """Where a lens's axis pointed and how the camera was rolled, degrees.

    Attributes
    ----------
    azimuth_deg, pitch_deg : float
        Of the axis; pitch is positive upwards.
    roll_deg : float
        Clockwise as seen from behind the camera.
    misfit_deg : float
        Root mean square of what the known points are off; 0 where no more is known than needed.
    """

    azimuth_deg: float
    pitch_deg: float
    roll_deg: float = 0.0
    misfit_deg: float = 0.0

    def directions(
        self, optics: FrameOptics, column_px: ArrayLike, row_px: ArrayLike
    ) -> tuple[Floats, Floats]:
        """True azimuths and altitudes that pixels look at, degrees; shapes broadcast.

        Examples
        --------
        >>> from backbearing.camera import Lens
        >>> from backbearing.camera.frame_attitude import Attitude, FrameOptics
        >>> optics = FrameOptics(Lens(focal_length_mm=50.0), 6001, 4001, 0.006)
        >>> azimuth, altitude = Attitude(150.0, 5.0).directions(optics, 3000.0, 1000.0)
        >>> f"{float(azimuth):.1f}, {float(altitude):.2f}"
        '150.0, 11.84'
        """
        right, up, forward = _levelled(optics.rays(column_px, row_px), self.roll_deg)
        return directions_of_rays(
            right, up, forward,
            axis_azimuth_deg=np.asarray(self.azimuth_deg), pitch_deg=np.asarray(self.pitch_deg),
        )  # fmt: skip


def attitude_of(
    optics: FrameOptics,
    known: Sequence[KnownPoint],
    *,
    pitch_deg: float | None = None,
    roll_deg: float = 0.0,
) -> Attitude:
    """Find how a camera was held.

    Parameters
    ----------
    optics : FrameOptics
    known : sequence of KnownPoint
        Two whole ones fix everything. Else one azimuth, and one altitude or ``pitch_deg``.
    pitch_deg : float, optional
        Of the axis, where it was read off a level.
    roll_deg : float
        Clockwise as seen from behind.

    Raises
    ------
    CameraError
        When too little is known, or what is known cannot be.
    """
    whole = [one for one in known if one.is_whole]
    if len(whole) >= 2 and pitch_deg is None:
        return _best(optics, whole)
    pitch = pitch_deg if pitch_deg is not None else _pitch(optics, known, roll_deg)
    turned = next((one for one in known if math.isfinite(one.azimuth_deg)), None)
    if turned is None:
        raise CameraError(
            "No azimuth is known in the frame", hint="name the azimuth of one of its columns"
        )
    own = Attitude(0.0, pitch, roll_deg)
    azimuth, _ = own.directions(optics, turned.column_px, turned.row_px)
    return Attitude(float(wrap_360_deg(turned.azimuth_deg - float(azimuth))), pitch, roll_deg)


def _pitch(optics: FrameOptics, known: Sequence[KnownPoint], roll_deg: float) -> float:
    """Pitch of the axis that puts a point of known altitude there."""
    one = next((one for one in known if math.isfinite(one.altitude_deg)), None)
    if one is None:
        raise CameraError(
            "No altitude is known in the frame",
            hint="name the row of the level horizon, the altitude of a point, or the tilt",
        )
    _, up, forward = _levelled(optics.rays(one.column_px, one.row_px), roll_deg)
    size = float(np.hypot(up, forward))
    sine = math.sin(math.radians(one.altitude_deg)) / size if size > 0.0 else math.nan
    if not abs(sine) <= 1.0:
        raise CameraError(
            f"No tilt of this lens shows an altitude of {num(one.altitude_deg, 1)} degrees at "
            f"column {num(one.column_px, 0)}, row {num(one.row_px, 0)}",
            hint="check the point and the focal length",
        )
    return math.degrees(math.asin(sine) - float(np.arctan2(up, forward)))


def _best(optics: FrameOptics, known: Sequence[KnownPoint]) -> Attitude:
    """The rotation that lays rays upon known directions with the least squares left."""
    column, row, azimuth, altitude = np.array(known).T
    right, up, forward = optics.rays(column, row)
    own = np.stack([right, forward, up])
    # East, north and up of directions: azimuth runs from north to east.
    world = unit_vectors(lon_deg=90.0 - azimuth, lat_deg=altitude)
    apart = angle_between_deg(
        lon1_deg=azimuth[0], lat1_deg=altitude[0], lon2_deg=azimuth[1:], lat2_deg=altitude[1:]
    )
    if not np.max(apart) >= LEAST_APART_DEG:
        raise CameraError(
            f"The known points lie within {num(LEAST_APART_DEG)} degree of one another",
            hint="name points far apart in the frame",
        )
    left, _, right_t = np.linalg.svd(world @ own.T)
    sign = np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right_t))])
    turn = left @ sign @ right_t
    axis, sideways = turn[:, 1], turn[:, 0]
    heading, pitch = math.atan2(axis[0], axis[1]), math.asin(float(np.clip(axis[2], -1.0, 1.0)))
    level = np.array([math.cos(heading), -math.sin(heading), 0.0])
    upright = np.array(
        [-math.sin(pitch) * math.sin(heading), -math.sin(pitch) * math.cos(heading),
         math.cos(pitch)]
    )  # fmt: skip
    roll = math.atan2(-float(sideways @ upright), float(sideways @ level))
    left_over = np.degrees(np.linalg.norm(world - turn @ own, axis=0))
    return Attitude(
        float(wrap_360_deg(math.degrees(heading))),
        math.degrees(pitch),
        math.degrees(roll),
        float(np.sqrt(np.mean(left_over**2))),
    )


def _levelled(
    rays: tuple[Floats, Floats, Floats], roll_deg: float
) -> tuple[Floats, Floats, Floats]:
    """Turn rays from the axes of a rolled camera to those of a level one."""
    right, up, forward = rays
    cos, sin = math.cos(math.radians(roll_deg)), math.sin(math.radians(roll_deg))
    return right * cos + up * sin, up * cos - right * sin, forward
