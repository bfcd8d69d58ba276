"""The dark sky over a subject's land in any direction: as asked, from a raster, from towns.

Without Moon, twilight and the Milky Way's own clouds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.base.geodesy import earth_xyz_m, line_between
from backbearing.sky.extinction import extinction_mag
from backbearing.sky.luminance import magnitude_of_cd_m2
from backbearing.sky.moonlight import luminance_cd_m2
from backbearing.sky.natural_sky import NATURAL_MCD_M2, NATURAL_SIGMA_MAG, natural_sky_cd_m2
from backbearing.sky.town_light import (
    FARTHEST_M,
    LUMENS_A_HEAD,
    NEAREST_M,
    PEOPLE_A_KM2,
    TOWN_SIGMA_MAG,
    SiteAir,
)
from backbearing.sky.town_table import town_table
from backbearing.tables.towns import read_towns

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import ArrayLike, NDArray

    from backbearing.outing.light_request import SkyFrom
    from backbearing.outing.request import Outing
    from backbearing.tables.towns import Towns

    Floats = NDArray[np.float64]

NUMBER_SIGMA_MAG: Final = 0.5
"""One standard deviation of the asked number, and of a raster's: its year, its model, and that it
is the zenith's (judgement, no source)."""

SHAPE_SIGMA_MAG: Final = 0.7
"""The same of a raster's artificial light once towns have spread it over the sky (judgement)."""


_PAIRS_AT_ONCE: Final = 1_000_000


class SkyTowards(NamedTuple):
    """The dark sky in directions, arrays of one shape; NaN where unknown.

    Attributes
    ----------
    mag_arcsec2, cd_m2 : ndarray
        All of it, as it reaches the eye.
    natural_cd_m2, towns_cd_m2 : ndarray
        Its parts; NaN where one number stands for both.
    sigma_mag : ndarray
        One standard deviation.
    town : ndarray of int
        The town that adds the most; -1 without one.
    town_share : ndarray
        Its share of the towns' light.
    town_distance_m : ndarray
    """

    mag_arcsec2: Floats
    cd_m2: Floats
    natural_cd_m2: Floats
    towns_cd_m2: Floats
    sigma_mag: Floats
    town: NDArray[np.intp]
    town_share: Floats
    town_distance_m: Floats


class _Glow(NamedTuple):
    """Towns' light in directions, and the town that adds the most."""

    cd_m2: Floats
    town: NDArray[np.intp]
    share: Floats
    distance_m: Floats


@dataclass(frozen=True, eq=False)
class DarkSky:
    """What is known of the dark sky over a site; made by `dark_sky_of`.

    Attributes
    ----------
    source : str
        As ``brightness_from`` of [exposure].
    number_mag : float
        The asked number, or the raster's at the zenith.
    artificial_mcd_m2 : float
        Artificial light at the zenith by the raster, for all places or for each that is asked
        about; NaN without one.
    towns : Towns or None
    air : SiteAir
        Of the site.
    extinction_mag : float
        V magnitudes a unit of air mass there.
    """

    source: SkyFrom
    number_mag: float
    artificial_mcd_m2: float | Floats
    towns: Towns | None
    air: SiteAir
    extinction_mag: float

    @property
    def by_direction(self) -> bool:
        """Whether it differs over the sky."""
        return self.towns is not None

    def towards(
        self, *, lat: ArrayLike, lon: ArrayLike, azimuth_deg: ArrayLike, altitude_deg: ArrayLike
    ) -> SkyTowards:
        """Say how bright it is from places in directions, degrees; the inputs broadcast to (n,)."""
        lat_a, lon_a, azimuth, altitude = np.broadcast_arrays(
            *(
                np.atleast_1d(np.asarray(v, dtype=np.float64))
                for v in (lat, lon, azimuth_deg, altitude_deg)
            )
        )
        if self.towns is None:
            return self._one_number(azimuth.shape)
        natural = natural_sky_cd_m2(altitude, extinction_mag=self.extinction_mag)
        glow = town_glow(self.towns, self.air, lat_a, lon_a, azimuth, altitude)
        added, sigma = glow.cd_m2, TOWN_SIGMA_MAG
        if self.source == "raster and towns":
            above = town_glow(
                self.towns, self.air, lat_a, lon_a, azimuth, np.full(lat_a.shape, 90.0)
            )
            with np.errstate(invalid="ignore", divide="ignore"):
                shape = np.where(above.cd_m2 > 0.0, added / above.cd_m2, 1.0)
            added, sigma = 1e-3 * self.artificial_mcd_m2 * shape, SHAPE_SIGMA_MAG
        total = natural + added
        doubt = np.hypot(natural * NATURAL_SIGMA_MAG, added * sigma) / total
        mag = magnitude_of_cd_m2(total)
        return SkyTowards(mag, total, natural, added, doubt, glow.town, glow.share, glow.distance_m)

    def _one_number(self, shape: tuple[int, ...]) -> SkyTowards:
        """One number of the whole sky: asked, or a raster's at one place."""
        natural = math.nan if self.source == "asked" else 1e-3 * NATURAL_MCD_M2
        columns = (
            self.number_mag,
            float(luminance_cd_m2(self.number_mag)),
            natural,
            1e-3 * float(self.artificial_mcd_m2),
            NUMBER_SIGMA_MAG,
        )
        full = [np.full(shape, value) for value in columns]
        none = np.full(shape, -1, dtype=np.intp)
        nowhere = np.full(shape, np.nan)
        return SkyTowards(full[0], full[1], full[2], full[3], full[4], none, nowhere, nowhere)


def town_glow(
    towns: Towns, air: SiteAir, lat: Floats, lon: Floats, azimuth: Floats, altitude: Floats
) -> _Glow:
    """Add up the towns' light from n places in n directions, candela a square metre.

    Some places at a time, and only the towns within reach of any of them.
    """
    parts = []
    step = max(1, _PAIRS_AT_ONCE // max(1, len(towns)))
    for start in range(0, max(1, len(lat)), step):
        some = slice(start, start + step)
        parts.append(_glow(towns, air, (lat[some], lon[some], azimuth[some], altitude[some])))
    return _Glow(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))


def _glow(towns: Towns, air: SiteAir, looks: tuple[Floats, Floats, Floats, Floats]) -> _Glow:
    lat, lon, azimuth, altitude = looks
    here = earth_xyz_m(lat=np.nan_to_num(lat), lon=np.nan_to_num(lon))
    away = here[:, None, :] - earth_xyz_m(lat=towns.lat, lon=towns.lon)[None, :, :]
    near = np.flatnonzero((np.sum(away * away, axis=2) <= FARTHEST_M**2).any(axis=0))
    if not near.size:
        none = np.where(np.isfinite(lat + azimuth + altitude), 0.0, np.nan)
        nowhere = np.full(len(lat), np.nan)
        return _Glow(none, np.full(len(lat), -1, dtype=np.intp), nowhere, nowhere)
    line = line_between(
        lat1=lat[:, None],
        lon1=lon[:, None],
        lat2=towns.lat[None, near],
        lon2=towns.lon[None, near],
    )
    distance = np.asarray(line.distance_m)
    people = towns.population[near]
    radius_m = 1000.0 * np.sqrt(people / (math.pi * PEOPLE_A_KM2))
    each = town_table(air).cd_m2_a_lumen(
        distance_m=np.maximum(distance, np.maximum(radius_m, NEAREST_M)),
        altitude_deg=altitude[:, None],
        off_deg=azimuth[:, None] - np.asarray(line.azimuth_deg),
    )
    each = each * LUMENS_A_HEAD * people
    total = each.sum(axis=1)
    most = np.argmax(np.nan_to_num(each), axis=1)
    rows = np.arange(len(lat))
    lit = total > 0.0
    share = np.divide(each[rows, most], total, out=np.full(len(lat), np.nan), where=lit)
    far = np.where(lit, distance[rows, most], np.nan)
    return _Glow(total, np.where(lit, near[most], -1), share, far)


def dark_sky_of(outing: Outing, site_m: float) -> DarkSky:
    """Gather what an outing knows of its dark sky, with its raster's number in place.

    Parameters
    ----------
    outing : Outing
        From `backbearing.land.sky_of_outing.with_sky_of_raster`.
    site_m : float
        Height of the site, metres.

    Raises
    ------
    OutingError
        Where towns are asked for and none are named, or their file cannot be read.
    """
    exposure, haze = outing.exposure, outing.night.aerosol_mag
    towns = _towns_of(outing) if "towns" in exposure.brightness_from else None
    return DarkSky(
        source=exposure.brightness_from,
        number_mag=exposure.sky_mag_arcsec2,
        artificial_mcd_m2=exposure.artificial_mcd_m2,
        towns=towns,
        air=SiteAir.of(height_m=site_m, aerosol_mag=haze),
        extinction_mag=float(extinction_mag(height_m=site_m, aerosol_mag=haze)),
    )


def _towns_of(outing: Outing) -> Towns:
    path = outing.scouting.towns
    if path is None:
        raise outing.refuse(
            "exposure",
            "brightness_from",
            "asks for towns and none are named",
            hint='write towns = "towns.csv" under [scouting]',
        )
    try:
        state = path.stat()
        return _read(path, state.st_mtime_ns, state.st_size)
    except OSError:
        pass
    except BackbearingError as problem:
        raise outing.refuse("scouting", "towns", problem) from problem
    try:
        return read_towns(path)
    except BackbearingError as problem:
        raise outing.refuse("scouting", "towns", problem) from problem


@lru_cache(maxsize=4)
def _read(path: Path, _changed_ns: int, _size: int) -> Towns:
    """Read towns once for each state of their file: a desk asks with every draft."""
    return read_towns(path)
