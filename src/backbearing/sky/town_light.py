"""How bright a town makes the sky in any direction, by Garstang's model.

Light leaves a town upward, is scattered once by molecules and haze in the line of sight, and
dimmed on both ways, over a round Earth [Garstang1986]_, [Garstang1989]_. Light that is scattered
twice enters as Garstang's factor on the light that reaches a place, ``1 + t_haze + t_molecules /
3`` with the depths on its way. The geometry is worked out here; the formulas of emission, of
scattering by angle and of that factor are second hand [Cinzano2000]_, Garstang's pages were not
seen. The air is this project's own (`extinction`), so that one haze holds for the dimming of the
target and for the glow.

A town is a point, at the site's own height. Ridges that hide a town's light from the air, woods,
clouds and lamps put out at midnight are not in it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.sky.extinction import (
    HAZE_SCALE_M,
    MOLECULES_SCALE_M,
    haze_mag,
    molecules_mag,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LUMENS_A_HEAD: Final = 500.0
"""Lumens of outdoor lamps for each person: half of [Garstang1986]_'s 1000. So the model meets
Walker's law [Walker1977]_ 45 degrees up, 10 to 60 km away; with 1000 it lies 0.8 magnitude over
it, and over what was measured since [Luginbuhl2009]_ (own choice)."""

GROUND_GIVES_BACK: Final = 0.15
"""G of [Garstang1986]_: share of the light on the ground that goes back up."""

STRAIGHT_UP_SHARE: Final = 0.15
"""F of [Garstang1986]_: share of the lamps' light that leaves them above the horizontal."""

HAZE_ALBEDO: Final = 11.11 / 11.778
"""Share of what haze takes that it scatters; the rest it swallows [Garstang1989]_."""

LOWEST_DEG: Final = 3.0
"""Lower down nothing is told: the path through haze is so long that light scattered many times,
which is not in the model, is most of it (judgement)."""

FARTHEST_M: Final = 200_000.0
"""Towns farther off are left out: beyond, the Earth's curve takes their light (own choice)."""

NEAREST_M: Final = 1_000.0
PEOPLE_A_KM2: Final = 2_000.0
"""A town counts as at least so far off as a round town of so many people on a square kilometre
reaches, and as this far (own choice): the model knows no size of a town."""

TOWN_SIGMA_MAG: Final = 0.9
"""One standard deviation of a town's light: lamps for each person, their shields and the air's
haze each change it by a factor of two or so (judgement, no source)."""

_TOP_KM: Final = 80.0
_POINTS: Final = 32


class SiteAir(NamedTuple):
    """What scatters and dims at a site: extinction a kilometre there, and how it thins out.

    Attributes
    ----------
    molecules_km, haze_km : float
        Of a level path at the site, 1/km, natural logarithm; the haze's with what it swallows.
    molecules_scale_km, haze_scale_km : float
        Heights over which they fall to 1/e.
    """

    molecules_km: float
    haze_km: float
    molecules_scale_km: float = MOLECULES_SCALE_M / 1000.0
    haze_scale_km: float = HAZE_SCALE_M / 1000.0

    @classmethod
    def of(cls, *, height_m: float, aerosol_mag: float | None = None) -> SiteAir:
        """The air of `extinction` at a site so high; its haze as asked, V magnitudes, if it is."""
        mag = 0.4 * math.log(10.0)
        haze = float(haze_mag(height_m)) if aerosol_mag is None else aerosol_mag
        return cls(
            mag * float(molecules_mag(height_m)) / (MOLECULES_SCALE_M / 1000.0),
            mag * haze / (HAZE_SCALE_M / 1000.0),
        )


def emission_per_sr(zenith_angle_deg: ArrayLike) -> Floats:
    """Share of a town's lumens that leaves it upward at an angle from its zenith, 1/sr.

    ``(2 G (1 - F) cos z + 0.554 F z^4) / (2 pi)``, z in radians [Garstang1986]_: light given
    back by the ground, and light straight from lamps, most of it just above the horizontal.
    """
    z = np.radians(np.asarray(zenith_angle_deg, dtype=np.float64))
    ground = 2.0 * GROUND_GIVES_BACK * (1.0 - STRAIGHT_UP_SHARE) * np.cos(z)
    return np.asarray((ground + 0.554 * STRAIGHT_UP_SHARE * z**4) / (2.0 * np.pi))


def molecules_per_sr(angle_deg: ArrayLike) -> Floats:
    """Share of what molecules scatter that goes off at an angle, 1/sr.

    ``3 (1 + cos^2) / (16 pi)``, Rayleigh's.
    """
    cosine = np.cos(np.radians(np.asarray(angle_deg, dtype=np.float64)))
    return np.asarray(3.0 * (1.0 + cosine * cosine) / (16.0 * np.pi))


def haze_per_sr(angle_deg: ArrayLike) -> Floats:
    """Share of what haze scatters that goes off at an angle, 1/sr, in three pieces [Garstang1991]_.

    ``7.5 exp(-0.1249 w^2 / (1 + 0.04996 w^2))`` to 10 degrees, ``1.88 exp(-0.07226 w +
    0.0002406 w^2)`` to 124, ``0.025 + 0.015 sin(2.25 w - 369)`` beyond.
    """
    w = np.asarray(angle_deg, dtype=np.float64)
    near = 7.5 * np.exp(-0.1249 * w * w / (1.0 + 0.04996 * w * w))
    middle = 1.88 * np.exp(-0.07226 * w + 0.0002406 * w * w)
    back = 0.025 + 0.015 * np.sin(np.radians(2.25 * w - 369.0))
    return np.asarray(np.where(w <= 10.0, near, np.where(w <= 124.0, middle, back)))


def column_km(length_km: ArrayLike, up: ArrayLike, scale_km: float) -> Floats:
    """Kilometres of level path with as much of what thins out with height as a slant path has.

    ``int_0^s exp(-(t u + t^2 (1 - u^2) / 2 R) / H) dt`` in closed form: the height along a
    straight line over a round Earth, to second order in t.

    Parameters
    ----------
    length_km : array_like
        s, from the ground at the site's height.
    up : array_like
        u, the sine of the line's altitude there; 0 to 1.
    scale_km : float
        H.
    """
    from scipy.special import erfcx

    s, u = np.asarray(length_km, dtype=np.float64), np.asarray(up, dtype=np.float64)
    bend = np.maximum(1.0 - u * u, 1e-9) / (2.0 * MEAN_EARTH_RADIUS_M / 1000.0) / scale_km
    root, slope = np.sqrt(bend), u / scale_km
    start = slope / (2.0 * root)
    left = np.exp(-s * (slope + bend * s)) * erfcx(start + root * s)
    return np.asarray(0.5 * math.sqrt(math.pi) / root * (erfcx(start) - left))


def cd_m2_a_lumen(
    *, distance_m: ArrayLike, altitude_deg: ArrayLike, off_deg: ArrayLike, air: SiteAir
) -> Floats:
    """Sky brightness that a town gives for each lumen of its lamps; the inputs broadcast.

    Parameters
    ----------
    distance_m : array_like
        Of the town, along the ground.
    altitude_deg, off_deg : array_like
        Where the sky is looked at: altitude, and azimuth less that of the town.
    air : SiteAir
    """
    d, alt, off = np.broadcast_arrays(
        *(np.asarray(v, dtype=np.float64)[..., None] for v in (distance_m, altitude_deg, off_deg))
    )
    look = _Look.of(d / 1000.0, np.radians(alt), np.radians(off))
    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    # Along the line of sight u - u_c = b sinh x makes du / s^2 even.
    low = np.arcsinh((look.first_km - look.nearest_at_km) / look.nearest_km)
    high = np.arcsinh((look.last_km - look.nearest_at_km) / look.nearest_km)
    x = low + (high - low) * (nodes + 1.0) / 2.0
    light = _scattered(look, look.nearest_at_km + look.nearest_km * np.sinh(x), air)
    per_x = light * look.nearest_km * np.cosh(x) * (high - low) / 2.0
    # Lumens a square kilometre are 1e-6 lux.
    return np.asarray(np.where(high > low, 1e-6 * per_x, 0.0) @ weights)


class _Look(NamedTuple):
    """A line of sight past a town: axes x to the town, y aside and z up at the site, km."""

    town: tuple[Floats, Floats]
    town_up: tuple[Floats, Floats]
    along: tuple[Floats, Floats, Floats]
    first_km: Floats
    last_km: Floats
    nearest_at_km: Floats
    nearest_km: Floats

    @classmethod
    def of(cls, distance_km: Floats, altitude: Floats, off: Floats) -> _Look:
        radius = MEAN_EARTH_RADIUS_M / 1000.0
        chi = distance_km / radius
        town_up = (np.sin(chi), np.cos(chi))
        town = (radius * town_up[0], -2.0 * radius * np.sin(chi / 2.0) ** 2)
        flat, up = np.cos(altitude), np.sin(altitude)
        along = (flat * np.cos(off), flat * np.sin(off), up)
        at = town[0] * along[0] + town[1] * along[2]
        near = np.sqrt(np.maximum(town[0] ** 2 + town[1] ** 2 - at * at, 1e-12))
        # What lies below the town's own horizon gets none of its light.
        rise = along[0] * town_up[0] + along[2] * town_up[1]
        drop = 2.0 * radius * np.sin(chi / 2.0) ** 2
        first = np.where(rise > 0.0, drop / np.where(rise > 0.0, rise, 1.0), np.inf)
        curve = flat * flat / (2.0 * radius)
        last = 2.0 * _TOP_KM / (up + np.sqrt(up * up + 4.0 * curve * _TOP_KM))
        return cls(town, town_up, along, np.minimum(first, last), last, at, near)


def _scattered(look: _Look, u: Floats, air: SiteAir) -> Floats:
    """What a kilometre of the line of sight sends to the eye for each lumen, (..., points)."""
    sx = u * look.along[0] - look.town[0]
    sy = u * look.along[1]
    sz = u * look.along[2] - look.town[1]
    s = np.sqrt(sx * sx + sy * sy + sz * sz)
    rise = np.clip((sx * look.town_up[0] + sz * look.town_up[1]) / s, 0.0, 1.0)
    ahead = -(sx * look.along[0] + sy * look.along[1] + sz * look.along[2]) / s
    angle = np.degrees(np.arccos(np.clip(ahead, -1.0, 1.0)))
    up = np.abs(look.along[2])
    there = [column_km(s, rise, h) for h in (air.molecules_scale_km, air.haze_scale_km)]
    here = [column_km(u, up, h) for h in (air.molecules_scale_km, air.haze_scale_km)]
    lost = air.molecules_km * (there[0] + here[0]) + air.haze_km * (there[1] + here[1])
    twice = 1.0 + HAZE_ALBEDO * air.haze_km * there[1] + air.molecules_km * there[0] / 3.0
    height = u * up + u * u * (1.0 - up * up) / (2.0 * MEAN_EARTH_RADIUS_M / 1000.0)
    molecules = air.molecules_km * np.exp(-height / air.molecules_scale_km)
    haze = HAZE_ALBEDO * air.haze_km * np.exp(-height / air.haze_scale_km)
    scatters = molecules * molecules_per_sr(angle) + haze * haze_per_sr(angle)
    lit = emission_per_sr(np.degrees(np.arccos(rise))) / (s * s)
    return np.asarray(lit * np.exp(-lost) * twice * scatters)
