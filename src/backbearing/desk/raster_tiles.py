"""The ground as map tiles: relief, contours and heights, from windows of the user's raster."""

from __future__ import annotations

import io
import math
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.desk.tile_heights import TILE_PX, heights_under
from backbearing.desk.tile_marks import fits, labels_of, top_label, tops_of, write_on
from backbearing.drawing.contours import INTERVALS_M, Contours, contour
from backbearing.drawing.mercator import MercatorGrid
from backbearing.drawing.palette import MAP
from backbearing.drawing.relief import relief_tones

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from PIL.Image import Image

    from backbearing.desk.tile_heights import TileHeights
    from backbearing.terrain.elevation import Elevation

RIM_PX: Final = 6
"""Pixels beyond a tile's edge to which contours are drawn, so that lines run on."""

MOST_ZOOM: Final = 19
MOST_CELLS: Final = 4096
"""Cells along a tile's side at the most: farther out a tile would have to read too many."""

TILES_KEPT: Final = 600
SAMPLES: Final = 64

CONTOUR_INK: Final = (108, 84, 52)
LABEL_INK: Final = (96, 72, 42)
CONTOUR_OPACITY: Final = 0.42
HALO: Final = (246, 243, 233)
ROOM_PX: Final = 9.0
"""Pixels between neighbouring contours on ordinary slopes, at the least."""

STEEP_COUNTS: Final = 0.45
"""Share of the room that the steepest ground gets, beside a lot of gentle ground."""

ROOM_CELLS: Final = 0.5
"""The same in cells of the raster, which knows nothing finer."""


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
        count = 1 << zoom if self.least_zoom <= zoom <= MOST_ZOOM else 0
        if not (0 <= column < count and 0 <= row < count):
            raise ValueError(f"no tile {zoom}/{column}/{row}")
        return self._kept(zoom, column, row)

    @cached_property
    def least_zoom(self) -> int:
        """The zoom at which the raster takes about one tile, or a tile as much as it may read."""
        south, west, north, east = self.elevation.bounds
        across = max(float(east - west), float(north - south), 1e-6)
        whole = math.floor(math.log2(360.0 / across)) - 1
        cells = 360.0 * 111_320.0 / self.elevation.cell_size_m
        read = math.ceil(math.log2(max(cells / MOST_CELLS, 1.0)))
        return max(0, min(MOST_ZOOM - 6, max(whole, read)))

    def _rendered(self, zoom: int, column: int, row: int) -> bytes | None:
        under = heights_under(self.elevation, zoom, column, row)
        known = under.drawn_out(np.isfinite(under.grid.heights_m)) > 0.5
        wet = under.drawn_out(under.water) if under.water.any() else None
        if not known.any() and (wet is None or not (wet > 0.5).any()):
            return None
        tones = relief_tones(
            under.grid, self._ground.span_m, soften_px=under.cell_nodes, broad_stride=2
        )
        rgb = under.drawn_out(tones)
        surface = MercatorGrid(under.surface_m(rim_px=RIM_PX).astype(np.float64), 0.0, 0.0, 1.0)
        interval = self._interval_m(_pixel_m(under))
        lines = contour(surface, interval_m=interval, stride=2 if under.step_px > 1 else 1)
        rgb = rgb + (np.array(CONTOUR_INK, np.float32) - rgb) * _ink(lines)[..., None]
        shown = known
        if wet is not None:
            water = np.clip(wet, 0.0, 1.0)[..., None]
            rgb = np.where(known[..., None], rgb, 0.0) * (1.0 - water) + _WATER * water
            shown = known | (wet > 0.5)
        rgb8 = np.asarray(np.clip(rgb + 0.5, 0.0, 255.0), np.uint8)
        return self._written(rgb8, shown, under, lines, (column, row))

    def _written(
        self,
        rgb: NDArray[np.uint8],
        shown: NDArray[np.bool_],
        under: TileHeights,
        lines: Contours,
        tile: tuple[int, int],
    ) -> bytes:
        """Write the heights and pack the picture."""
        from PIL import Image, ImageDraw

        sheet = Image.fromarray(rgb, "RGB")
        tops = tops_of(self.elevation, under, least_rise_m=lines.interval_m)
        for label in labels_of(lines, tops, rim_px=RIM_PX, tile=tile):
            if fits(label, shown):
                write_on(sheet, label, LABEL_INK, HALO)
        pen = ImageDraw.Draw(sheet)
        for top in tops:
            number = top_label(top)
            if number is not None and fits(number, shown):
                write_on(sheet, number, MAP.ink, HALO)
                pen.polygon(_point(top.x, top.y), fill=MAP.ink)
        if not shown.all():
            sheet.putalpha(Image.fromarray(np.where(shown, 255, 0).astype(np.uint8), "L"))
        return _webp(sheet)

    def _interval_m(self, pixel_m: float) -> float:
        """Height from contour to contour: room for the eye, and no finer than the raster knows."""
        room_m = max(ROOM_PX * pixel_m, ROOM_CELLS * self.elevation.cell_size_m)
        least = room_m * self._ground.slope
        return next((s for s in INTERVALS_M if s >= least), 5.0 * INTERVALS_M[-1])

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
        known = slopes[np.isfinite(slopes)]
        usual, steep = np.percentile(known, [75.0, 97.0]) if known.size else (0.1, 0.1)
        slope = float(max(usual, STEEP_COUNTS * steep))
        low, high = (float(v) for v in np.nanpercentile(heights, [2.0, 98.0]))
        return _WholeGround((low, high), max(slope, 1e-3))


_WATER: Final = np.array(MAP.paper, np.float32) * 0.45 + np.array(MAP.water, np.float32) * 0.55


def _ink(lines: Contours) -> NDArray[np.float32]:
    """How much ink of contours lies on each pixel of a tile, 0 to 1."""
    from PIL import Image, ImageDraw

    size = TILE_PX + 2 * RIM_PX
    sheet = Image.new("L", (2 * size, 2 * size), 0)
    pen = ImageDraw.Draw(sheet)
    for level, each in lines.lines.items():
        width = 4 if lines.is_index(level) else 2
        for line in each:
            pen.line((2.0 * line + 1.0).ravel().tolist(), fill=255, width=width)
    small = np.asarray(sheet.resize((size, size), Image.Resampling.BOX), np.float32)
    inner = slice(RIM_PX, RIM_PX + TILE_PX)
    return small[inner, inner] * np.float32(CONTOUR_OPACITY / 255.0)


def _point(x: float, y: float) -> list[tuple[float, float]]:
    return [(x, y - 3.0), (x + 2.6, y + 2.0), (x - 2.6, y + 2.0)]


def _webp(sheet: Image) -> bytes:
    stream = io.BytesIO()
    sheet.save(stream, "WEBP", quality=86, method=1)
    return stream.getvalue()


def _pixel_m(under: TileHeights) -> float:
    """Side of a pixel on the ground at the tile's middle, metres."""
    steps = under.grid.ground_step_m
    return float(steps[len(steps) // 2, 0]) / under.step_px


class _WholeGround(NamedTuple):
    """Low and high ground, metres, and the slope that contours are spaced for, rise over run."""

    span_m: tuple[float, float]
    slope: float
