"""Only the ground that an outing needs, cut out of its raster on the raster's own cells."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import point_along
from backbearing.fetching.sea_tile import SEA, write_raster
from backbearing.terrain.reading.files import SEA_TAG

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.terrain.elevation import Elevation

MOST_CELLS: Final = 16_000_000
"""Cells of a cut: 64 MB before they are packed, a square of 4,000."""

LEAST_RADIUS_M: Final = 500.0
LONGEST_TAG: Final = 300


class Cut(NamedTuple):
    """What was cut: its file, how far it reaches from the place at the least, and of how far.

    ``radius_m`` is what was cut, ``asked_m`` what was asked; the raster may end before either.
    """

    path: Path
    radius_m: float
    asked_m: float


def write_cut(elevation: Elevation, path: Path, *, lat: float, lon: float, reach_m: float) -> Cut:
    """Write the ground within reach of a place, as far as a file to send may hold.

    Parameters
    ----------
    elevation : Elevation
    path : Path
        A GeoTIFF in the raster's own reference system: the same cells with the same heights.
    lat, lon : float
        The place, WGS84 degrees.
    reach_m : float
        How far ground is wanted; less where that has more than :data:`MOST_CELLS`.

    Raises
    ------
    TerrainError
        When the raster holds nothing there.
    WriteRefusedError
        When the disk refuses.
    """
    down_m, across_m = elevation.local_steps_m(lat=lat, lon=lon)
    most_m = 0.5 * math.sqrt(MOST_CELLS * down_m * across_m)
    radius_m = max(LEAST_RADIUS_M, min(reach_m, 0.95 * most_m))
    rows, cols = _window(elevation, lat=lat, lon=lon, radius_m=radius_m)
    heights = np.array(elevation.window_m(rows, cols, as_held=True), dtype=np.float32)
    # Open water is held as minus zero, which no file keeps apart from zero.
    water = (heights == 0.0) & np.signbit(heights)
    heights[water] = SEA
    from affine import Affine

    corner = elevation.transform @ Affine.translation(cols.start, rows.start)
    tags = {
        key: value
        for key, value in elevation.tags.items()
        if len(value) <= LONGEST_TAG
        and key not in ("AREA_OR_POINT", SEA_TAG)
        and not key.startswith("TIFFTAG_")
    }
    credit = elevation.tags.get("credit", "") or elevation.tags.get("TIFFTAG_COPYRIGHT", "")
    write_raster(
        path, heights, corner, credit, sea=bool(water.any()), crs=elevation.crs.to_wkt(), tags=tags
    )
    return Cut(path, radius_m, reach_m)


def _window(
    elevation: Elevation, *, lat: float, lon: float, radius_m: float
) -> tuple[slice, slice]:
    """Rows and columns that hold all within a radius, and one cell about them."""
    azimuths = np.linspace(0.0, 360.0, 64, endpoint=False)
    rim = point_along(lat=lat, lon=lon, azimuth_deg=azimuths, distance_m=1.02 * radius_m)
    pixels = elevation.grid.pixels(lat=rim.lat, lon=rim.lon)
    found = []
    for values, count in zip((pixels.row, pixels.col), elevation.shape, strict=True):
        low, high = math.floor(float(np.min(values))) - 1, math.ceil(float(np.max(values))) + 2
        found.append(slice(max(low, 0), min(high, count)))
    if any(one.stop - one.start < 2 for one in found):
        raise TerrainError("The raster holds nothing about the subject", hint="look at the place")
    return found[0], found[1]
