"""What the user's files say of a site: ways, land, towns, the sky's brightness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.constants import LEAST_M_PER_LAT_DEG
from backbearing.land.closed_ground import closes
from backbearing.land.dark_sky import DarkSky
from backbearing.land.sky_raster import SkyRaster
from backbearing.scouting.site.town_glow import glow_behind
from backbearing.scouting.site.ways import Ways
from backbearing.sky.extinction import extinction_mag
from backbearing.sky.natural_sky import NATURAL_MCD_M2
from backbearing.sky.town_light import SiteAir
from backbearing.tables.towns import read_towns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.site.town_glow import Glow
    from backbearing.scouting.site.ways import Land, Nearest
    from backbearing.tables.towns import Towns

    Floats = NDArray[np.float64]


HEIGHT_STEP_M: Final = 100.0


@dataclass(frozen=True)
class SiteData:
    """Opened files; None where the outing names none."""

    ways: Ways | None = None
    towns: Towns | None = None
    sky: SkyRaster | None = None

    @classmethod
    def of(cls, task: ScoutTask) -> SiteData:
        """Open what the task names: the outing's places and the ways of [scouting] together.

        Raises
        ------
        BackbearingError
            For a file that cannot be read.
        """
        request = task.request
        named = [path for path in (task.ground.places, request.ways) if path is not None]
        ways = towns = sky = None
        if named:
            ways = Ways.joined(*(Ways.read(path) for path in named))
        if request.towns is not None:
            towns = read_towns(request.towns)
        if request.sky_brightness is not None:
            sky = SkyRaster.open(request.sky_brightness, unit=request.sky_unit)
        return cls(ways, towns, sky)

    def on_closed_ground(self, *, lat: Floats, lon: Floats) -> NDArray[np.bool_]:
        """Whether places of shape (n,) lie on closed land, in mapped water or on a hazard."""
        if self.ways is None:
            return np.zeros(lat.shape, dtype=np.bool_)
        return self.ways.on_closed_ground(lat=lat, lon=lon)

    def near_closed_ground(self, *, lat: Floats, lon: Floats, reach_m: Floats) -> NDArray[np.bool_]:
        """Whether ground closed to a tripod may lie within reach of places; never missed."""
        near = np.zeros(lat.shape, dtype=np.bool_)
        if self.ways is None:
            return near
        import shapely

        shapes = [place.geometry for place in self.ways.places if closes(place)]
        if not shapes:
            return near
        up = reach_m / LEAST_M_PER_LAT_DEG
        aside = up / np.maximum(np.cos(np.radians(np.minimum(np.abs(lat) + up, 89.9))), 1e-3)
        boxes = shapely.box(lon - aside, lat - up, lon + aside, lat + up)
        near[shapely.STRtree(shapes).query(boxes)[0]] = True
        return near

    def nearest_way(self, *, lat: Floats, lon: Floats) -> Nearest | None:
        """Nearest known track, road or parking; None where the data hold none."""
        if self.ways is None or not (self.ways.has("track") or self.ways.has("parking")):
            return None
        return self.ways.nearest_way(lat=lat, lon=lon)

    def land_of(self, *, lat: Floats, lon: Floats) -> Land | None:
        """What the data say of the land; None without data."""
        return None if self.ways is None else self.ways.land_of(lat=lat, lon=lon)

    def glow(self, *, lat: Floats, lon: Floats, azimuth_deg: Floats) -> Glow | None:
        """Glow of towns in the target's direction; None without towns."""
        if self.towns is None:
            return None

        return glow_behind(self.towns, lat=lat, lon=lon, azimuth_deg=azimuth_deg)

    def sky_behind(
        self,
        *,
        lat: Floats,
        lon: Floats,
        azimuth_deg: Floats,
        altitude_deg: Floats,
        site: tuple[Floats, float | None],
    ) -> tuple[Floats, Floats]:
        """Dark sky in directions, V magnitudes a square arcsecond, and its standard deviation.

        Parameters
        ----------
        lat, lon, azimuth_deg, altitude_deg : ndarray, shape (n,)
        site : tuple
            Heights of the places, metres, shape (n,), and the haze that was asked for, if any.
            The air is that of every 100 m of height: within 0.1 magnitude of a place's own.

        Returns
        -------
        tuple of ndarray
            NaN without towns, below 3 degrees, and where a raster of the sky that is named does
            not know the place.
        """
        mag, sigma = np.full(lat.shape, np.nan), np.full(lat.shape, np.nan)
        if self.towns is None:
            return mag, sigma
        height, haze = site
        level = HEIGHT_STEP_M * np.round(height / HEIGHT_STEP_M)
        artificial = np.full(lat.shape, np.nan)
        if self.sky is not None:
            ratio = np.asarray(self.sky.at(lat=lat, lon=lon).ratio, dtype=np.float64)
            artificial = NATURAL_MCD_M2 * np.maximum(ratio, 0.0)
        for each in np.unique(level[np.isfinite(level)]):
            rows = np.flatnonzero(level == each)
            found = DarkSky(
                source="towns" if self.sky is None else "raster and towns",
                number_mag=np.nan,
                artificial_mcd_m2=artificial[rows],
                towns=self.towns,
                air=SiteAir.of(height_m=float(each), aerosol_mag=haze),
                extinction_mag=float(extinction_mag(height_m=each, aerosol_mag=haze)),
            ).towards(
                lat=lat[rows],
                lon=lon[rows],
                azimuth_deg=azimuth_deg[rows],
                altitude_deg=altitude_deg[rows],
            )
            mag[rows], sigma[rows] = found.mag_arcsec2, found.sigma_mag
        return mag, sigma

    def sky_mag(self, *, lat: Floats, lon: Floats) -> Floats:
        """Brightness of the site's zenith, magnitudes a square arcsecond; NaN unknown."""
        if self.sky is None:
            return np.full(lat.shape, np.nan)
        return np.asarray(self.sky.at(lat=lat, lon=lon).mag_arcsec2, dtype=np.float64)
