"""Angles on the circle and on the sphere: turns taken off, unit vectors, the angle between.

A longitude here is any angle round an axis and a latitude any angle from the plane across it:
places on the Earth, azimuth and altitude, right ascension and declination. Degrees in and out;
arrays broadcast.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, overload

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@overload
def wrap_180_deg(angle_deg: float) -> float: ...
@overload
def wrap_180_deg(angle_deg: Floats) -> Floats: ...
def wrap_180_deg(angle_deg: float | Floats) -> float | Floats:
    """Take whole turns off angles: -180 up to and without 180; NaN stays NaN.

    Examples
    --------
    >>> wrap_180_deg(350.0), wrap_180_deg(180.0)
    (-10.0, -180.0)
    """
    return (angle_deg + 180.0) % 360.0 - 180.0


@overload
def wrap_360_deg(angle_deg: float) -> float: ...
@overload
def wrap_360_deg(angle_deg: Floats) -> Floats: ...
def wrap_360_deg(angle_deg: float | Floats) -> float | Floats:
    """Take whole turns off angles: 0 up to and without 360; NaN stays NaN.

    Examples
    --------
    >>> wrap_360_deg(-10.0), wrap_360_deg(360.0)
    (350.0, 0.0)
    """
    turned = angle_deg % 360.0
    # A hair below nothing rounds up to a full turn.
    if isinstance(turned, np.ndarray):
        return np.where(turned >= 360.0, 0.0, turned)
    return turned if turned < 360.0 or turned != turned else 0.0  # noqa: PLR0124  # NaN


def azimuth_of(east: ArrayLike, north: ArrayLike) -> Floats:
    """Azimuth of directions given east and north, degrees clockwise from north, 0 to below 360.

    That of nothing at all is 0.
    """
    azimuth = np.degrees(np.arctan2(east, north))
    azimuth = np.where(azimuth < 0.0, azimuth + 360.0, azimuth)
    # A hair west of north rounds up to a full turn.
    return np.where(azimuth >= 360.0, 0.0, azimuth)


def azimuth_altitude_of(east: ArrayLike, north: ArrayLike, up: ArrayLike) -> tuple[Floats, Floats]:
    """Azimuth (0 to below 360) and altitude of vectors of any length, degrees."""
    altitude = np.degrees(np.arctan2(up, np.hypot(east, north)))
    return azimuth_of(east, north), np.asarray(altitude)


def east_north_up(*, azimuth_deg: ArrayLike, altitude_deg: ArrayLike) -> Floats:
    """Unit vectors of directions, shape (3, ...): `azimuth_altitude_of` undone."""
    north, east, up = unit_vectors(lon_deg=azimuth_deg, lat_deg=altitude_deg)
    return np.stack([east, north, up])


def unit_vectors(*, lon_deg: ArrayLike, lat_deg: ArrayLike) -> Floats:
    """Unit vectors of directions, shape (3, ...): to longitude 0, to longitude 90, to the pole.

    Examples
    --------
    >>> unit_vectors(lon_deg=90.0, lat_deg=0.0).round(3).tolist()
    [0.0, 1.0, 0.0]
    """
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    flat = np.cos(lat)
    return np.stack(np.broadcast_arrays(flat * np.cos(lon), flat * np.sin(lon), np.sin(lat)))


def lon_lat_of(vectors: Floats) -> tuple[Floats, Floats]:
    """Longitude (0 to below 360) and latitude of vectors (3, ...): `unit_vectors` undone."""
    x, y, z = vectors
    lon = wrap_360_deg(np.asarray(np.degrees(np.arctan2(y, x))))
    return lon, np.asarray(np.degrees(np.arctan2(z, np.hypot(x, y))))


def angle_between_deg(
    *, lon1_deg: ArrayLike, lat1_deg: ArrayLike, lon2_deg: ArrayLike, lat2_deg: ArrayLike
) -> Floats:
    """Angle between directions, degrees, 0 to 180.

    The haversine ([Meeus1998]_ ch. 17): good to the last figures where they are near, and to
    a millionth of a degree where they are opposite. NaN stays NaN.

    Examples
    --------
    >>> round(float(angle_between_deg(lon1_deg=350, lat1_deg=0, lon2_deg=20, lat2_deg=0)), 9)
    30.0
    """
    lon1, lat1, lon2, lat2 = (np.radians(v) for v in (lon1_deg, lat1_deg, lon2_deg, lat2_deg))
    square = np.sin((lat2 - lat1) / 2.0) ** 2
    square = square + np.cos(lat1) * np.cos(lat2) * np.sin((lon2 - lon1) / 2.0) ** 2
    return np.asarray(np.degrees(2.0 * np.arcsin(np.sqrt(np.clip(square, 0.0, 1.0)))))
