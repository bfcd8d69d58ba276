"""When a target stands on an azimuth, at an altitude, or on the meridian: closed form.

A fixed target runs a circle of constant declination. The hour angles at which that circle
meets a vertical plane or an almucantar follow in closed form [Meeus1998]_ (ch. 13); the
instant follows from the Earth's rotation. Declination and right ascension on Earth-fixed
axes are then read again at the instant found, three times, which leaves less than a
millisecond: nothing is scanned. A body that moves is sampled and polished instead.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, wrap_360_deg
from backbearing.base.constants import (
    EARTH_ROTATION_RAD_S,
    LIGHT_M_S,
    SIDEREAL_DAY_S,
    SIDEREAL_RATE_RAD_S,
)
from backbearing.base.errors import SkyError
from backbearing.sky import earth, refraction
from backbearing.sky.directions import air_factor_at, checked_place, direction, earth_fixed
from backbearing.sky.instants import utc_array
from backbearing.sky.moving import RiseAndSet, body_altitude, body_azimuth

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

    HourAngles = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]

_PASSES = 3


def horizontal_from_hour_angle(
    *, hour_angle_deg: ArrayLike, dec_deg: ArrayLike, lat: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Azimuth from north and altitude, degrees ([Meeus1998]_ eq. 13.5 and 13.6).

    Plain spherical trigonometry: no refraction, parallax or aberration.
    """
    h, d, p = (np.radians(np.asarray(v, dtype=float)) for v in (hour_angle_deg, dec_deg, lat))
    east = -np.cos(d) * np.sin(h)
    north = np.sin(d) * np.cos(p) - np.cos(d) * np.cos(h) * np.sin(p)
    up = np.sin(d) * np.sin(p) + np.cos(d) * np.cos(h) * np.cos(p)
    return azimuth_altitude_of(east, north, up)


def azimuth_passages(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    azimuth_deg: ArrayLike,
    start: Any,
    end: Any,
) -> NDArray[np.datetime64]:
    """Instants in [start, end) at which a target stands on a true azimuth.

    Parameters
    ----------
    target : Target
        For a body, the place and azimuth must be single numbers.
    lat, lon, height_m, azimuth_deg : arrays of shape (...)
        Places in degrees and metres, azimuth clockwise from true north; they broadcast.
    start, end : instants
        As `direction` takes them, single.

    Returns
    -------
    (..., m) datetime64[us]
        UTC, sorted, padded with NaT; (m,) without padding for a single place. At most two
        a sidereal day: where the target culminates between pole and zenith it swings out
        to a greatest azimuth and back, and none beyond it.

    Raises
    ------
    SkyError
        A date outside the ephemeris, no such place.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, azimuth_passages
    >>> start = datetime(2027, 6, 5, 17, tzinfo=timezone.utc)
    >>> end = datetime(2027, 6, 6, 17, tzinfo=timezone.utc)
    >>> found = azimuth_passages(
    ...     CORE, lat=36.302, lon=-84.180, azimuth_deg=150.0, start=start, end=end
    ... )
    >>> [f"{str(t)[11:19]} UTC" for t in found]
    ['04:14:42 UTC']
    """
    first, last = _bounds(start, end)
    lat_a, lon_a, height, azimuth = _broadcast(lat, lon, height_m, azimuth_deg)
    if not target.is_fixed:
        return body_azimuth(target, (lat_a, lon_a, height), azimuth, first, last)
    here = earth.sites(lat=lat_a[..., None], lon=lon_a[..., None], height_m=height[..., None])
    plane = np.radians(azimuth)[..., None]

    def hour_angles(dec: NDArray[np.float64], branch: NDArray[np.float64]) -> NDArray[np.float64]:
        return _on_vertical(dec, branch, here, plane)

    return _trim(_solve(target, lon_a[..., None], hour_angles, (first, last)))


def altitude_passages(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    altitude_deg: ArrayLike = 0.0,
    start: Any,
    end: Any,
    refraction: bool = True,
) -> RiseAndSet:
    """Instants in [start, end) at which a target rises and sets through an altitude.

    Parameters as in `azimuth_passages`; ``altitude_deg`` is as seen (with the standard
    air of the height) unless ``refraction`` is False.

    Raises
    ------
    SkyError
        A date outside the ephemeris, no such place.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, altitude_passages
    >>> start = datetime(2027, 6, 5, 17, tzinfo=timezone.utc)
    >>> end = datetime(2027, 6, 6, 17, tzinfo=timezone.utc)
    >>> found = altitude_passages(
    ...     CORE, lat=36.302, lon=-84.180, altitude_deg=10.0, start=start, end=end
    ... )
    >>> f"{str(found.rising[0])[11:19]} to {str(found.setting[0])[11:19]} UTC"
    '03:09:36 to 09:43:08 UTC'
    """
    first, last = _bounds(start, end)
    lat_a, lon_a, height, altitude = _broadcast(lat, lon, height_m, altitude_deg)
    true = _airless(altitude, height) if refraction else altitude
    if not target.is_fixed:
        return body_altitude(target, (lat_a, lon_a, height), true, first, last)
    here = earth.sites(lat=lat_a[..., None], lon=lon_a[..., None], height_m=height[..., None])
    sine = np.sin(np.radians(true))[..., None]

    def hour_angles(dec: NDArray[np.float64], branch: NDArray[np.float64]) -> NDArray[np.float64]:
        return _on_almucantar(dec, branch, here, sine)

    found = _solve(target, lon_a[..., None], hour_angles, (first, last))
    middle = first + (last - first) // 2
    _, now = direction(target, lat=lat_a, lon=lon_a, times=middle, refraction=False)
    none = np.isnat(found).all(axis=(0, -1))
    always = np.where(none, np.where(now >= true, "above", "below"), "")
    return RiseAndSet(_trim(found[:1]), _trim(found[1:]), always)


def transits(
    target: Target, *, lat: ArrayLike, lon: ArrayLike, start: Any, end: Any
) -> NDArray[np.datetime64]:
    """Instants in [start, end) at which a fixed target culminates (hour angle zero).

    Shapes and errors as in `azimuth_passages`.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, transits
    >>> start = datetime(2027, 6, 5, 17, tzinfo=timezone.utc)
    >>> end = datetime(2027, 6, 7, 17, tzinfo=timezone.utc)
    >>> found = transits(CORE, lat=36.302, lon=-84.180, start=start, end=end)
    >>> f"{(found[1] - found[0]).astype('timedelta64[s]').astype(int)} s from one to the next"
    '86164 s from one to the next'
    """
    if not target.is_fixed:
        raise SkyError(
            f"{target.name} moves among the stars", hint="ask when its azimuth is 180 or 0"
        )
    first, last = _bounds(start, end)
    _, lon_a, _, _ = _broadcast(lat, lon, 0.0, 0.0)

    def hour_angles(dec: NDArray[np.float64], branch: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.zeros(np.broadcast_shapes(dec.shape, branch.shape))

    return _trim(_solve(target, lon_a[..., None], hour_angles, (first, last))[:1])


def greatest_azimuth_deg(
    target: Target, *, lat: ArrayLike, when: Any
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Range of azimuths (least, greatest), degrees, that a fixed target can stand on.

    ``sin A = cos dec / cos lat`` where the target culminates between pole and zenith,
    centred on north or south; (0, 360) where it goes all the way round.
    """
    w = earth_fixed(target, utc_array(when))
    dec = np.arcsin(np.clip(w[2], -1.0, 1.0))
    phi = np.radians(np.asarray(lat, dtype=np.float64))
    ratio = np.cos(dec) / np.maximum(np.cos(phi), 1e-300)
    swing = np.degrees(np.arcsin(np.clip(ratio, 0.0, 1.0)))
    middle = np.where(dec >= 0.0, 0.0, 180.0)
    round_trip = ratio >= 1.0
    return (
        np.where(round_trip, 0.0, wrap_360_deg(middle - swing)),
        np.where(round_trip, 360.0, middle + swing),
    )


def _on_vertical(
    dec: NDArray[np.float64],
    branch: NDArray[np.float64],
    here: earth.Sites,
    azimuth: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Hour angles on a vertical half-plane, NaN where there is none.

    ``a cos H + b sin H = c`` with the site's own motion in c; branches -1 and 1.
    """
    boost = EARTH_ROTATION_RAD_S * here.equator_m / LIGHT_M_S
    sin_a, cos_a = np.sin(azimuth), np.cos(azimuth)
    a = np.cos(dec) * here.sin_lat * sin_a
    b = -np.cos(dec) * cos_a
    c = np.sin(dec) * here.cos_lat * sin_a - boost * cos_a
    with np.errstate(invalid="ignore"):
        half = np.arccos(c / np.hypot(a, b))
    both = np.arctan2(b, a) + branch * half
    east = -np.cos(dec) * np.sin(both) + boost
    north = np.sin(dec) * here.cos_lat - np.cos(dec) * np.cos(both) * here.sin_lat
    ahead = east * sin_a + north * cos_a > 0.0
    return np.where(ahead, both, np.nan)


def _on_almucantar(
    dec: NDArray[np.float64],
    branch: NDArray[np.float64],
    here: earth.Sites,
    sine: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Hour angles of rising (branch -1) and setting (1) through an airless altitude."""
    boost = EARTH_ROTATION_RAD_S * here.equator_m / LIGHT_M_S
    east: NDArray[np.float64] = np.zeros(())
    found = east
    for _ in range(2):
        cosine = (sine * (1.0 + boost * east) - np.sin(dec) * here.sin_lat) / (
            np.cos(dec) * here.cos_lat
        )
        with np.errstate(invalid="ignore"):
            found = branch * np.arccos(cosine)
        east = -np.cos(dec) * np.sin(found)
    return found


def _solve(
    target: Target,
    lon: NDArray[np.float64],
    hour_angles: HourAngles,
    bounds: tuple[np.datetime64, np.datetime64],
) -> NDArray[np.datetime64]:
    """Instants (2 branches, ..., days) in [first, last) where the hour angle is as asked."""
    first, last = bounds
    lam = np.radians(lon)
    days = int((last - first) / np.timedelta64(1, "s") / SIDEREAL_DAY_S) + 2
    step = np.rint(np.arange(days) * SIDEREAL_DAY_S * 1e6).astype("timedelta64[us]")
    branch = np.array([-1.0, 1.0]).reshape(2, *([1] * lon.ndim))
    when = first + step
    for turn in range(_PASSES + 1):
        w = earth_fixed(target, when)
        dec = np.arcsin(np.clip(w[2], -1.0, 1.0))
        ahead = hour_angles(dec, branch) - (lam - np.arctan2(w[1], w[0]))
        ahead = ahead % (2.0 * np.pi) if turn == 0 else (ahead + np.pi) % (2.0 * np.pi) - np.pi
        known = np.isfinite(ahead)
        micro = np.rint(np.where(known, ahead, 0.0) / SIDEREAL_RATE_RAD_S * 1e6)
        when = when + micro.astype("timedelta64[us]")
    twice = np.zeros(when.shape, dtype=bool)
    twice[..., 1:] = np.diff(when, axis=-1) < np.timedelta64(1000, "s")
    keep = known & ~twice & (when >= first) & (when < last)
    return np.where(keep, when, np.datetime64("NaT"))


def _trim(found: NDArray[np.datetime64]) -> NDArray[np.datetime64]:
    """Merge branches, sort, and drop padding that every place shares: (..., m)."""
    merged = np.sort(np.concatenate(list(found), axis=-1), axis=-1)
    used = int((~np.isnat(merged)).sum(axis=-1).max(initial=0))
    return merged[..., :used]


def _airless(altitude: NDArray[np.float64], height: NDArray[np.float64]) -> NDArray[np.float64]:
    return refraction.true_altitude_deg(altitude, air_factor_at(height))


def _bounds(start: Any, end: Any) -> tuple[np.datetime64, np.datetime64]:
    first, last = (
        np.datetime64(utc_array(start).item(), "us"),
        np.datetime64(utc_array(end).item(), "us"),
    )
    if last <= first:
        raise SkyError(f"the span ends at {last}, not after its start {first}")
    return first, last


def _broadcast(
    lat: ArrayLike, lon: ArrayLike, height_m: ArrayLike, fourth: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    place = checked_place(lat=lat, lon=lon, height_m=height_m)
    a, b, c, d = np.broadcast_arrays(*place, np.asarray(fourth, dtype=np.float64))
    return a, b, c, d
