"""The ground as map tiles: relief and contours, rendered from windows of the user's raster."""

from __future__ import annotations

import io
import math
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.drawing.contours import INTERVALS_M, contour
from backbearing.drawing.mercator import MercatorGrid, lat_of
from backbearing.drawing.relief import relief_tones

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.elevation import Elevation

TILE_PX: Final = 256
RIM_PX: Final = 48
"""Ground read beyond a tile's edge, so that shading and contours meet their neighbours'."""

SOFTEST_PX: Final = 9.0
"""Cells larger than a pixel are shaded as soft as they are large, up to this."""

MOST_ZOOM: Final = 19
TILES_KEPT: Final = 600
SAMPLES: Final = 64

CONTOUR_INK: Final = (108, 84, 52)
CONTOUR_OPACITY: Final = 0.42
ROOM_PX: Final = 9.0
"""Pixels between neighbouring contours on ordinary slopes, at the least."""


class RasterTiles:
    """Tiles of one raster on the grid of square web maps [EPSG3857]_.

    Parameters
    ----------
    elevation : Elevation
    """

    def __init__(self, elevation: Elevation) -> None:
        self.elevation = elevation
        self._kept = lru_cache(TILES_KEPT)(self._rendered)

    elevation: Elevation

    def tile(self, zoom: int, column: int, row: int) -> bytes | None:
        """Return a tile as WebP; None where it holds no known ground.

        Raises
        ------
        ValueError
            For a tile that the grid does not have.
        """
        count = 1 << zoom if 0 <= zoom <= MOST_ZOOM else 0
        if not (0 <= column < count and 0 <= row < count):
            raise ValueError(f"no tile {zoom}/{column}/{row}")
        return self._kept(zoom, column, row)

    @property
    def least_zoom(self) -> int:
        """The zoom at which the raster takes about one tile."""
        south, west, north, east = self.elevation.bounds
        across = max(float(east - west), float(north - south), 1e-6)
        return max(0, min(MOST_ZOOM - 6, math.floor(math.log2(360.0 / across)) - 1))

    def _rendered(self, zoom: int, column: int, row: int) -> bytes | None:
        from PIL import Image

        grid = self._grid(zoom, column, row)
        known = np.isfinite(grid.heights_m)
        inner = slice(RIM_PX, RIM_PX + TILE_PX)
        if not known[inner, inner].any():
            return None
        soften_px = min(SOFTEST_PX, max(1.0, 0.6 * self.elevation.cell_size_m / _pixel_m(grid)))
        tones = relief_tones(grid, self._ground.span_m, soften_px=soften_px)
        rgb = tones[inner, inner].astype(np.float32)
        ink = self._contour_ink(grid)[inner, inner, None]
        toned = rgb + (np.array(CONTOUR_INK, np.float32) - rgb) * ink
        alpha = np.where(known[inner, inner], 255, 0).astype(np.uint8)
        shown = np.dstack([np.asarray(toned + 0.5, np.uint8), alpha])
        stream = io.BytesIO()
        Image.fromarray(shown, "RGBA").save(stream, "WEBP", quality=86, method=2)
        return stream.getvalue()

    def _grid(self, zoom: int, column: int, row: int) -> MercatorGrid:
        """Heights under a tile and its rim."""
        half = math.pi * WEB_MERCATOR_RADIUS_M
        step = 2.0 * half / (TILE_PX << zoom)
        west = -half + (column * TILE_PX - RIM_PX) * step
        north = half - (row * TILE_PX - RIM_PX) * step
        at = np.arange(TILE_PX + 2 * RIM_PX) + 0.5
        lat = lat_of(north - at * step)
        lon = wrap_180_deg(np.degrees((west + at * step) / WEB_MERCATOR_RADIUS_M))
        heights = self.elevation.height_at(lat=lat[:, None], lon=lon[None, :])
        return MercatorGrid(np.asarray(heights, np.float64), west, north, step)

    def _contour_ink(self, grid: MercatorGrid) -> NDArray[np.float32]:
        """How much ink lies on each pixel, 0 to 1."""
        from PIL import Image, ImageDraw

        size = grid.heights_m.shape[0]
        interval = next(
            (s for s in INTERVALS_M if s >= ROOM_PX * _pixel_m(grid) * self._ground.slope),
            5.0 * INTERVALS_M[-1],
        )
        found = contour(grid, interval_m=interval)
        sheet = Image.new("L", (2 * size, 2 * size), 0)
        pen = ImageDraw.Draw(sheet)
        for level, lines in found.lines.items():
            width = 4 if found.is_index(level) else 2
            for line in lines:
                pen.line([(2.0 * x + 1.0, 2.0 * y + 1.0) for x, y in line], fill=255, width=width)
        small = sheet.resize((size, size), Image.Resampling.BOX)
        return np.asarray(small, np.float32) * np.float32(CONTOUR_OPACITY / 255.0)

    @cached_property
    def _ground(self) -> _WholeGround:
        """The raster at a glance, so that all tiles share tones and contour steps."""
        south, west, north, east = (float(v) for v in self.elevation.bounds)
        lat = np.linspace(south, north, SAMPLES + 2)[1:-1]
        lon = np.linspace(west, east, SAMPLES + 2)[1:-1]
        heights = self.elevation.height_at(lat=lat[:, None], lon=lon[None, :])
        if not np.isfinite(heights).any():
            return _WholeGround((0.0, 0.0), 0.1)
        # Of the cells themselves: the samples lie too far apart.
        slopes = np.tan(np.radians(self.elevation.slope_at(lat=lat[:, None], lon=lon[None, :])))
        slope = float(np.nanpercentile(slopes, 75.0)) if np.isfinite(slopes).any() else 0.1
        low, high = (float(v) for v in np.nanpercentile(heights, [2.0, 98.0]))
        return _WholeGround((low, high), max(slope, 1e-3))


def _pixel_m(grid: MercatorGrid) -> float:
    """Side of a pixel on the ground at the grid's middle, metres."""
    return float(grid.ground_step_m[grid.heights_m.shape[0] // 2, 0])


class _WholeGround(NamedTuple):
    """Low and high ground, metres, and the slope that a quarter of it exceeds, rise over run."""

    span_m: tuple[float, float]
    slope: float
