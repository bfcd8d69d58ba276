"""Heights on the square pixels of a web map.

An image laid over a web map is linear in Mercator y, not in latitude. Picture and
contours both come from one :class:`MercatorGrid`, so they agree to under a pixel.
Unknown ground stays NaN; it is never zero.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Reals = NDArray[np.floating[Any]]


@dataclass(frozen=True, slots=True)
class Box:
    """A box in WGS84 degrees; ``east`` exceeds 180 across the antimeridian."""

    west: float
    south: float
    east: float
    north: float

    def cut(self, other: Box) -> Box | None:
        """The part shared with another box; None where there is none."""
        west, east = max(self.west, other.west), min(self.east, other.east)
        south, north = max(self.south, other.south), min(self.north, other.north)
        return Box(west, south, east, north) if west < east and south < north else None

    @property
    def corners(self) -> list[list[float]]:
        """South-west and north-east, each latitude first, as the map wants them."""
        return [[self.south, self.west], [self.north, self.east]]


@dataclass(frozen=True, slots=True)
class MercatorGrid:
    """Heights on square Web Mercator pixels.

    Attributes
    ----------
    heights_m : ndarray
        Shape ``(rows, cols)``, row 0 in the north, NaN where unknown.
    west_m, north_m : float
        Web Mercator coordinates of the outer corner of pixel ``(0, 0)``.
    step_m : float
        Side of a pixel in Web Mercator metres (ground metres over cos latitude).
    """

    heights_m: Floats
    west_m: float
    north_m: float
    step_m: float

    def place(self, column: ArrayLike, row: ArrayLike) -> tuple[Floats, Floats]:
        """Latitude and longitude of (fractional) pixel-centre indices."""
        x = self.west_m + (np.asarray(column, dtype=np.float64) + 0.5) * self.step_m
        y = self.north_m - (np.asarray(row, dtype=np.float64) + 0.5) * self.step_m
        return lat_of(y), np.degrees(x / WEB_MERCATOR_RADIUS_M)

    @property
    def box(self) -> Box:
        """Outer edges in degrees."""
        rows, columns = self.heights_m.shape
        lat, lon = self.place(np.array([-0.5, columns - 0.5]), np.array([-0.5, rows - 0.5]))
        return Box(float(lon[0]), float(lat[1]), float(lon[1]), float(lat[0]))

    @property
    def ground_step_m(self) -> Floats:
        """Side of a pixel on the ground, metres, shape ``(rows, 1)``."""
        lat, _ = self.place(0.0, np.arange(self.heights_m.shape[0]))
        step: Floats = (self.step_m * np.cos(np.radians(lat)))[:, None]
        return step


def mercator_y(lat_deg: ArrayLike) -> Floats:
    """Web Mercator y of a latitude, metres: ``R asinh(tan lat)`` [EPSG3857]_."""
    lat = np.radians(np.asarray(lat_deg, dtype=np.float64))
    y: Floats = WEB_MERCATOR_RADIUS_M * np.arcsinh(np.tan(lat))
    return y


def lat_of(mercator_y_m: ArrayLike) -> Floats:
    """Latitude of a Web Mercator y: ``atan(sinh(y / R))``, degrees [EPSG3857]_."""
    y = np.asarray(mercator_y_m, dtype=np.float64)
    lat: Floats = np.degrees(np.arctan(np.sinh(y / WEB_MERCATOR_RADIUS_M)))
    return lat


def blurred(values: Reals, by_px: float) -> Reals:
    """Blur with a Gaussian of so many pixels, edges held.

    Unknown values (NaN) have no weight: beside them the mean is of what is known, and
    only beyond the reach of anything known is the result NaN.
    """
    known = np.isfinite(values)
    if known.all():
        return _convolved(values, by_px)
    weight = _convolved(known.astype(values.dtype), by_px)
    total = _convolved(np.where(known, values, values.dtype.type(0.0)), by_px)
    reached = weight > 1e-5
    return np.where(reached, total / np.where(reached, weight, 1.0), np.nan).astype(values.dtype)


def _convolved(values: Reals, by_px: float) -> Reals:
    from scipy.ndimage import gaussian_filter

    radius = max(1, math.ceil(3.0 * by_px))
    return np.asarray(gaussian_filter(values, by_px, mode="nearest", radius=radius))


def softened(grid: MercatorGrid, by_px: float) -> MercatorGrid:
    """The same grid with its surface smoothed; unknown ground stays unknown."""
    heights = np.where(np.isfinite(grid.heights_m), blurred(grid.heights_m, by_px), np.nan)
    return MercatorGrid(heights, grid.west_m, grid.north_m, grid.step_m)
