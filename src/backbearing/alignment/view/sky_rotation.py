"""The whole sky at one place and moment: many directions turned at once, both ways."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, east_north_up
from backbearing.sky import earth
from backbearing.sky.directions import air_factor_at, earth_fixed, local_axes, seen_altitude
from backbearing.sky.instants import utc_array
from backbearing.sky.refraction import true_altitude_deg
from backbearing.sky.targets import Target

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_AXES: Final = ((0.0, 0.0), (90.0, 0.0), (0.0, 90.0), (180.0, 0.0), (270.0, 0.0), (0.0, -90.0))


@dataclass(frozen=True, slots=True)
class SkyTurn:
    """From ICRS directions to the local horizon and back.

    Attributes
    ----------
    turn : ndarray, shape (3, 3)
        ICRS unit vectors to east, north, up.
    shift : ndarray, shape (3,)
        The observer's velocity over that of light, on the same local axes: aberration to
        first order, ``v + w`` made a unit vector again.
    air_factor : ndarray, shape ()
        Scale of refraction at the place.
    """

    turn: Floats
    shift: Floats
    air_factor: Floats

    @classmethod
    def at(cls, *, lat: float, lon: float, height_m: float, time: dt.datetime) -> SkyTurn:
        """Take the full reduction of six directions and read the turn off them.

        The halves of difference and sum of opposite directions are the turned axis and
        the part of the aberration across it; the three sums add up to twice the whole.
        Against the full reduction of any star this stays within 0.001 degree.
        """
        site = earth.sites(lat=lat, lon=lon, height_m=height_m)
        seen = np.stack(local_axes(_axes_at(time), site, fixed=True), axis=1)
        ahead, behind = seen[:3], seen[3:]
        return cls(
            turn=((ahead - behind) / 2.0).T,
            shift=(ahead + behind).sum(axis=0) / 4.0,
            air_factor=air_factor_at(np.asarray(height_m, dtype=np.float64)),
        )

    def horizontal(self, icrs: Floats) -> tuple[Floats, Floats]:
        """Azimuth and apparent altitude, degrees, of ICRS unit vectors (3, n)."""
        east, north, up = self.turn @ icrs + self.shift[:, None]
        azimuth, altitude = azimuth_altitude_of(east, north, up)
        return azimuth, seen_altitude(altitude, self.air_factor)

    def icrs(self, azimuth_deg: Floats, altitude_deg: Floats) -> Floats:
        """ICRS unit vectors (3, n) of apparent directions: `horizontal` undone."""
        true = true_altitude_deg(altitude_deg, self.air_factor)
        seen = east_north_up(azimuth_deg=azimuth_deg, altitude_deg=true)
        back = seen - self.shift[:, None]
        return np.asarray(self.turn.T @ (back / np.linalg.norm(back, axis=0)))


@lru_cache(maxsize=32)
def _axes_at(time: dt.datetime) -> Floats:
    """The six axes, fixed to the Earth, shape (3, 6): the same for all lenses of a minute."""
    utc = np.atleast_1d(utc_array([time]))
    axes = [Target.radec(ra_deg=ra_deg, dec_deg=dec_deg) for ra_deg, dec_deg in _AXES]
    seen = np.stack([earth_fixed(axis, utc)[:, 0] for axis in axes], axis=1)
    seen.setflags(write=False)
    return seen
