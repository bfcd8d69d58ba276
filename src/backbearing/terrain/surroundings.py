"""The pixels around a place or along a walk, with their distances from it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import OutsideRasterError, TerrainError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.grid import Pixels
    from backbearing.terrain.height_field import HeightField
    from backbearing.terrain.reading.sources import Heights

MOST_CELLS = 4_000_000
"""Cells around a place or walk beyond which the question is refused as too wide."""


@dataclass(frozen=True)
class Surroundings:
    """A window of pixels around a place or a straight walk.

    Attributes
    ----------
    row0, col0 : int
        Where the window starts in the raster.
    heights_m : ndarray, shape (rows, cols)
        NaN where unknown.
    distance_m : ndarray, shape (rows, cols)
        Level distance of each pixel's centre from the place or walk.
    steps_m : tuple of float
        From row to row and from column to column at the place.
    """

    row0: int
    col0: int
    heights_m: Heights
    distance_m: NDArray[np.float64]
    steps_m: tuple[float, float]

    @classmethod
    def of(
        cls,
        elevation: HeightField,
        *,
        lat: float,
        lon: float,
        within_m: float,
        end_lat: float | None = None,
        end_lon: float | None = None,
    ) -> Surroundings:
        """Read what lies within reach, and two cells more.

        Raises
        ------
        OutsideRasterError
            When an end lies outside the raster.
        TerrainError
            When the reach is not positive or holds too many cells.
        """
        if not (math.isfinite(within_m) and within_m > 0.0):
            raise TerrainError(
                f"within_m is {within_m:g}",
                hint="write a positive number of metres",
                key="within_m",
            )
        ends = elevation.grid.pixels(
            lat=[lat, lat if end_lat is None else end_lat],
            lon=[lon, lon if end_lon is None else end_lon],
        )
        if not elevation.grid.holds(ends).all():
            raise OutsideRasterError(
                f"A place near lat {lat:.5f}, {lon:.5f} lies outside the raster {elevation.source}",
                hint="choose places inside it",
                lat=lat,
                lon=lon,
            )
        steps = elevation.local_steps_m(lat=lat, lon=lon)
        rows, cols = _windows(elevation.shape, ends, steps, within_m)
        return cls(
            rows.start,
            cols.start,
            elevation.window_m(rows, cols),
            _distances(rows, cols, ends, steps),
            steps,
        )


def _windows(
    shape: tuple[int, int], ends: Pixels, steps: tuple[float, float], within_m: float
) -> tuple[slice, slice]:
    windows = []
    for along, step, count in zip(ends, steps, shape, strict=True):
        spare = within_m / step + 2.0
        windows.append(
            slice(
                max(0, math.floor(along.min() - spare)),
                min(count, math.ceil(along.max() + spare) + 1),
            )
        )
    rows, cols = windows
    if (rows.stop - rows.start) * (cols.stop - cols.start) > MOST_CELLS:
        raise TerrainError(
            f"Within {within_m:g} m of the place or walk lie more than {MOST_CELLS:,} cells",
            hint="ask for less",
            key="within_m",
        )
    return rows, cols


def _distances(
    rows: slice, cols: slice, ends: Pixels, steps: tuple[float, float]
) -> NDArray[np.float64]:
    """Distance of each pixel from the straight line between the two ends."""
    y = (np.arange(rows.start, rows.stop)[:, None] - ends.row[0]) * steps[0]
    x = (np.arange(cols.start, cols.stop)[None, :] - ends.col[0]) * steps[1]
    end_y = float(ends.row[1] - ends.row[0]) * steps[0]
    end_x = float(ends.col[1] - ends.col[0]) * steps[1]
    length2 = end_x * end_x + end_y * end_y
    share = np.clip((x * end_x + y * end_y) / length2, 0.0, 1.0) if length2 else np.float64(0.0)
    distance: NDArray[np.float64] = np.hypot(x - share * end_x, y - share * end_y)
    return distance
