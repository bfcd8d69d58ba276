"""Where a target stands over a place at an instant: true azimuth and altitude."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base import asked
from backbearing.base.angles import azimuth_altitude_of
from backbearing.base.constants import AU_M, EARTH_ROTATION_RAD_S, LIGHT_M_S
from backbearing.base.errors import SkyError
from backbearing.sky import earth, places, refraction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

_CHUNK = 1 << 16


def direction(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    refraction: bool = True,
    pressure_hpa: ArrayLike | None = None,
    temperature_c: ArrayLike | None = None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Azimuth and altitude of a target, degrees; everything broadcasts.

    Parameters
    ----------
    target : Target
        What to look at.
    lat, lon : array
        WGS84 degrees, north and east positive.
    height_m : array
        Height of the camera, metres; sets the standard air and a body's parallax.
    times : datetime64 array in UTC, or aware datetimes
        When.
    refraction : bool
        Give the altitude as seen (True) or geometric, without air (False).
    pressure_hpa, temperature_c : array or None
        Air at the camera; the standard atmosphere at ``height_m`` when None [USSA1976]_.

    Returns
    -------
    azimuth_deg, altitude_deg : arrays of the broadcast shape
        Azimuth clockwise from true north in [0, 360). Aberration (annual and diurnal),
        light deflection, precession, nutation, polar motion and a body's parallax are in.

    Raises
    ------
    SkyError
        A naive time, a date outside the ephemeris, a latitude beyond 90 degrees.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing.sky import CORE, direction
    >>> when = datetime(2027, 5, 29, 4, 13, tzinfo=timezone.utc)
    >>> azimuth, altitude = direction(CORE, lat=36.302, lon=-84.180, height_m=400.0, times=when)
    >>> f"azimuth {float(azimuth):.1f}, altitude {float(altitude):.1f} degrees"
    'azimuth 143.5, altitude 14.1 degrees'
    """
    return FixedOnEarth.of(target, times).seen_from(
        lat=lat,
        lon=lon,
        height_m=height_m,
        refraction=refraction,
        pressure_hpa=pressure_hpa,
        temperature_c=temperature_c,
    )


@dataclass(frozen=True, eq=False)
class FixedOnEarth:
    """A target at instants, on axes fixed to the Earth: the part that no camera's place changes.

    Made once, it gives the direction from any place with a rotation.

    Attributes
    ----------
    target : Target
    vectors : ndarray, shape (3, ...)
        As `earth_fixed` gives them.
    """

    target: Target
    vectors: NDArray[np.float64]

    @classmethod
    def of(cls, target: Target, times: Any) -> FixedOnEarth:
        """Look a target up at instants, ``datetime64`` in UTC or aware datetimes."""
        return cls(target, earth_fixed(target, utc_array(times)))

    def __getitem__(self, which: Any) -> FixedOnEarth:
        """Take some of the instants."""
        return FixedOnEarth(self.target, self.vectors[:, which])

    def seen_from(
        self,
        *,
        lat: ArrayLike,
        lon: ArrayLike,
        height_m: ArrayLike = 0.0,
        refraction: bool = True,
        pressure_hpa: ArrayLike | None = None,
        temperature_c: ArrayLike | None = None,
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Azimuth and altitude from places, degrees; places and instants broadcast.

        See `direction`, which does both parts at once.
        """
        lat_a, lon_a, height = checked_place(lat=lat, lon=lon, height_m=height_m)
        factor = _air(refraction, height, pressure_hpa, temperature_c)
        shape = np.broadcast_shapes(
            self.vectors.shape[1:],
            lat_a.shape,
            lon_a.shape,
            height.shape,
            () if factor is None else factor.shape,
        )
        here = earth.sites(lat=lat_a, lon=lon_a, height_m=height)
        azimuth, altitude = np.empty(shape), np.empty(shape)
        for part in _parts(shape):
            v = np.stack([_take(c, shape, part) for c in self.vectors])
            site = earth.Sites(*(_take(c, shape, part) for c in here))
            az, alt = _horizontal(v, site, fixed=self.target.is_fixed)
            if factor is not None:
                alt = seen_altitude(alt, _take(factor, shape, part))
            azimuth.reshape(-1)[part] = az
            altitude.reshape(-1)[part] = alt
        return azimuth, altitude


def earth_fixed(target: Target, utc: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Vector (3, ...) from the Earth's centre on Earth-fixed axes at UTC instants (...).

    A unit vector for a fixed target, metres for a body.
    """
    out = np.empty((3, utc.size))
    flat = utc.ravel()
    for start in range(0, utc.size, _CHUNK):
        part = slice(start, start + _CHUNK)
        turned = earth.turn(flat[part])
        out[:, part] = earth.to_earth_fixed(places.apparent_place(target, turned.tt_mjd), turned)
    if not target.is_fixed:
        out *= AU_M
    return out.reshape(3, *utc.shape)


def local_axes(
    v: NDArray[np.float64], site: earth.Sites, *, fixed: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """East, north and up of what the camera sees without air; length near 1.

    The site's own motion (diurnal aberration) is added to the east part; a body is first
    moved from the Earth's centre to the site.
    """
    toward = site.cos_lon * v[0] + site.sin_lon * v[1]
    east = site.cos_lon * v[1] - site.sin_lon * v[0]
    axis = v[2]
    if not fixed:
        toward = toward - site.equator_m
        axis = axis - site.axis_m
        length = np.sqrt(toward**2 + east**2 + axis**2)
        toward, east, axis = toward / length, east / length, axis / length
    east = east + EARTH_ROTATION_RAD_S * site.equator_m / LIGHT_M_S
    north = site.cos_lat * axis - site.sin_lat * toward
    up = site.sin_lat * axis + site.cos_lat * toward
    return east, north, up


def _horizontal(
    v: NDArray[np.float64], site: earth.Sites, *, fixed: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return azimuth_altitude_of(*local_axes(v, site, fixed=fixed))


def seen_altitude(
    altitude_deg: NDArray[np.float64], factor: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Altitude with the air's bending; see `backbearing.sky.refraction`."""
    return refraction.apparent_altitude_deg(altitude_deg, factor)


def checked_place(
    *, lat: ArrayLike, lon: ArrayLike, height_m: ArrayLike
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Places as arrays, refused where no such place exists."""
    named = (("lat", lat), ("lon", lon), ("height_m", height_m))
    lat_a, lon_a, height = (asked.numbers(value, key, SkyError) for key, value in named)
    if np.any(np.abs(lat_a) > 90.0):
        bad = float(lat_a[np.abs(lat_a) > 90.0].flat[0])
        raise SkyError(
            f"latitude {bad:g} lies outside -90 to 90; lat and lon may be swapped", lat=bad
        )
    if np.any(np.abs(lon_a) > 360.0):
        bad = float(lon_a[np.abs(lon_a) > 360.0].flat[0])
        raise SkyError(f"longitude {bad:g} lies outside -180 to 180", lon=bad)
    return lat_a, lon_a, height


def air_factor_at(
    height_m: NDArray[np.float64],
    pressure_hpa: ArrayLike | None = None,
    temperature_c: ArrayLike | None = None,
) -> NDArray[np.float64]:
    """Scale of refraction at a height: given air, or the standard atmosphere [USSA1976]_."""
    pressure, temperature = refraction.standard_atmosphere(height_m)
    if pressure_hpa is not None:
        pressure = np.asarray(pressure_hpa, dtype=np.float64)
    if temperature_c is not None:
        temperature = np.asarray(temperature_c, dtype=np.float64)
    return refraction.air_factor(pressure, temperature)


def _air(
    wanted: bool,
    height: NDArray[np.float64],
    pressure_hpa: ArrayLike | None,
    temperature_c: ArrayLike | None,
) -> NDArray[np.float64] | None:
    return air_factor_at(height, pressure_hpa, temperature_c) if wanted else None


def _parts(shape: tuple[int, ...]) -> Iterator[slice]:
    size = int(np.prod(shape, dtype=np.int64))
    for start in range(0, size, _CHUNK):
        yield slice(start, start + _CHUNK)


def _take(values: NDArray[np.float64], shape: tuple[int, ...], part: slice) -> NDArray[np.float64]:
    """Flat slice of what ``values`` would be at the broadcast shape, without making it."""
    if values.size == 1:
        return values.reshape(())
    if values.shape == shape and values.flags.c_contiguous:
        return values.reshape(-1)[part]
    return np.asarray(np.broadcast_to(values, shape).flat[part])
