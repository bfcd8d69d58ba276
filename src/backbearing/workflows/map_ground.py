"""The ground of a map, read from the raster once, on the pixels that the map needs.

The same for an area's cells: which of them lies under each pixel of its pictures.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.base.geodesy import metres_per_degree
from backbearing.drawing.arcs import reach_m
from backbearing.drawing.base_map import MapGround
from backbearing.drawing.map_origin import MapOrigin
from backbearing.drawing.mercator import Box, MercatorGrid, lat_of, mercator_y
from backbearing.maps.area import CellPixels

if TYPE_CHECKING:
    from backbearing.plan.clearance import AreaCells
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation

PIXELS_PER_CELL: Final = 2.5
"""Picture pixels to one raster cell, before the limit on size."""

MOST_SAMPLES: Final = 3
"""Height samples along each side of a pixel where the raster is finer than the picture."""

NEAR_M: Final = 1600.0
"""Half the side of the square in which contours follow the raster exactly."""

CLOSE_M: Final = 300.0
"""Half the side of the square with the finest contours."""

LARGEST_KM: Final = 60.0
"""A raster no larger than this is drawn whole; of a larger one, what the plan needs."""

PX_PER_AREA_CELL: Final = 3.0
MOST_AREA_PX: Final = 900
CLOSE_AREA_PX: Final = 60
CLOSE_AREA_M: Final = 300.0
"""Half side of the second picture, for the scale of the stands."""

POINTS_WITHIN_M: Final = 320.0
"""The raster's own points are shown so near the subject."""


def map_ground(plan: Plan, elevation: Elevation) -> MapGround:
    """Read the ground under a plan: near, close, and as far as the skylines."""
    reach = reach_m(plan)
    return MapGround(
        far=mercator_grid(elevation, far_box(elevation, plan)),
        near=mercator_grid(elevation, square(plan, max(NEAR_M, 1.5 * reach)), finest_m=8.0),
        close=mercator_grid(elevation, square(plan, max(CLOSE_M, 1.5 * reach)), finest_m=2.0),
        cell_m=elevation.cell_size_m,
        points=raster_points(plan, elevation),
    )


def mercator_grid(
    elevation: Elevation, box: Box, *, finest_m: float | None = None, largest_px: int = 1100
) -> MercatorGrid:
    """Sample a raster's bilinear surface on Web Mercator pixels.

    Parameters
    ----------
    elevation : Elevation
        Read through ``height_at``.
    box : Box
        Area, degrees; parts outside the raster come out as NaN.
    finest_m : float, optional
        Smallest side of a pixel on the ground; a share of the raster's cell when left
        out.
    largest_px : int
        Limit on either side of the result.
    """
    stretch = 1.0 / math.cos(math.radians((box.south + box.north) / 2.0))
    west, east = (math.radians(v) * WEB_MERCATOR_RADIUS_M for v in (box.west, box.east))
    south, north = (float(v) for v in mercator_y([box.south, box.north]))
    cell = elevation.cell_size_m
    step = max(
        stretch * (finest_m or cell / PIXELS_PER_CELL),
        (east - west) / largest_px,
        (north - south) / largest_px,
    )
    columns = max(2, math.floor((east - west) / step))
    rows = max(2, math.floor((north - south) / step))
    n = min(MOST_SAMPLES, max(1, math.ceil(step / stretch / cell)))
    lat = lat_of(north - (np.arange(rows * n) + 0.5) * step / n)
    lon = np.degrees((west + (np.arange(columns * n) + 0.5) * step / n) / WEB_MERCATOR_RADIUS_M)
    heights = elevation.height_at(lat=lat[:, None], lon=lon[None, :])
    if n > 1:
        heights = heights.reshape(rows, n, columns, n).mean(axis=(1, 3))
    return MercatorGrid(heights, west, north, step)


def square(plan: Plan, half_m: float) -> Box:
    """A box round the subject, so far to each side."""
    north, east, south, west = MapOrigin.of(plan).around([0.0, 90.0, 180.0, 270.0], half_m)
    return Box(west[1], south[0], east[1], north[0])


def far_box(elevation: Elevation, plan: Plan) -> Box:
    """The raster's extent, or the part round subject and skyline where it is very large."""
    south, west, north, east = elevation.bounds
    middle = float(west + east) / 2.0
    turn = middle - MapOrigin.of(plan).beside(middle)
    whole = Box(float(west) - turn, float(south), float(east) - turn, float(north))
    east_m, north_m = metres_per_degree((north + south) / 2.0)
    tall_km, wide_km = (north - south) * north_m / 1000.0, (east - west) * east_m / 1000.0
    if max(tall_km, wide_km) <= LARGEST_KM:
        return whole
    stands = [lens.stand for lens in plan.lenses if lens.stand]
    reach = max([8000.0, *(1.3 * s.skyline_distance_m for s in stands if s.skyline_distance_m > 0)])
    return square(plan, min(reach, LARGEST_KM * 500.0)).cut(whole) or square(plan, 8000.0)


def raster_points(plan: Plan, elevation: Elevation) -> tuple[tuple[float, float, float], ...]:
    """The raster's own points near the subject as latitude, longitude and height."""
    origin = MapOrigin.of(plan)
    cell = elevation.cell_size_m
    within = min(POINTS_WITHIN_M, 6.0 * cell)
    middle = elevation.grid.pixels(lat=origin.lat, lon=origin.lon)
    n = math.ceil(within / cell) + 1
    row = np.round(middle.row) + np.arange(-n, n + 1)[:, None]
    col = np.round(middle.col) + np.arange(-n, n + 1)[None, :]
    places = elevation.grid.places(row=row, col=col)
    lat, lon = np.ravel(places.lat), np.ravel(places.lon)
    heights = elevation.height_at(lat=lat, lon=lon)
    keep = (origin.to(lat, lon).distance_m <= within) & np.isfinite(heights)
    found = zip(lat[keep], lon[keep], heights[keep], strict=True)
    return tuple((float(a), float(b), float(height)) for a, b, height in found)


def cells_on_map(plan: Plan, elevation: Elevation, cells: AreaCells) -> tuple[CellPixels, ...]:
    """The whole area, and the stands' surroundings at their own scale."""
    origin = MapOrigin.of(plan)
    rows, cols = np.linspace(-0.5, 0.5, 9), np.linspace(-0.5, 0.5, 9)
    middle = ((cells.row0 + cells.row1 - 1) / 2.0, (cells.col0 + cells.col1 - 1) / 2.0)
    rim = elevation.grid.places(
        row=middle[0] + cells.shape[0] * rows[:, None], col=middle[1] + cells.shape[1] * cols
    )
    lon = np.array([origin.beside(float(v)) for v in np.ravel(rim.lon)])
    whole = Box(float(lon.min()), float(np.min(rim.lat)), float(lon.max()), float(np.max(rim.lat)))
    size = max(cells.shape) * PX_PER_AREA_CELL
    north, east, south, west = origin.around([0.0, 90.0, 180.0, 270.0], CLOSE_AREA_M)
    close = Box(west[1], south[0], east[1], north[0]).cut(whole)
    found = [_pixels(elevation, cells, whole, min(MOST_AREA_PX, max(60.0, size)))]
    if close is not None:
        found.append(_pixels(elevation, cells, close, CLOSE_AREA_PX))
    return tuple(found)


def _pixels(elevation: Elevation, cells: AreaCells, box: Box, size_px: float) -> CellPixels:
    """The cell under each pixel of a picture of the box."""
    west, east = (math.radians(v) * WEB_MERCATOR_RADIUS_M for v in (box.west, box.east))
    south, north = (float(v) for v in mercator_y([box.south, box.north]))
    step = max(east - west, north - south) / size_px
    columns, rows = (max(2, round(side / step)) for side in (east - west, north - south))
    lat = lat_of(north - (np.arange(rows) + 0.5) * (north - south) / rows)
    lon = np.degrees(
        (west + (np.arange(columns) + 0.5) * (east - west) / columns) / WEB_MERCATOR_RADIUS_M
    )
    under = elevation.grid.pixels(lat=lat[:, None], lon=lon[None, :])
    row, col = (np.rint(np.nan_to_num(v, nan=-1e9)).astype(np.int64) for v in under)
    row, col = row - cells.row0, col - cells.col0
    off = (row < 0) | (row >= cells.shape[0]) | (col < 0) | (col >= cells.shape[1])
    return CellPixels(np.where(off, -1, row), np.where(off, -1, col), box)
