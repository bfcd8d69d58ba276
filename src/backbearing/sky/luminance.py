"""How bright the sky behind a subject is, in candela a square metre, part by part.

Magnitudes a square arcsecond go to luminance by ``m = -2.5 log10(L / 108000)``, the relation
in which sky meters are read ([Falchi2016]_ counts so too: 22.00 is 0.171168 mcd/m2). It holds
for light like the Sun's: a sky of sodium lamps is off by some tenths of a magnitude.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.sky.glow import twilight_brightening_mag
from backbearing.sky.moonlight import DARK_ZENITH_MAG, luminance_cd_m2, moonlight_at

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.targets import Target

    Floats = NDArray[np.float64]

CORE_MAG: Final = 20.5
"""The Milky Way's bright clouds about the core, 20 to 21 [Leinert1998]_; from memory."""


def magnitude_of_cd_m2(cd_m2: ArrayLike) -> Floats:
    """V magnitudes a square arcsecond of a luminance; infinite for none.

    Examples
    --------
    >>> from backbearing.sky.luminance import magnitude_of_cd_m2
    >>> f"{magnitude_of_cd_m2(0.000171168):.2f}"
    '22.00'
    """
    with np.errstate(divide="ignore"):
        return np.asarray(-2.5 * np.log10(np.asarray(cd_m2, dtype=np.float64) / 108_000.0))


class SkyLuminance(NamedTuple):
    """The sky at a target, candela a square metre, arrays of one shape.

    Attributes
    ----------
    dark : array
        As asked: natural light and that of towns together.
    moon, twilight : array
        What the Moon and the Sun add; twilight is NaN with the Sun above -4 degrees, where
        its formula ends, and both with the target down.
    milky_way : array
        The Milky Way's own light, as asked.
    """

    dark: Floats
    moon: Floats
    twilight: Floats
    milky_way: Floats

    @property
    def total(self) -> Floats:
        """All of it."""
        return np.asarray(self.dark + self.moon + self.twilight + self.milky_way)


def sky_luminance(
    target: Target,
    *,
    lat: ArrayLike,
    lon: ArrayLike,
    height_m: ArrayLike = 0.0,
    times: Any,
    dark_mag: ArrayLike = DARK_ZENITH_MAG,
    core_mag: float = CORE_MAG,
    dark_zenith_mag: ArrayLike | None = None,
) -> SkyLuminance:
    """Add up the sky's light at a target; shapes as in `direction`.

    The Moon's part is [KS1991]_'s and twilight's [Schaefer1998]_'s, each taken as a brightening
    of the dark sky.

    Parameters
    ----------
    target : Target
    lat, lon, height_m, times
        The places, degrees and metres, and aware instants.
    dark_mag : array_like
        V magnitudes a square arcsecond of the moonless sky at the target, as it reaches the
        camera, without the Milky Way.
    core_mag : float
        Of the Milky Way's own light there; infinite for none.
    dark_zenith_mag : array_like, optional
        Of the zenith whose sky at the target is that of ``dark_mag``, from `zenith_mag_for`;
        ``dark_mag`` itself when not given.

    Raises
    ------
    SkyError
        A naive time, a date outside the ephemeris, no such place.
    """
    there: dict[str, Any] = {
        "lat": lat,
        "lon": lon,
        "height_m": height_m,
        "times": times,
        "dark_zenith_mag": dark_mag if dark_zenith_mag is None else dark_zenith_mag,
        "low_skyline": True,
    }
    moon_mag = np.atleast_1d(moonlight_at(target, **there).brightening_mag)
    glow_mag = np.atleast_1d(twilight_brightening_mag(target, **there))
    dark = np.broadcast_to(luminance_cd_m2(dark_mag), moon_mag.shape)
    return SkyLuminance(
        dark=np.array(dark),
        moon=np.asarray(dark * (10.0 ** (0.4 * moon_mag) - 1.0)),
        twilight=np.asarray(dark * (10.0 ** (0.4 * glow_mag) - 1.0)),
        milky_way=np.full(moon_mag.shape, float(luminance_cd_m2(core_mag))),
    )
