"""A place that was measured: coordinates with an error ellipse; a subject put in from a stand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import MeasureError
from backbearing.base.geodesy import point_along
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.measuring.readings import Reading

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MeasuredPlace:
    """Where something stands, and how well that is known.

    Attributes
    ----------
    lat, lon : float
        WGS84 degrees.
    sigma_m : float
        One standard deviation of its east and of its north, in the mean of both: what
        ``position_sigma_m`` of an outing is.
    major_m, minor_m : float
        Half axes of the error ellipse of one standard deviation, metres: 39 per cent of errors
        lie in it, 95 per cent in one 2.45 times as large.
    major_azimuth_deg : float
        Where its long axis points, 0 to below 180 degrees from true north.
    way : str
    notes : tuple of str

    Examples
    --------
    >>> from backbearing.measuring import Reading, place_from_stand, taped
    >>> found = place_from_stand(
    ...     lat=36.37, lon=-84.36, stand_sigma_m=3.0,
    ...     bearing_deg=Reading(90.0, 2.0), distance_m=taped(50.0),
    ... )
    >>> f"{found.lat:.5f}, {found.lon:.5f} within {found.sigma_m:.1f} m"
    '36.37000, -84.35944 within 3.3 m'
    """

    lat: float
    lon: float
    sigma_m: float
    major_m: float
    minor_m: float
    major_azimuth_deg: float
    way: str
    notes: tuple[str, ...] = ()


def place_of(
    lat: float, lon: float, covariance_m2: Floats, way: str, notes: tuple[str, ...] = ()
) -> MeasuredPlace:
    """Give a place its ellipse from the covariance of east and north, square metres (2, 2)."""
    sizes, axes = np.linalg.eigh(covariance_m2)
    minor, major = np.sqrt(np.maximum(sizes, 0.0))
    east, north = axes[:, 1]
    azimuth = math.degrees(math.atan2(east, north)) % 180.0
    return MeasuredPlace(
        lat=float(lat),
        lon=float(lon),
        sigma_m=math.sqrt(float(np.trace(covariance_m2)) / 2.0),
        major_m=float(major),
        minor_m=float(minor),
        major_azimuth_deg=azimuth if azimuth < 180.0 else 0.0,
        way=way,
        notes=notes,
    )


def place_from_stand(
    *, lat: float, lon: float, stand_sigma_m: float, bearing_deg: Reading, distance_m: Reading
) -> MeasuredPlace:
    """Place of the subject from a known stand, by its true bearing and level distance.

    The geodesic from the stand [Karney2013]_; the ellipse has the distance's doubt along, the
    bearing's across, and the stand's own all round.

    Parameters
    ----------
    lat, lon : float
        Of the stand, WGS84 degrees.
    stand_sigma_m : float
        Of the stand's place, metres.
    bearing_deg : Reading
        From the stand to the subject, degrees from true north.
    distance_m : Reading
        Metres.

    Returns
    -------
    MeasuredPlace

    Raises
    ------
    MeasureError
        For a place off the globe, a distance that is none, or a bearing that is unsure by 30
        degrees and more.

    Examples
    --------
    >>> from backbearing.measuring import Reading, place_from_stand
    >>> found = place_from_stand(
    ...     lat=-31.0, lon=149.0, stand_sigma_m=0.0,
    ...     bearing_deg=Reading(0.0, 1.0), distance_m=Reading(100.0, 5.0),
    ... )
    >>> f"{found.major_m:.1f} m towards {found.major_azimuth_deg:.0f}, {found.minor_m:.1f} m across"
    '5.0 m towards 0, 1.7 m across'
    """
    check_place(lat, lon)
    if not distance_m.value > 0.0:
        raise MeasureError(
            f"distance_m is {num(distance_m.value)}",
            hint="write a length above 0, in metres",
            key="distance_m",
        )
    if not bearing_deg.sigma < 30.0:
        raise MeasureError(
            f"the bearing is unsure by {num(bearing_deg.sigma, 0)}°",
            hint="take it again, away from iron, or far from a magnetic pole by the Sun",
        )
    end = point_along(lat=lat, lon=lon, azimuth_deg=bearing_deg.value, distance_m=distance_m.value)
    azimuth = math.radians(float(end.azimuth_deg))
    along = np.array([math.sin(azimuth), math.cos(azimuth)])
    across = np.array([along[1], -along[0]])
    aside = distance_m.value * math.radians(bearing_deg.sigma)
    covariance = (
        stand_sigma_m**2 * np.eye(2)
        + distance_m.sigma**2 * np.outer(along, along)
        + aside**2 * np.outer(across, across)
    )
    return place_of(float(end.lat), float(end.lon), covariance, "a stand, a bearing, a distance")


def check_place(lat: float, lon: float) -> None:
    """Refuse what is no place on the globe.

    Raises
    ------
    MeasureError
        With what to write instead.
    """
    if not (abs(lat) <= 90.0 and abs(lon) <= 180.0):
        raise MeasureError(
            f"{num(lat)}, {num(lon)} is no place on the globe",
            hint="write latitude, then longitude, in degrees, south and west negative",
        )
