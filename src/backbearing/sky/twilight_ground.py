"""How much twilight falls on level ground, lux, by the Sun's depth under a clear sky."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_PIECES: Final = (
    (-18.0, (13.84, 262.72, 1447.42, 2797.93)),
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
)
"""From which altitude of the Sun on, and a cubic in altitude / 90 for log10 lux
[Janiczek1987]_."""
_HIGHEST_DEG: Final = 5.0

TWILIGHT_SIGMA_STOPS: Final = 1.0
"""One standard deviation under a clear sky, stops (judgement, no source): haze, cloud and volcanic
dust move it; [Janiczek1987]_ takes cloud as a half to a tenth."""


def twilight_lux(sun_altitude_deg: ArrayLike) -> Floats:
    """Lux on level ground under a clear sky; NaN with the Sun above 5 or below -18 degrees.

    The Sun's altitude is that without refraction. At -18 some 0.0006 lux are left, which is
    the night sky's own light.

    Examples
    --------
    >>> from backbearing.sky.twilight_ground import twilight_lux
    >>> [f"{lux:.2g}" for lux in twilight_lux([-6.0, -12.0])]
    ['3.4', '0.0081']
    """
    altitude = np.asarray(sun_altitude_deg, dtype=np.float64)
    x = altitude / 90.0
    log10 = np.full(altitude.shape, np.nan)
    for lowest, (a, b, c, d) in _PIECES:
        log10 = np.where(altitude >= lowest, a + x * (b + x * (c + x * d)), log10)
    return np.asarray(np.where(altitude <= _HIGHEST_DEG, 10.0**log10, np.nan))
