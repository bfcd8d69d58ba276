"""Where an area's cells lie on the map: the cell under each pixel of its pictures."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.drawing.home import Home
from backbearing.drawing.mercator import Box, lat_of, mercator_y
from backbearing.maps.area_picture import CellPixels

if TYPE_CHECKING:
    from backbearing.plan.clearance import AreaCells
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation

PIXELS_PER_CELL: Final = 3.0
MOST_PX: Final = 900
CLOSE_PX: Final = 60
CLOSE_M: Final = 300.0
"""Half side of the second picture, for the scale of the stands."""


def cells_on_map(plan: Plan, elevation: Elevation, cells: AreaCells) -> tuple[CellPixels, ...]:
    """The whole area, and the stands' surroundings at their own scale."""
    home = Home.of(plan)
    rows, cols = np.linspace(-0.5, 0.5, 9), np.linspace(-0.5, 0.5, 9)
    middle = ((cells.row0 + cells.row1 - 1) / 2.0, (cells.col0 + cells.col1 - 1) / 2.0)
    rim = elevation.grid.places(
        row=middle[0] + cells.shape[0] * rows[:, None], col=middle[1] + cells.shape[1] * cols
    )
    lon = np.array([home.beside(float(v)) for v in np.ravel(rim.lon)])
    whole = Box(float(lon.min()), float(np.min(rim.lat)), float(lon.max()), float(np.max(rim.lat)))
    size = max(cells.shape) * PIXELS_PER_CELL
    north, east, south, west = home.around([0.0, 90.0, 180.0, 270.0], CLOSE_M)
    close = Box(west[1], south[0], east[1], north[0]).cut(whole)
    found = [_pixels(elevation, cells, whole, min(MOST_PX, max(60.0, size)))]
    if close is not None:
        found.append(_pixels(elevation, cells, close, CLOSE_PX))
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
