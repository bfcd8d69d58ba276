"""The Milky Way's band about its core: where it runs, and how much of it is up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, unit_vectors
from backbearing.sky import earth
from backbearing.sky.directions import (
    air_factor_at,
    checked_place,
    earth_fixed,
    local_axes,
    seen_altitude,
)
from backbearing.sky.instants import utc_array
from backbearing.sky.targets import Target, icrs_to_galactic_matrix

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.sky.windows import Skyline

HALF_LENGTH_DEG: Final = 30.0
"""The band looked at runs so far in galactic longitude to each side of the centre."""

_AXES: Final = tuple(
    Target.radec(ra_deg=ra, dec_deg=dec, name=name)
    for ra, dec, name in ((0.0, 0.0, "ICRS x"), (90.0, 0.0, "ICRS y"), (0.0, 90.0, "ICRS z"))
)


def band_directions(
    *,
    lat: float,
    lon: float,
    height_m: float = 0.0,
    times: Any,
    half_length_deg: float = HALF_LENGTH_DEG,
    step_deg: float = 1.0,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Azimuth and apparent altitude, degrees, of points along the galactic equator.

    Shapes (points, n) for n times: galactic longitude from ``-half_length_deg`` to
    ``half_length_deg``. The celestial axes are turned as one: within 0.01 degree, for the
    aberration of each point is shared.

    Raises
    ------
    SkyError
        A naive time, a date outside the ephemeris, no such place.
    """
    checked_place(lat=lat, lon=lon, height_m=height_m)
    utc = np.atleast_1d(utc_array(times))
    axes = np.stack([earth_fixed(axis, utc) for axis in _AXES], axis=1)
    count = round(2.0 * half_length_deg / step_deg) + 1
    l_deg = np.linspace(-half_length_deg, half_length_deg, count)
    icrs = icrs_to_galactic_matrix().T @ unit_vectors(lon_deg=l_deg, lat_deg=0.0)
    v = np.einsum("ijn,jp->ipn", axes, icrs)
    site = earth.sites(lat=lat, lon=lon, height_m=height_m)
    azimuth, altitude = azimuth_altitude_of(*local_axes(v, site, fixed=True))
    seen = seen_altitude(altitude, air_factor_at(np.asarray(height_m, dtype=np.float64)))
    return azimuth, seen


def band_share_up(
    *,
    lat: float,
    lon: float,
    height_m: float = 0.0,
    times: Any,
    horizon: Skyline | None = None,
    half_length_deg: float = HALF_LENGTH_DEG,
) -> NDArray[np.float64]:
    """Share (n,) of the band about the core that stands above the skyline, 0 to 1.

    Of its length along the galactic equator; NaN where a piece of the skyline under it is
    not known. Parameters and errors as in `band_directions`.
    """
    azimuth, altitude = band_directions(
        lat=lat, lon=lon, height_m=height_m, times=times, half_length_deg=half_length_deg
    )
    edge = np.zeros(azimuth.shape)
    if horizon is not None:
        edge = np.asarray(horizon.altitude_at(azimuth), dtype=np.float64)
    with np.errstate(invalid="ignore"):
        up = np.where(np.isfinite(edge), altitude > edge, np.nan)
    # What stands far below the horizontal is below any skyline, known or not.
    return np.asarray(np.mean(np.where(altitude < -5.0, 0.0, up), axis=0))
