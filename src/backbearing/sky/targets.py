"""What stands behind the subject: a fixed place among the stars, or a body that moves.

>>> from backbearing.sky import CORE, CORE_PLACES
>>> f"{CORE.name}: {CORE.ra_deg:.2f}, {CORE.dec_deg:.2f} degrees"
'Milky Way core (Sgr A*): 266.42, -29.01 degrees'
>>> list(CORE_PLACES)
['core', 'bright cloud', 'bulge light', 'dark lane']
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base import asked
from backbearing.base.angles import lon_lat_of, unit_vectors, wrap_360_deg
from backbearing.base.errors import SkyError
from backbearing.base.numbers import num
from backbearing.sky.stars import PARALLAX_MAS, star_named

if TYPE_CHECKING:
    from numpy.typing import NDArray

BODIES: Final[dict[str, str]] = {
    "sun": "sun",
    "moon": "moon",
    "mercury": "mercury",
    "venus": "venus",
    "mars": "mars",
    "jupiter": "jupiter barycenter",
    "saturn": "saturn barycenter",
    "uranus": "uranus barycenter",
    "neptune": "neptune barycenter",
}
"""Name of a solar-system body to its segment in the ephemeris."""

_POLE_RA_DEG = 192.85948
_POLE_DEC_DEG = 27.12825
_NODE_L_DEG = 32.93192
"""North galactic pole and ascending node of the galactic plane in ICRS [ESA1997]_."""


@dataclass(frozen=True)
class Target:
    """A thing in the sky: fixed ICRS coordinates, or a solar-system body by name.

    Parameters
    ----------
    name : str
        What the plan calls it.
    ra_deg, dec_deg : float or None
        ICRS right ascension and declination in degrees; None for a body.
    body_name : str or None
        A key of `BODIES`; None for a fixed place.
    source : str
        Where the coordinates come from.
    ra_cos_dec_mas_yr, dec_mas_yr : float
        Proper motion in milliarcseconds a year, from the place at J2000; 0 for a place that
        keeps still.
    parallax_mas : float
        Annual parallax, milliarcseconds; 0 for a place that is far away.

    Raises
    ------
    SkyError
        Neither or both kinds given, an unknown body, a declination beyond 90 degrees.

    Examples
    --------
    >>> from backbearing.sky import Target
    >>> antares = Target.star("Antares")
    >>> f"{antares.ra_deg:.2f}, {antares.dec_deg:.2f} degrees"
    '247.35, -26.43 degrees'
    """

    name: str
    ra_deg: float | None = None
    dec_deg: float | None = None
    body_name: str | None = None
    source: str = ""
    ra_cos_dec_mas_yr: float = 0.0
    dec_mas_yr: float = 0.0
    parallax_mas: float = 0.0

    def __post_init__(self) -> None:
        if self.body_name is not None:
            if self.ra_deg is not None or self.dec_deg is not None:
                raise SkyError(
                    f"target {self.name!r} has both a body and RA/Dec", hint="give one of them"
                )
            if self.body_name not in BODIES:
                raise SkyError(
                    f"there is no body {self.body_name!r} here",
                    hint=f"write one of {', '.join(BODIES)}",
                    body=self.body_name,
                )
            return
        if self.ra_deg is None or self.dec_deg is None:
            raise SkyError(f"target {self.name!r} has no place", hint="give RA and Dec, or a body")
        if not (np.isfinite(self.ra_deg) and np.isfinite(self.dec_deg)):
            raise SkyError(f"target {self.name!r} has a coordinate that is not a number")
        if abs(self.dec_deg) > 90.0:
            raise SkyError(
                f"target {self.name!r} has declination {self.dec_deg}; it lies between -90 and 90",
                dec_deg=self.dec_deg,
            )

    @property
    def is_fixed(self) -> bool:
        """True when the target keeps its place among the stars."""
        return self.body_name is None

    @classmethod
    def radec(cls, *, ra_deg: float, dec_deg: float, name: str | None = None) -> Target:
        """Make a target from ICRS right ascension and declination in degrees."""
        ra_deg = asked.number(ra_deg, "ra_deg", SkyError)
        dec_deg = asked.number(dec_deg, "dec_deg", SkyError)
        label = name or f"RA {num(wrap_360_deg(ra_deg))}° Dec {num(dec_deg, sign=True)}°"
        return cls(
            label, wrap_360_deg(float(ra_deg)), float(dec_deg), source="given as ICRS RA/Dec"
        )

    @classmethod
    def galactic(cls, *, l_deg: float, b_deg: float, name: str | None = None) -> Target:
        """Make a target from galactic longitude and latitude in degrees [ESA1997]_."""
        l_deg = asked.number(l_deg, "l_deg", SkyError)
        b_deg = asked.number(b_deg, "b_deg", SkyError)
        if abs(b_deg) > 90.0:
            raise SkyError(f"galactic latitude {b_deg} lies outside -90 to 90", b_deg=b_deg)
        ra, dec = galactic_to_icrs(l_deg=l_deg, b_deg=b_deg)
        label = name or f"l {num(l_deg)}° b {num(b_deg, sign=True)}°"
        return cls(label, ra, dec, source=f"galactic l={num(l_deg)}, b={num(b_deg)} [ESA1997]")

    @classmethod
    def star(cls, name: str) -> Target:
        """Make a target of a bright star by its IAU name; see `backbearing.sky.stars`."""
        found = star_named(asked.text(name, "star", SkyError))
        return cls(
            found.name,
            found.ra_deg,
            found.dec_deg,
            source=f"HIP {found.hip}, ICRS at J2000, proper motion [ESA1997], name [IAUCSN2022]",
            ra_cos_dec_mas_yr=found.ra_cos_dec_mas_yr,
            dec_mas_yr=found.dec_mas_yr,
            parallax_mas=PARALLAX_MAS.get(found.hip, 0.0),
        )

    @classmethod
    def body(cls, body: str, *, name: str | None = None) -> Target:
        """Make a target of a solar-system body; its name in any case."""
        key = asked.text(body, "body", SkyError).strip().lower()
        return cls(name or key.capitalize(), body_name=key, source="JPL DE421 [DE421]")


def icrs_to_galactic_matrix() -> NDArray[np.float64]:
    """Rotation (3, 3) from ICRS to galactic axes, from its three angles [ESA1997]_."""
    ra, dec, node = np.radians((_POLE_RA_DEG, _POLE_DEC_DEG, _NODE_L_DEG))
    return _frame_z(-node) @ _frame_x(np.pi / 2 - dec) @ _frame_z(ra + np.pi / 2)


def galactic_to_icrs(*, l_deg: float, b_deg: float) -> tuple[float, float]:
    """ICRS right ascension [0, 360) and declination, degrees, of galactic l and b."""
    return _turned(icrs_to_galactic_matrix().T, l_deg, b_deg)


def icrs_to_galactic(*, ra_deg: float, dec_deg: float) -> tuple[float, float]:
    """Galactic longitude [0, 360) and latitude, degrees, of an ICRS place."""
    return _turned(icrs_to_galactic_matrix(), ra_deg, dec_deg)


def _turned(matrix: NDArray[np.float64], lon_deg: float, lat_deg: float) -> tuple[float, float]:
    lon, lat = lon_lat_of(matrix @ unit_vectors(lon_deg=lon_deg, lat_deg=lat_deg))
    return float(lon), float(lat)


def _frame_z(angle: float) -> NDArray[np.float64]:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])


def _frame_x(angle: float) -> NDArray[np.float64]:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[1.0, 0.0, 0.0], [0.0, c, s], [0.0, -s, c]])


CORE: Final = Target(
    "Milky Way core (Sgr A*)",
    266.4168371,
    -29.0078106,
    source="ICRS, J2000 place without proper motion (0.17 arcsecond by 2027) [Reid2004]",
)
"""Sagittarius A*, the centre of the Galaxy [Reid2004]_."""

BRIGHT_CLOUD: Final = Target(
    "Large Sagittarius Star Cloud",
    270.0,
    -29.0,
    source="ICRS, 18 h -29 degrees, 6 by 4 degrees, the brightest part of the band [Crossen2004]",
)
"""The brightest cloud of the bulge, seen past the dust; 3.1 degrees from Sagittarius A*."""

BULGE_LIGHT: Final = Target.galactic(l_deg=0.5, b_deg=-3.6, name="Middle of the bulge's light")
"""Middle of what is bright about the core in the previews' Milky Way, good to a degree.

From `backbearing.alignment.view.milky_way.middle_of_bulge_light`; a test holds the two together.
"""

DARK_LANE: Final = Target(
    "Dark lane (Pipe's bowl, B 78)",
    263.25,
    -26.5,
    source="ICRS, 17 h 33 min -26.5 degrees, 200 by 140 arcminutes [Barnard1927]",
)
"""A large dark cloud of the lane, 3.8 degrees from the core: the Pipe's bowl, Barnard 78."""

CORE_PLACES: Final[dict[str, Target]] = {
    "core": CORE,
    "bright cloud": BRIGHT_CLOUD,
    "bulge light": BULGE_LIGHT,
    "dark lane": DARK_LANE,
}
"""What one may mean by the core, by the name that an outing file writes."""

SUN: Final = Target.body("sun")
MOON: Final = Target.body("moon")
