"""Heights about one place, by bearing and distance from it, many at little cost.

A stand is sought along back bearings: thousands of heights within a few hundred metres of one
subject. Each by a geodesic, a map projection and the raster's pieces costs more in small calls
than in arithmetic. Here rows and columns are polynomials of metres east and north, fitted once
through exact places and checked between them; the heights are the raster's own bilinear surface.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.geodesy import point_along
from backbearing.terrain.surface import heights_in

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.height_field import HeightField

    Floats = NDArray[np.float64]

HIGHEST_DEGREE: Final = 7
"""Degree of the polynomials at most: their error falls with (reach / Earth's radius) to one more
than the degree, so that a few hundred metres need two or three."""

EXACT_PX: Final = 1e-8
"""A worse fit than this many pixels is not used: every height is then asked for by place."""

MOST_CELLS: Final = 4_000_000
"""Cells of the window kept; about a wider place every height is asked for by place."""


class LocalGround:
    """Ground heights about a place, metres; NaN where the raster does not know them.

    Parameters
    ----------
    heights : HeightField
        The raster.
    lat, lon : float
        The place, WGS84 degrees.
    reach_m : float
        How far from it heights are asked for.
    """

    def __init__(self, heights: HeightField, *, lat: float, lon: float, reach_m: float) -> None:
        self._heights = heights
        self._lat, self._lon, self.reach_m = lat, lon, reach_m
        self._fitted = self._fit()
        self._window = None if self._fitted is None else self._read()

    def height_along(self, azimuth_deg: Floats, distance_m: Floats) -> Floats:
        """Heights at distances on bearings from the place, arrays that broadcast together."""
        azimuth, distance = np.broadcast_arrays(azimuth_deg, distance_m)
        if self._window is None or not np.all(distance <= self.reach_m):
            return self._asked(azimuth, distance)
        turn = np.radians(azimuth)
        row, col = self._pixels(distance * np.sin(turn), distance * np.cos(turn))
        first_row, first_col, window = self._window
        return heights_in(window, row - first_row, col - first_col)

    def _asked(self, azimuth: Floats, distance: Floats) -> Floats:
        end = point_along(lat=self._lat, lon=self._lon, azimuth_deg=azimuth, distance_m=distance)
        return np.asarray(self._heights.height_at(lat=end.lat, lon=end.lon), dtype=np.float64)

    def _pixels(self, east_m: Floats, north_m: Floats) -> tuple[Floats, Floats]:
        fitted = self._fitted
        assert fitted is not None  # noqa: S101  # callers looked
        shape = np.shape(east_m)
        x, y = np.ravel(east_m) / self.reach_m, np.ravel(north_m) / self.reach_m
        row, col = fitted @ _terms(x, y, len(fitted[0]))
        return row.reshape(shape), col.reshape(shape)

    def _exact(self, x: Floats, y: Floats) -> Floats:
        """Rows and columns, shape (n, 2), of places at shares of the reach east and north."""
        end = point_along(
            lat=self._lat, lon=self._lon,
            azimuth_deg=np.degrees(np.arctan2(x, y)),
            distance_m=np.hypot(x, y) * self.reach_m,
        )  # fmt: skip
        pixels = self._heights.grid.pixels(lat=end.lat, lon=end.lon)
        return np.stack([pixels.row, pixels.col], axis=1)

    def _fit(self) -> Floats | None:
        """Coefficients of rows and columns, shape (2, terms), or None where none fit."""
        nodes, between = np.cos(np.pi * (np.arange(12) + 0.5) / 12), np.linspace(-0.93, 0.95, 7)
        x, y = (v.ravel() for v in np.meshgrid(nodes, nodes))
        u, v = (w.ravel() for w in np.meshgrid(between, between))
        exact, wanted = self._exact(x, y), self._exact(u, v)
        if not np.isfinite(exact).all():
            return None
        for degree in range(2, HIGHEST_DEGREE + 1):
            count = (degree + 1) * (degree + 2) // 2
            fitted = np.asarray(np.linalg.lstsq(_terms(x, y, count).T, exact, rcond=None)[0].T)
            if np.abs(fitted @ _terms(u, v, count) - wanted.T).max() <= EXACT_PX:
                return np.ascontiguousarray(fitted)
        return None

    def _read(self) -> tuple[int, int, NDArray[np.floating]] | None:
        """First row and column of the window that holds the reach, and its heights."""
        turn = np.linspace(0.0, 2.0 * np.pi, 65)
        row, col = self._pixels(self.reach_m * np.sin(turn), self.reach_m * np.cos(turn))
        rows, cols = self._heights.shape
        top, bottom = max(int(row.min()) - 1, 0), min(int(row.max()) + 3, rows)
        left, right = max(int(col.min()) - 1, 0), min(int(col.max()) + 3, cols)
        if bottom - top < 2 or right - left < 2 or (bottom - top) * (right - left) > MOST_CELLS:
            return None
        window = self._heights.window_m(slice(top, bottom), slice(left, right))
        return top, left, np.ascontiguousarray(window)


def _terms(x: Floats, y: Floats, count: int) -> Floats:
    """Monomials of x and y by rising degree, shape (count, n)."""
    terms = np.empty((count, x.size))
    terms[0] = 1.0
    start, k = 0, 1
    while k < count:
        width = k - start
        np.multiply(terms[start:k], x, out=terms[k : k + width])
        np.multiply(terms[k - 1], y, out=terms[k + width])
        start, k = k, k + width + 1
    return terms
