"""What the plan's pointing says of the trails: length and angle anywhere in the frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, east_north_up
from backbearing.base.constants import SIDEREAL_RATE_RAD_S
from backbearing.camera.framing import Frame
from backbearing.camera.trailing import trail_at

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pointing:
    """A level camera on its tripod with its shutter open so long.

    Attributes
    ----------
    camera : Camera
        Held as the frame was, with the picture's own pixel counts.
    lens : Lens
    pitch_deg, azimuth_deg : float
        Where the lens's axis points.
    lat : float
        Latitude of the stand, degrees.
    shutter_s : float

    Examples
    --------
    >>> from backbearing.camera import Camera, Lens
    >>> from backbearing.review import Pointing
    >>> aimed = Pointing(Camera(), Lens(focal_length_mm=35.0), 11.0, 152.0, 36.4, shutter_s=10.0)
    >>> length_px, angle_deg = aimed.trails(0.5, 0.5)
    >>> f"{float(length_px):.1f} pixels at {float(angle_deg):.0f} degrees"
    '3.5 pixels at 28 degrees'
    """

    camera: Camera
    lens: Lens
    pitch_deg: float
    azimuth_deg: float
    lat: float
    shutter_s: float

    def trails(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Length and angle of the trails whose middle lies at places in the frame.

        The length is that of `camera.trail_at`. The angle is that of the chord from the
        star's place half the shutter before to its place half after, the sky turned about
        the pole by the sidereal rate [Urban2013]_.

        Parameters
        ----------
        x, y : array_like
            Fractions of the frame from its left and bottom edge.

        Returns
        -------
        length_px, angle_deg : ndarray
            Degrees anticlockwise from the right in the picture, 0 to below 180; NaN where
            the sky is out of the lens's image.
        """
        frame = Frame(self.camera, self.lens, self.pitch_deg, self.azimuth_deg)
        half = SIDEREAL_RATE_RAD_S * self.shutter_s / 2.0
        x_a, y_a = frame.place(*self._turned(*frame.direction(np.asarray(x), np.asarray(y)), -half))
        x_b, y_b = frame.place(*self._turned(*frame.direction(np.asarray(x), np.asarray(y)), half))
        across = (np.asarray(x_b) - x_a) * self.camera.frame_width_px
        up = (np.asarray(y_b) - y_a) * self.camera.frame_height_px
        length = trail_at(
            self.camera,
            self.lens,
            pitch_deg=self.pitch_deg,
            azimuth_deg=self.azimuth_deg,
            lat=self.lat,
            x=np.asarray(x_a),
            y=np.asarray(y_a),
            shutter_s=self.shutter_s,
        )
        return np.asarray(length), np.asarray(np.degrees(np.arctan2(up, across)) % 180.0)

    def directions(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Azimuth and altitude that places in the frame look at, degrees."""
        frame = Frame(self.camera, self.lens, self.pitch_deg, self.azimuth_deg)
        azimuth, altitude = frame.direction(np.asarray(x), np.asarray(y))
        return np.asarray(azimuth), np.asarray(altitude)

    def _turned(
        self, azimuth_deg: Floats, altitude_deg: Floats, turn: float
    ) -> tuple[Floats, Floats]:
        """Turn directions by an angle of the sky's own sense (radians, east to west)."""
        lat = np.radians(self.lat)
        east, north, up = east_north_up(azimuth_deg=azimuth_deg, altitude_deg=altitude_deg)
        # Axes of the equator: towards the meridian, east, and the pole.
        meridian, pole = (
            up * np.cos(lat) - north * np.sin(lat),
            up * np.sin(lat) + north * np.cos(lat),
        )
        meridian, east = (
            meridian * np.cos(turn) + east * np.sin(turn),
            east * np.cos(turn) - meridian * np.sin(turn),
        )
        north, up = (
            pole * np.cos(lat) - meridian * np.sin(lat),
            pole * np.sin(lat) + meridian * np.cos(lat),
        )
        return azimuth_altitude_of(east, north, up)
