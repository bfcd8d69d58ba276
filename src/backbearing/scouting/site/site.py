"""What the user's files say of a site: ways, land, towns, the sky's brightness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.constants import LEAST_M_PER_LAT_DEG
from backbearing.land.closed_ground import closes
from backbearing.land.sky_raster import SkyRaster
from backbearing.scouting.site.town_glow import glow_behind
from backbearing.scouting.site.ways import Ways
from backbearing.tables.towns import read_towns

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.site.town_glow import Glow
    from backbearing.scouting.site.ways import Land, Nearest
    from backbearing.tables.towns import Towns

    Floats = NDArray[np.float64]


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

    def sky_mag(self, *, lat: Floats, lon: Floats) -> Floats:
        """Brightness of the site's zenith, magnitudes a square arcsecond; NaN unknown."""
        if self.sky is None:
            return np.full(lat.shape, np.nan)
        return np.asarray(self.sky.at(lat=lat, lon=lon).mag_arcsec2, dtype=np.float64)
