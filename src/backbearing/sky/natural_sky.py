"""How bright the natural night sky is by altitude: airglow in a layer, the rest from beyond.

Without Moon, twilight, towns and the Milky Way's own clouds. Airglow changes from hour to hour
and over the Sun's cycle by tenths of a magnitude; this is a mean.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.sky.moonlight import air_mass

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

NATURAL_MAG: Final = 22.0
"""Natural zenith sky, V magnitudes a square arcsecond [Falchi2016]_."""

NATURAL_MCD_M2: Final = 0.174
"""The same as luminance, mcd/m2 [Falchi2016]_."""

AIRGLOW_SHARE: Final = 0.6
"""Share of the zenith's light that shines in a layer of the upper air [Patat2003]_."""

NATURAL_SIGMA_MAG: Final = 0.4
"""One standard deviation of the natural sky: 21.6 was measured at a busy Sun [Patat2003]_, 22 is
a quiet one's [Falchi2016]_."""


def natural_brightening_mag(altitude_deg: ArrayLike, *, extinction_mag: ArrayLike) -> Floats:
    """Magnitudes by which the natural sky at an altitude is brighter than at the zenith.

    ``2.5 log10(0.4 + 0.6 X) - k (X - 1)`` with the layer's path X, ``(1 - 0.96 cos^2 h)^-0.5``
    [Patat2003]_: more of the layer is seen lower down, and more air dims it.

    Parameters
    ----------
    altitude_deg : array_like
        Apparent, degrees; NaN below the horizontal.
    extinction_mag : array_like
        V magnitudes a unit of air mass at the site, haze included.

    Examples
    --------
    >>> from backbearing.sky.natural_sky import natural_brightening_mag
    >>> [f"{m:.2f}" for m in natural_brightening_mag([90.0, 30.0, 6.0], extinction_mag=0.2)]
    ['0.00', '0.29', '0.53']
    """
    altitude = np.asarray(altitude_deg, dtype=np.float64)
    up = np.where((altitude >= 0.0) & (altitude <= 90.0), altitude, np.nan)
    path = air_mass(90.0 - up)
    more = 2.5 * np.log10(1.0 - AIRGLOW_SHARE + AIRGLOW_SHARE * path)
    return np.asarray(more - np.asarray(extinction_mag) * (path - 1.0))


def natural_sky_cd_m2(altitude_deg: ArrayLike, *, extinction_mag: ArrayLike) -> Floats:
    """Candela a square metre of the natural sky at an altitude; 0.174 mcd/m2 at the zenith."""
    more = natural_brightening_mag(altitude_deg, extinction_mag=extinction_mag)
    return np.asarray(1e-3 * NATURAL_MCD_M2 * 10.0 ** (0.4 * more))
