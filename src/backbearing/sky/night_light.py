"""What Moon and twilight add to the sky at a target, each minute of one night, worked out at once.

For whoever asks minute by minute: a desk, or a session's starts.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import angle_between_deg
from backbearing.sky.directions import direction
from backbearing.sky.glow import twilight_nl
from backbearing.sky.instants import utc_array
from backbearing.sky.luminance import SkyLuminance
from backbearing.sky.moonlight import (
    LOWEST_SKY_DEG,
    dark_sky_nl,
    luminance_cd_m2,
    moonlight_at,
)
from backbearing.sky.targets import SUN

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

    Floats = NDArray[np.float64]

STEP_S: Final = 60.0
"""Between whole minutes light is linear: within 1 per cent of `sky_luminance` (held by a test),
and by up to a quarter of full moonlight within the minutes of moonrise."""


@dataclass(frozen=True, eq=False)
class NightLight:
    """Moonlight and twilight at a target over a place, by the minute; made by `night_light`.

    Attributes
    ----------
    start_s : float
        Of the first minute, seconds since 1970 UTC.
    moon_nl, twilight_nl : ndarray, shape (n,)
        Nanolamberts that they add; NaN where no model holds.
    target_altitude_deg : ndarray, shape (n,)
    """

    start_s: float
    moon_nl: Floats
    twilight_nl: Floats
    target_altitude_deg: Floats

    def covers(self, times: Sequence[dt.datetime]) -> bool:
        """Whether all moments lie in the night that was worked out."""
        last = self.start_s + STEP_S * (len(self.moon_nl) - 1)
        return all(self.start_s <= time.timestamp() <= last for time in times)

    def luminance(
        self,
        times: Sequence[dt.datetime],
        *,
        dark_mag: ArrayLike,
        core_mag: float,
        dark_zenith_mag: ArrayLike,
    ) -> SkyLuminance:
        """As `sky_luminance` at moments, shape (n,), that `covers` holds of."""
        at = np.array([(time.timestamp() - self.start_s) / STEP_S for time in times])
        altitude = np.maximum(self._between(self.target_altitude_deg, at), LOWEST_SKY_DEG)
        dark = np.broadcast_to(luminance_cd_m2(dark_mag), at.shape)
        a_nl = dark / dark_sky_nl(90.0 - altitude, zenith_mag=dark_zenith_mag)
        return SkyLuminance(
            dark=np.array(dark),
            moon=a_nl * self._between(self.moon_nl, at),
            twilight=a_nl * self._between(self.twilight_nl, at),
            milky_way=np.full(at.shape, float(luminance_cd_m2(core_mag))),
        )

    @staticmethod
    def _between(values: Floats, at: Floats) -> Floats:
        low = np.minimum(at.astype(np.intp), len(values) - 2)
        share = at - low
        # A whole minute is its own value, whatever stands beside it.
        later = np.where(share > 0.0, values[low + 1], values[low])
        return np.asarray(values[low] + share * (later - values[low]))


@lru_cache(maxsize=8)
def night_light(
    target: Target, *, lat: float, lon: float, height_m: float, evening: dt.date
) -> NightLight:
    """Work out a night from local noon to noon, for a place; kept for the next call.

    Stands some kilometres away see the same within 1 per cent (held by a test).
    """
    noon = dt.datetime.combine(evening, dt.time(12), dt.UTC) - dt.timedelta(hours=round(lon / 15.0))
    utc = utc_array([noon]) + np.arange(1441) * np.timedelta64(60, "s")
    place: dict[str, Any] = {"lat": lat, "lon": lon, "height_m": height_m, "times": utc}
    azimuth, altitude = direction(target, **place)
    sun_az, sun_alt = direction(SUN, refraction=False, **place)
    apart = angle_between_deg(
        lon1_deg=sun_az, lat1_deg=sun_alt, lon2_deg=azimuth, lat2_deg=altitude
    )
    seen = np.maximum(altitude, LOWEST_SKY_DEG)
    more = moonlight_at(target, **place, low_skyline=True).brightening_mag
    return NightLight(
        start_s=noon.timestamp(),
        moon_nl=dark_sky_nl(90.0 - seen) * np.expm1(0.92104 * more),
        twilight_nl=twilight_nl(
            sun_altitude_deg=sun_alt,
            separation_deg=np.maximum(apart, 1.0),
            zenith_distance_deg=90.0 - seen,
        ),
        target_altitude_deg=np.asarray(altitude),
    )
