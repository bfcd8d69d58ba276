"""A place that was measured: coordinates with an error ellipse; a subject put in from a stand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import MeasureError
from backbearing.base.geodesy import point_along
from backbearing.base.local_plane import LocalPlane
from backbearing.base.numbers import num
from backbearing.measuring.readings import odd_chi2

if TYPE_CHECKING:
    from collections.abc import Sequence

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


def combined_places(places: Sequence[MeasuredPlace]) -> MeasuredPlace:
    """Join places of one thing, found in ways that err apart, by the inverse of their covariances.

    As `backbearing.measuring.combined` does for lengths: where they lie farther apart than their
    ellipses allow (chi-square), the result's is widened by the Birge ratio [Birge1932]_.

    Parameters
    ----------
    places : sequence of MeasuredPlace
        At least one, each with an ellipse above nothing.

    Returns
    -------
    MeasuredPlace
        Its notes say whether they agree.

    Raises
    ------
    MeasureError
        For none, or for one that claims to be exact.

    Examples
    --------
    >>> from backbearing.measuring import combined_places, place_from_stand, Reading, taped
    >>> north, west = (
    ...     place_from_stand(lat=lat, lon=lon, stand_sigma_m=3.0, bearing_deg=Reading(towards, 2.0),
    ...                      distance_m=taped(50.0))
    ...     for lat, lon, towards in ((36.37045, -84.36, 180.0), (36.37, -84.36056, 90.0))
    ... )
    >>> both = combined_places([north, west])
    >>> f"{both.lat:.5f}, {both.lon:.5f} within {both.sigma_m:.1f} m"
    '36.37000, -84.36000 within 2.3 m'
    """
    if not places:
        raise MeasureError("there is no place to join", hint="give a reading")
    if len(places) == 1:
        return places[0]
    if any(not one.minor_m > 0.0 for one in places):
        raise MeasureError("a place without doubt cannot be weighed", hint="give it a doubt")
    plane = LocalPlane(places[0].lat, places[0].lon)
    points = plane.points(lat=[one.lat for one in places], lon=[one.lon for one in places])
    weights = np.linalg.inv(np.stack([_covariance_m2(one) for one in places]))
    covariance = np.linalg.inv(weights.sum(axis=0))
    middle = covariance @ np.einsum("nij,nj->i", weights, points)
    off = points - middle
    chi2 = float(np.einsum("ni,nij,nj->", off, weights, off))
    freedom = 2 * (len(places) - 1)
    widened = max(1.0, math.sqrt(chi2 / freedom))
    apart = float(np.hypot(*(points[:, None] - points[None, :]).reshape(-1, 2).T).max())
    said = f"the places lie up to {num(apart, 1)} m apart: "
    said += "measure again" if chi2 > odd_chi2(freedom) else "they agree"
    said += f" (chi-square {num(chi2, 1)} for {freedom})"
    if widened > 1.0:
        said += f"; the ellipse is widened {num(widened, 1)} times"
    lat, lon = plane.places(east_m=middle[0], north_m=middle[1])
    way = " and ".join(dict.fromkeys(one.way for one in places))
    notes = (*dict.fromkeys(note for one in places for note in one.notes), said)
    whole: Floats = (covariance * widened**2).astype(np.float64)
    return place_of(float(lat), float(lon), whole, f"{len(places)} readings: {way}", notes)


def _covariance_m2(place: MeasuredPlace) -> Floats:
    """Covariance of east and north, from the ellipse's axes: `place_of` undone."""
    azimuth = math.radians(place.major_azimuth_deg)
    along = np.array([math.sin(azimuth), math.cos(azimuth)])
    across = np.array([along[1], -along[0]])
    return np.asarray(
        place.major_m**2 * np.outer(along, along) + place.minor_m**2 * np.outer(across, across)
    )


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
