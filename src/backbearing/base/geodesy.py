"""Points and lines on the WGS84 ellipsoid; thin over pyproj.

Azimuths are degrees clockwise from true north, distances metres along the
geodesic on the ellipsoid [Karney2013]_. Arrays broadcast; scalars give scalars'
arrays of shape ``()``.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.base.angles import unit_vectors, wrap_360_deg
from backbearing.base.constants import MEAN_EARTH_RADIUS_M, WGS84_A_M, WGS84_E2

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from pyproj import Geod

    Floats = NDArray[np.float64]


class Line(NamedTuple):
    """A geodesic: azimuth at the first point, azimuth at the second, length."""

    azimuth_deg: NDArray[np.float64]
    end_azimuth_deg: NDArray[np.float64]
    distance_m: NDArray[np.float64]


class End(NamedTuple):
    """Where a geodesic ends, and the azimuth on which it arrives there."""

    lat: NDArray[np.float64]
    lon: NDArray[np.float64]
    azimuth_deg: NDArray[np.float64]


@cache
def _wgs84() -> Geod:
    from pyproj import Geod

    return Geod(ellps="WGS84")


def line_between(*, lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike) -> Line:
    """Solve the inverse geodesic problem between points given in degrees.

    Returns
    -------
    Line
        Azimuths in [0, 360): at the first point towards the second, and at the
        second point looking onward. The distance is in metres.
    """
    lat1_a, lon1_a, lat2_a, lon2_a = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (lat1, lon1, lat2, lon2))
    )
    azimuth, back, distance = _wgs84().inv(lon1_a, lat1_a, lon2_a, lat2_a)
    return Line(
        wrap_360_deg(np.asarray(azimuth, dtype=np.float64)),
        wrap_360_deg(np.asarray(back, dtype=np.float64) + 180.0),
        np.asarray(distance, dtype=np.float64),
    )


def point_along(
    *, lat: ArrayLike, lon: ArrayLike, azimuth_deg: ArrayLike, distance_m: ArrayLike
) -> End:
    """Solve the direct geodesic problem: go so far from a point on an azimuth.

    Returns
    -------
    End
        Position in degrees and the onward azimuth there, in [0, 360).
    """
    lat_a, lon_a, az_a, dist_a = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64) for v in (lat, lon, azimuth_deg, distance_m))
    )
    end_lon, end_lat, back = _wgs84().fwd(lon_a, lat_a, az_a, dist_a)
    return End(
        np.asarray(end_lat, dtype=np.float64),
        np.asarray(end_lon, dtype=np.float64),
        wrap_360_deg(np.asarray(back, dtype=np.float64) + 180.0),
    )


def metres_per_degree(lat: ArrayLike) -> tuple[Floats, Floats]:
    """Metres to a degree of longitude and to one of latitude, on the ellipsoid.

    By its radii of curvature across the meridian and along it [Karney2013]_; shape of ``lat``.
    """
    phi = np.radians(np.asarray(lat, dtype=np.float64))
    curve = 1.0 - WGS84_E2 * np.sin(phi) ** 2
    east = WGS84_A_M / np.sqrt(curve) * np.cos(phi)
    north = WGS84_A_M * (1.0 - WGS84_E2) / curve**1.5
    return np.radians(east), np.radians(north)


def earth_xyz_m(*, lat: ArrayLike, lon: ArrayLike) -> Floats:
    """Cartesian coordinates on the ellipsoid, metres, shape (n, 3), places of shape (n,)."""
    x, y, z = unit_vectors(lon_deg=lon, lat_deg=lat)
    normal = WGS84_A_M / np.sqrt(1.0 - WGS84_E2 * z * z)
    return np.column_stack([normal * x, normal * y, normal * (1.0 - WGS84_E2) * z])


def sphere_xyz_m(*, lat: ArrayLike, lon: ArrayLike) -> Floats:
    """Cartesian coordinates on a sphere of the Earth's mean radius, metres, shape (n, 3).

    Good for what is near what: chords are within 0.6 per cent of the ellipsoid's.
    """
    return MEAN_EARTH_RADIUS_M * unit_vectors(lon_deg=lon, lat_deg=lat).T


def drop_per_m2(refraction_k: float) -> float:
    """``(1 - k) / 2R``: curvature less refraction [Ghilani2012]_, per metre."""
    return (1.0 - refraction_k) / (2.0 * MEAN_EARTH_RADIUS_M)


def curvature_drop_m(distance_m: ArrayLike, refraction_k: float) -> NDArray[np.float64]:
    """Fall of the level surface under the line of sight, less the bending of light.

    ``(1 - k) s^2 / (2 R)`` [Ghilani2012]_, metres; good to 0.003 degree of altitude
    out to 100 km.
    """
    s = np.asarray(distance_m, dtype=np.float64)
    drop: NDArray[np.float64] = (1.0 - refraction_k) * s * s / (2.0 * MEAN_EARTH_RADIUS_M)
    return drop


def altitude_of(
    height_above_eye_m: ArrayLike, distance_m: ArrayLike, refraction_k: float
) -> NDArray[np.float64]:
    """Apparent altitude, in degrees, of something so far away and so far above the eye.

    ``atan((dh - (1 - k) s^2 / 2R) / s)``: the one convention for everything on the
    ground, with the dip of the camera's own height counted here and nowhere else.
    """
    s = np.asarray(distance_m, dtype=np.float64)
    dh = np.asarray(height_above_eye_m, dtype=np.float64)
    altitude: NDArray[np.float64] = np.degrees(
        np.arctan2(dh - curvature_drop_m(s, refraction_k), s)
    )
    return altitude
