"""The subject's place by bearings from known points: intersection, as surveyors call it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.base.errors import MeasureError
from backbearing.base.geodesy import line_between, point_along
from backbearing.base.local_plane import LocalPlane
from backbearing.base.numbers import num
from backbearing.base.reading_errors import COMPASS_SIGMA_DEG
from backbearing.measuring.places import MeasuredPlace, check_place, place_of
from backbearing.measuring.readings import ODD_SIGMAS, Reading
from backbearing.sky.magnetic import magnetic_declination

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_CUT_DEG: Final = 15.0
"""Lines that all cross under a smaller angle place nothing (common practice, no source)."""

POINT_SIGMA_M: Final = 3.0
"""Of a point known by a map or a receiver, metres (common practice, no source)."""

FARTHEST_M: Final = 100_000.0
_STEPS: Final = 30


@dataclass(frozen=True, slots=True)
class Sighting:
    """A bearing to the subject from a known point.

    Parameters
    ----------
    lat, lon : float
        Of the point, WGS84 degrees.
    bearing_deg : Reading
        From there to the subject, degrees from true north.
    point_sigma_m : float
        How well the point is known, metres.

    Raises
    ------
    MeasureError
        For what is no place.

    Examples
    --------
    >>> from backbearing.measuring import Reading, Sighting
    >>> Sighting(36.37, -84.36, Reading(45.0, 2.0)).bearing_deg.value
    45.0
    """

    lat: float
    lon: float
    bearing_deg: Reading
    point_sigma_m: float = POINT_SIGMA_M

    def __post_init__(self) -> None:
        check_place(self.lat, self.lon)


def true_bearing(
    compass_deg: float,
    *,
    lat: float,
    lon: float,
    when: dt.date,
    sigma_deg: float = COMPASS_SIGMA_DEG,
) -> tuple[Reading, float]:
    """Turn a compass bearing into a true one; give it, and the declination's own doubt, degrees.

    That doubt is the model's [WMM2025]_ and common to all bearings taken thereabouts.

    Raises
    ------
    MeasureError
        For a date that the model does not hold, or where a compass is useless.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.measuring import true_bearing
    >>> bearing, common = true_bearing(157.7, lat=36.37, lon=-84.36, when=date(2027, 6, 6))
    >>> f"{bearing.value:.1f} degrees true"
    '151.8 degrees true'
    """
    check_place(lat, lon)
    found = magnetic_declination(lat=lat, lon=lon, when=when)
    if not found.known:
        raise MeasureError(found.sentence)
    if found.compass == "useless":
        raise MeasureError(found.sentence.rstrip("."), hint="give true bearings")
    turned = float(wrap_360_deg(compass_deg + found.declination_deg))
    return Reading(turned, sigma_deg), found.error_deg


def place_by_bearings(
    sightings: Sequence[Sighting], *, common_sigma_deg: float = 0.0
) -> MeasuredPlace:
    """Place where bearings from known points meet, by least squares.

    The azimuths of the geodesics from the points are fitted to the bearings [Ghilani2010]_, each
    weighed by its own doubt and its point's; what is common to all bearings (the declination)
    is in their covariance.

    Parameters
    ----------
    sightings : sequence of Sighting
        Two or more.
    common_sigma_deg : float
        One standard deviation of an error that all bearings share, degrees.

    Returns
    -------
    MeasuredPlace
        With three bearings or more its notes say whether they agree.

    Raises
    ------
    MeasureError
        For fewer than two, lines that are nearly parallel, or that meet behind a point.

    Examples
    --------
    >>> from backbearing.measuring import Reading, Sighting, place_by_bearings
    >>> found = place_by_bearings([
    ...     Sighting(36.3700, -84.3600, Reading(45.0, 1.0), 1.0),
    ...     Sighting(36.3700, -84.3500, Reading(315.0, 1.0), 1.0),
    ... ])
    >>> f"{found.lat:.4f}, {found.lon:.4f} within {found.sigma_m:.0f} m"
    '36.3740, -84.3550 within 11 m'
    """
    _check_cut(sightings)
    points = [(one.lat, one.lon) for one in sightings]
    lat, lon = _crossing(sightings)
    for _ in range(_STEPS):
        design, off, weights, distance = _equations(sightings, points, lat, lon, common_sigma_deg)
        normal = design.T @ weights @ design
        step = np.linalg.solve(normal, design.T @ weights @ off)
        longest = 0.5 * float(distance.max())
        length = float(np.hypot(*step))
        step = step if length <= longest else step * (longest / length)
        end = point_along(
            lat=lat,
            lon=lon,
            azimuth_deg=math.degrees(math.atan2(step[0], step[1])),
            distance_m=float(np.hypot(*step)),
        )
        lat, lon = float(end.lat), float(end.lon)
        if np.hypot(*step) < 1e-6:
            break
    else:
        raise _never_meet()
    design, off, weights, distance = _equations(sightings, points, lat, lon, common_sigma_deg)
    if float(np.abs(off).max()) > math.radians(30.0) or float(distance.max()) > FARTHEST_M:
        raise _never_meet()
    covariance: Floats = np.linalg.inv(design.T @ weights @ design).astype(np.float64)
    notes: tuple[str, ...] = ()
    freedom = len(sightings) - 2
    if freedom:
        chi2 = float(off @ weights @ off)
        widened = max(1.0, math.sqrt(chi2 / freedom))
        covariance = covariance * widened**2
        worst = float(np.abs(np.degrees(off)).max())
        said = f"the bearings meet within {num(worst, 1)}°"
        if widened >= ODD_SIGMAS:
            said = f"the bearings miss one another by up to {num(worst, 1)}°, {num(widened, 1)} "
            said += "times their doubt: take them again (the ellipse is widened for it)"
        notes = (said,)
    return place_of(lat, lon, covariance, f"{len(sightings)} bearings", notes)


def _equations(
    sightings: Sequence[Sighting],
    points: Sequence[tuple[float, float]],
    lat: float,
    lon: float,
    common_sigma_deg: float,
) -> tuple[Floats, Floats, Floats, Floats]:
    """How azimuths change with the place, what they are off (radians), weights, distances."""
    here = line_between(
        lat1=[p[0] for p in points], lon1=[p[1] for p in points], lat2=lat, lon2=lon
    )
    distance = np.maximum(np.asarray(here.distance_m), 1e-3)
    onward = np.radians(np.asarray(here.end_azimuth_deg))
    # A step to the right of the line turns it clockwise.
    design = np.stack([np.cos(onward), -np.sin(onward)], axis=1) / distance[:, None]
    bearings = np.array([one.bearing_deg.value for one in sightings])
    off = np.radians(np.asarray(wrap_180_deg(bearings - np.asarray(here.azimuth_deg))))
    own = np.radians([max(one.bearing_deg.sigma, 1e-4) for one in sightings])
    aside = np.array([one.point_sigma_m for one in sightings]) / distance
    covariance = np.diag(own**2 + aside**2) + math.radians(common_sigma_deg) ** 2
    weights: Floats = np.linalg.inv(covariance).astype(np.float64)
    return design, off, weights, distance


def _crossing(sightings: Sequence[Sighting]) -> tuple[float, float]:
    """Where the lines cross on a plane, each weighed alike: a place to begin."""
    plane = LocalPlane(sightings[0].lat, sightings[0].lon)
    points = plane.points(lat=[one.lat for one in sightings], lon=[one.lon for one in sightings])
    bearing = np.radians([one.bearing_deg.value for one in sightings])
    across = np.stack([np.cos(bearing), -np.sin(bearing)], axis=1)
    east, north = np.linalg.lstsq(across, np.sum(across * points, axis=1), rcond=None)[0]
    ahead = (east - points[:, 0]) * np.sin(bearing) + (north - points[:, 1]) * np.cos(bearing)
    behind = np.flatnonzero(ahead <= 0.0)
    if behind.size:
        number = int(behind[0]) + 1
        raise MeasureError(
            f"the lines meet behind point {number}",
            hint="write the bearing from the point to the subject, not the one back from it",
        )
    if math.hypot(east, north) > FARTHEST_M:
        raise _never_meet()
    lat, lon = plane.places(east_m=east, north_m=north)
    return float(lat), float(lon)


def _check_cut(sightings: Sequence[Sighting]) -> None:
    if len(sightings) < 2:
        raise MeasureError(
            "one bearing gives a line and no place",
            hint="take one from a second known point, or tape the distance",
        )
    bearing = np.radians([one.bearing_deg.value for one in sightings])
    cut = np.degrees(np.arcsin(np.abs(np.sin(bearing[:, None] - bearing[None, :])).max()))
    if cut < LEAST_CUT_DEG:
        raise MeasureError(
            f"the lines are nearly parallel: they cross under {num(cut, 0)}° at most",
            hint="take a bearing from a point well to the side, best so that they cross squarely",
            cut_deg=float(cut),
        )


def _never_meet() -> MeasureError:
    return MeasureError(
        f"the lines meet nowhere within {num(FARTHEST_M / 1000.0)} km",
        hint="look whether a point or a bearing is mistyped, or a compass bearing is given as true",
    )
