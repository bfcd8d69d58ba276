"""Glow of towns: how much each brightens the sky towards it, by Walker's law.

Walker's law [Walker1977]_ gives the brightening 45 degrees up in the direction of a town. How
much of it reaches another direction no source here says: the weighting by direction is this
project's own choice, and stated beside every figure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.geodesy import earth_xyz_m, line_between
from backbearing.base.numbers import num
from backbearing.base.text import length

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.tables.towns import Towns

    Floats = NDArray[np.float64]

WALKER_C: Final = 0.01
"""Constant of Walker's law for people and kilometres [Walker1977]_; from memory."""

FARTHEST_M: Final = 200_000.0
"""Towns farther off are left out: beyond, the Earth's curve takes their light (own choice)."""

NEAREST_M: Final = 1_000.0
"""Nearer towns count as this far off: the law knows no size of a town (own choice)."""

BACKGROUND_SHARE: Final = 0.1
"""Share of a town's glow that is left in the direction away from it (own choice)."""

_PAIRS_AT_ONCE: Final = 4_000_000


class Glow(NamedTuple):
    """What towns add to the sky in a direction.

    Attributes
    ----------
    ratio : ndarray, shape (n,)
        Brightening as a multiple of the natural sky, all towns together.
    mag : ndarray, shape (n,)
        The same in magnitudes.
    town : ndarray of int, shape (n,)
        The town that adds the most, as an index; -1 where none is within reach.
    town_distance_m, town_azimuth_deg : ndarray, shape (n,)
        Where that town lies; NaN without one.
    town_share : ndarray, shape (n,)
        Its share of the ratio.
    """

    ratio: Floats
    mag: Floats
    town: NDArray[np.intp]
    town_distance_m: Floats
    town_azimuth_deg: Floats
    town_share: Floats


def walker_brightening(*, population: ArrayLike, distance_m: ArrayLike) -> Floats:
    """Brightening of the sky 45 degrees up towards a town, as a multiple of the natural sky.

    ``I = C P d^-2.5``, P people and d kilometres, C = 0.01 [Walker1977]_. The law rests on
    towns of California some ten to some fifty kilometres away (from memory), with the lamps
    of their time; towns of today may shine several times more or less for each person.

    Raises
    ------
    OutingError
        For a population below zero or a distance that is not above zero.
    """
    people = np.asarray(population, dtype=np.float64)
    away_km = np.asarray(distance_m, dtype=np.float64) / 1000.0
    if np.any(people < 0.0) or np.any(away_km <= 0.0):
        raise OutingError("Give a population of zero or more, and a distance above zero.")
    # d^-2.5 by a square and a root takes a third of the time of a power.
    return np.asarray(WALKER_C * people / (away_km * away_km * np.sqrt(away_km)))


def direction_share(off_deg: ArrayLike) -> Floats:
    """Share of a town's glow in a direction so many degrees of azimuth off the town.

    ``b + (1 - b) ((1 + cos off) / 2)^2`` with b = 0.1: this project's own choice, no source.
    1 towards the town, a third at a right angle, a tenth away from it.
    """
    return _share_by_cosine(np.cos(np.radians(np.asarray(off_deg, dtype=np.float64))))


def _share_by_cosine(cosine: Floats) -> Floats:
    turn = (1.0 + cosine) / 2.0
    return np.asarray(BACKGROUND_SHARE + (1.0 - BACKGROUND_SHARE) * turn * turn)


def glow_behind(towns: Towns, *, lat: ArrayLike, lon: ArrayLike, azimuth_deg: ArrayLike) -> Glow:
    """Sum the towns' glow in one direction from each of many places.

    Each town within 200 km adds `walker_brightening` times `direction_share`. The figure is
    Walker's for 45 degrees up: lower down the true glow is stronger, higher up weaker.

    Parameters
    ----------
    towns : Towns
    lat, lon, azimuth_deg : array_like, shape (n,)
        Places and directions, degrees; they broadcast. NaN gives NaN.
    """
    lat_a, lon_a, az_a = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in (lat, lon, azimuth_deg))
    )
    count = len(lat_a)
    ratio, share = np.full(count, np.nan), np.full(count, np.nan)
    town = np.full(count, -1, dtype=np.intp)
    step = max(1, _PAIRS_AT_ONCE // max(1, len(towns)))
    for start in range(0, count, step):
        part = slice(start, start + step)
        ratio[part], town[part], share[part] = _glow(towns, lat_a[part], lon_a[part], az_a[part])
    away, bearing = np.full(count, np.nan), np.full(count, np.nan)
    has = np.flatnonzero(town >= 0)
    if has.size:
        line = line_between(
            lat1=lat_a[has],
            lon1=lon_a[has],
            lat2=towns.lat[town[has]],
            lon2=towns.lon[town[has]],
        )
        away[has], bearing[has] = line.distance_m, line.azimuth_deg
    return Glow(ratio, 2.5 * np.log10(1.0 + ratio), town, away, bearing, share)


def glow_sentence(towns: Towns, glow: Glow, i: int, *, behind: str = "the core") -> str:
    """Say the glow at one place in a few words; empty where it is unknown or under 0.02 mag.

    ``town glow behind the core: Millbrook, 18 km (0.12 mag)``.
    """
    if not glow.mag[i] >= 0.02:
        return ""
    name = towns.name[int(glow.town[i])]
    others = " and others" if glow.town_share[i] < 0.8 else ""
    where = length(float(glow.town_distance_m[i]))
    return f"town glow behind {behind}: {name}, {where}{others} ({num(glow.mag[i], 2)} mag)"


def _glow(
    towns: Towns, lat: Floats, lon: Floats, azimuth_deg: Floats
) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Sum over all towns for a few places: ratio, the worst town, its share."""
    if not len(towns):
        empty = np.where(np.isfinite(lat + lon + azimuth_deg), 0.0, np.nan)
        return empty, np.full(len(lat), -1, dtype=np.intp), np.full(len(lat), np.nan)
    away = _distances_m(earth_xyz_m(lat=lat, lon=lon), earth_xyz_m(lat=towns.lat, lon=towns.lon))
    strength = walker_brightening(population=towns.population, distance_m=np.fmax(away, NEAREST_M))
    share_there = _share_by_cosine(_cosines(lat, lon, towns.lat, towns.lon, azimuth_deg))
    added = np.where(away <= FARTHEST_M, strength * share_there, 0.0)
    known = np.isfinite(lat + lon + azimuth_deg)
    ratio = np.where(known, np.sum(added, axis=1), np.nan)
    worst = np.argmax(np.nan_to_num(added), axis=1)
    most = added[np.arange(len(lat)), worst]
    has = known & (most > 0.0)
    share = np.divide(most, ratio, out=np.full(len(lat), np.nan), where=has)
    return ratio, np.where(has, worst, -1), share


def _distances_m(here: Floats, there: Floats) -> Floats:
    """Straight distances between two sets of points on the ellipsoid, shape (n, m)."""
    x, y, z = (here[:, None, k] - there[None, :, k] for k in range(3))
    return np.asarray(np.sqrt(x * x + y * y + z * z))


def _cosines(
    lat: Floats, lon: Floats, to_lat: Floats, to_lon: Floats, azimuth_deg: Floats
) -> Floats:
    """Cosine of the angle between an azimuth and each town's, shape (n, m).

    On a sphere: within 0.2 degree of the ellipsoid's azimuths.
    """
    phi, to_phi, az = (np.radians(v) for v in (lat, to_lat, azimuth_deg))
    lam, to_lam = np.radians(lon), np.radians(to_lon)
    # Towns' places on the axes up, east and north of each site, without an arc function.
    up_x = np.outer(np.cos(lam), np.cos(to_phi) * np.cos(to_lam))
    up_x += np.outer(np.sin(lam), np.cos(to_phi) * np.sin(to_lam))
    east = np.outer(np.cos(lam), np.cos(to_phi) * np.sin(to_lam))
    east -= np.outer(np.sin(lam), np.cos(to_phi) * np.cos(to_lam))
    north = np.outer(np.cos(phi), np.sin(to_phi)) - np.sin(phi)[:, None] * up_x
    across = np.sqrt(east * east + north * north)
    ahead = east * np.sin(az)[:, None] + north * np.cos(az)[:, None]
    # A town overhead has no azimuth; it counts as ahead.
    return np.asarray(np.divide(ahead, across, out=np.ones_like(ahead), where=across > 0.0))
