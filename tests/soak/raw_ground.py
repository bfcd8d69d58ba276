"""The ground by rasterio, pyproj and scipy alone: heights, distances and a plain march."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from pyproj import CRS, Geod, Transformer
from scipy.ndimage import map_coordinates

if TYPE_CHECKING:
    from pathlib import Path

    Floats = np.ndarray[Any, np.dtype[np.float64]]

WGS84 = Geod(ellps="WGS84")
STEPS_A_CELL = 8


class RawGround:
    """A raster's heights as bilinear patches between pixel centres, metres."""

    def __init__(self, path: Path) -> None:
        import rasterio

        with rasterio.open(path) as raster:
            heights = raster.read(raster.count).astype(np.float64)
            self._heights = np.where(heights == raster.nodata, np.nan, heights)
            self._to_pixel = ~raster.transform
            self.crs = CRS.from_user_input(raster.crs)
            cell = abs(raster.transform.e)
        self.cell_m = cell * 111_195.0 if self.crs.is_geographic else cell
        self._to_crs = Transformer.from_crs("EPSG:4326", self.crs, always_xy=True)

    @property
    def shifted(self) -> bool:
        """Whether the grid stands on a datum of its own, tied to WGS84 within metres."""
        geodetic = self.crs.geodetic_crs
        return geodetic is None or "WGS 84" not in geodetic.name

    def heights_m(self, lat: Floats, lon: Floats) -> Floats:
        """Heights, NaN beyond the outermost centres and at voids."""
        x, y = self._to_crs.transform(lon, lat)
        if self.crs.is_geographic:
            middle = self._heights.shape[1] / 2.0
            col = self._to_pixel.a * x + self._to_pixel.c - 0.5
            turn = 360.0 * self._to_pixel.a
            col = col - turn * np.round((col - middle) / turn)
        else:
            col = self._to_pixel.a * x + self._to_pixel.b * y + self._to_pixel.c - 0.5
        row = self._to_pixel.d * x + self._to_pixel.e * y + self._to_pixel.f - 0.5
        return np.asarray(
            map_coordinates(self._heights, [row, col], order=1, mode="constant", cval=np.nan)
        )

    def skyline_deg(
        self, *, lat: float, lon: float, azimuth_deg: float, eye_m: float, reach_m: float, k: float
    ) -> tuple[float, bool]:
        """Highest ground on a ray, degrees over the eye's horizontal; and if all was known."""
        step, near = self.cell_m / STEPS_A_CELL, 6.0 * self.cell_m
        longest = min(reach_m, max(self._heights.shape) * self.cell_m * 1.5)
        away = np.concatenate([np.arange(0.2, near, 0.2), np.arange(near, longest, step)])
        tangents, known = self._tangents(lat, lon, azimuth_deg, eye_m, away, k)
        if not known.any():
            return math.nan, False
        last = np.flatnonzero(known)[-1]
        # A wall rises by metres from one sample to the next: look closer about the highest.
        top = away[np.argsort(np.where(known, tangents, -np.inf))[-8:]]
        close = (top[:, None] + np.linspace(-1.0, 1.0, 401) * step).ravel()
        closer, _ = self._tangents(lat, lon, azimuth_deg, eye_m, close[close > 0.0], k)
        highest = max(np.nanmax(tangents), np.nanmax(closer))
        return math.degrees(math.atan(highest)), bool(known[: last + 1].all())

    def _tangents(
        self, lat: float, lon: float, azimuth_deg: float, eye_m: float, away: Floats, k: float
    ) -> tuple[Floats, Any]:
        """Tangents of the ground's altitudes at distances, and where there is ground."""
        ones = np.ones_like(away)
        lons, lats, _ = WGS84.fwd(lon * ones, lat * ones, azimuth_deg * ones, away)
        ground = self.heights_m(lats, lons)
        drop = (1.0 - k) * away**2 / (2.0 * 6_371_000.0)
        return (ground - drop - eye_m) / away, np.isfinite(ground)
