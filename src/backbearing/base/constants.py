"""Constants of the Earth, the Moon, light and time: each once, with its unit and its source."""

from __future__ import annotations

import math
from typing import Final

WGS84_A_M: Final = 6_378_137.0
"""Half the equator's diameter, metres: WGS84 [NGA2014]_, defining value."""

WGS84_FLATTENING: Final = 1.0 / 298.257223563
"""WGS84 [NGA2014]_, defining value."""

WGS84_E2: Final = WGS84_FLATTENING * (2.0 - WGS84_FLATTENING)
"""First eccentricity of the ellipsoid, squared."""

MEAN_EARTH_RADIUS_M: Final = 6_371_008.8
"""Mean radius ``(2 a + b) / 3`` of WGS84, metres (R1 of [Moritz2000]_), to 0.1 m."""

WEB_MERCATOR_RADIUS_M: Final = WGS84_A_M
"""Radius of the Web Mercator sphere, metres ([EPSG3857]_, method 1024)."""

LEAST_M_PER_LAT_DEG: Final = 110_574.0
"""A degree of latitude is nowhere shorter, metres: at the equator, ``a (1 - e^2) pi / 180``."""

DEFAULT_REFRACTION_K: Final = 0.13
"""Terrestrial refraction coefficient, survey practice [Brunner1984]_; range 0.07 to 0.20."""

DEFAULT_REACH_M: Final = 100_000.0
"""How far a skyline is sought when nothing is said, metres (own choice)."""

MOON_RADIUS_M: Final = 1_737_400.0
"""Mean radius of the Moon, metres [IAUIAG2007]_."""

AU_M: Final = 149_597_870_700.0
"""Astronomical unit, metres: exact since IAU 2012 resolution B2."""

LIGHT_M_S: Final = 299_792_458.0
"""Speed of light in a vacuum, metres a second: exact in the SI."""

EARTH_ROTATION_RAD_S: Final = 7.292115e-5
"""Turn of the Earth against the stars, radians a second: nominal, WGS84 [NGA2014]_."""

SECONDS_A_DAY: Final = 86_400.0

SIDEREAL_DAY_S: Final = 86_164.0905
"""Mean sidereal day, seconds of UT1 [Urban2013]_: a turn against the moving equinox."""

SIDEREAL_RATE_RAD_S: Final = 2.0 * math.pi / SIDEREAL_DAY_S
"""Turn of the sky against the equinox, 7.292116e-5 radians a second."""

SIDEREAL_RATE_DEG_S: Final = 360.0 / SIDEREAL_DAY_S
"""Turn of the sky, degrees a second."""
