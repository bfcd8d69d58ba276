"""A flat map about the subject: metres east and north, by geodesic distance and azimuth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.geodesy import line_between, point_along

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray
    from shapely.geometry.base import BaseGeometry

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LocalMap:
    """Azimuthal equidistant about a point; a tenth of a millimetre off within 1 km."""

    lat: float
    lon: float

    def metres(self, *, lat: ArrayLike, lon: ArrayLike) -> tuple[Floats, Floats]:
        """Metres east and north of the point; NaN stays NaN."""
        lat_a, lon_a = np.broadcast_arrays(
            np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)
        )
        known = np.isfinite(lat_a) & np.isfinite(lon_a)
        line = line_between(
            lat1=self.lat,
            lon1=self.lon,
            lat2=np.where(known, lat_a, self.lat),
            lon2=np.where(known, lon_a, self.lon),
        )
        azimuth = np.radians(line.azimuth_deg)
        east, north = line.distance_m * np.sin(azimuth), line.distance_m * np.cos(azimuth)
        return np.where(known, east, np.nan)[()], np.where(known, north, np.nan)[()]

    def places(self, *, east_m: ArrayLike, north_m: ArrayLike) -> tuple[Floats, Floats]:
        """Latitude and longitude of metres east and north."""
        east, north = np.asarray(east_m, dtype=np.float64), np.asarray(north_m, dtype=np.float64)
        end = point_along(
            lat=self.lat,
            lon=self.lon,
            azimuth_deg=np.degrees(np.arctan2(east, north)),
            distance_m=np.hypot(east, north),
        )
        return end.lat, end.lon

    def to_map(self, geometry: BaseGeometry) -> BaseGeometry:
        """Take a longitude-latitude geometry to metres."""
        import shapely

        def flat(points: Floats) -> Floats:
            east, north = self.metres(lat=points[:, 1], lon=points[:, 0])
            return np.column_stack([east, north])

        return shapely.transform(geometry, flat)

    def to_earth(self, geometry: BaseGeometry) -> BaseGeometry:
        """Take a geometry in metres to longitude and latitude."""
        import shapely

        def back(points: Floats) -> Floats:
            lat, lon = self.places(east_m=points[:, 0], north_m=points[:, 1])
            return np.column_stack([lon, lat])

        return shapely.transform(geometry, back)
