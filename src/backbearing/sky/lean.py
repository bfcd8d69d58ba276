"""Lean: the angle of the Milky Way's plane from the vertical, as the camera sees it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, azimuth_of, east_north_up
from backbearing.base.errors import SkyError
from backbearing.sky.directions import direction
from backbearing.sky.targets import Target, icrs_to_galactic

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_STEP_DEG = 0.02


_POLE_B_DEG = 89.9


def has_lean(target: Target) -> bool:
    """Whether the galactic plane has a direction at a target: not at a body nor at the poles."""
    if target.ra_deg is None or target.dec_deg is None:
        return False
    return abs(icrs_to_galactic(ra_deg=target.ra_deg, dec_deg=target.dec_deg)[1]) <= _POLE_B_DEG


def plane_angle_deg(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    refraction: bool = True,
) -> NDArray[np.float64]:
    """Angle of rising galactic longitude at a fixed target, clockwise from straight up.

    Degrees in [0, 360), as the camera sees it; shapes broadcast as in `direction`.

    Raises
    ------
    SkyError
        The target is a body, or stands at a galactic pole.
    """
    if target.ra_deg is None or target.dec_deg is None:
        raise SkyError(f"lean has no meaning for {target.name}", hint="ask for a fixed target")
    l_deg, b_deg = icrs_to_galactic(ra_deg=target.ra_deg, dec_deg=target.dec_deg)
    if abs(b_deg) > _POLE_B_DEG:
        raise SkyError(f"lean has no meaning at the galactic pole ({target.name})")
    half = _STEP_DEG / 2.0 / np.cos(np.radians(b_deg))
    ends = [
        direction(
            Target.galactic(l_deg=l_deg + side, b_deg=b_deg),
            lat=lat,
            lon=lon,
            height_m=height_m,
            times=times,
            refraction=refraction,
        )
        for side in (-half, half)
    ]
    near, far = (
        np.asarray(east_north_up(azimuth_deg=azimuth, altitude_deg=altitude))
        for azimuth, altitude in ends
    )
    # On the axes of the target itself, midway: those of an end are turned by half the step
    # times the tangent of the altitude.
    azimuth, altitude = (np.radians(part) for part in azimuth_altitude_of(*(near + far)))
    east, north, high = far - near
    ahead = np.sin(azimuth) * east + np.cos(azimuth) * north
    right = np.cos(azimuth) * east - np.sin(azimuth) * north
    return azimuth_of(right, np.cos(altitude) * high - np.sin(altitude) * ahead)


def lean_deg(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    refraction: bool = True,
) -> NDArray[np.float64]:
    """Lean of the galactic plane at a target: degrees from vertical, in (-90, 90].

    Positive leans to the right (clockwise), negative to the left; 0 stands upright,
    90 lies flat. Parameters and errors as in `plane_angle_deg`.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, lean_deg
    >>> when = datetime(2027, 5, 29, 4, 13, tzinfo=timezone.utc)
    >>> f"{float(lean_deg(CORE, lat=36.302, lon=-84.180, times=when)):.0f} degrees from upright"
    '-65 degrees from upright'
    """
    angle = plane_angle_deg(
        target, lat=lat, lon=lon, height_m=height_m, times=times, refraction=refraction
    )
    return np.asarray(90.0 - (90.0 - angle) % 180.0)
