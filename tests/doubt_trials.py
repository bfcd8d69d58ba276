"""Trials of the doubt of skylines: rasters drawn with correlated errors, looked at anew.

For a product the errors are its maker's, in the numbers that the package's model states; the
skylines of drawn rasters are found one by one, with a tripod that stands a little aside, an eye
a little higher or lower, and air that bends a little more or less.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from affine import Affine

from backbearing.alignment.stand.uncertainty import CLEARS_SIGMAS, sight_errors
from backbearing.terrain import Elevation
from backbearing.terrain.reading.products import PRODUCTS
from correlated_errors import ErrorFields, ErrorLaw

CELLS = {"copernicus 90": 90.0, "srtm north america": 90.0, "3dep 10": 10.0}
RELIEF = {"gentle": 8.0, "steep": 75.0}
"""Metres that the ground differs by, root mean square, for each cell of 30 m."""


def ground(kind: str, cell_m: float, size: int) -> np.ndarray:
    """Make invented hills of all sizes up to 200 cells, shape (size, size)."""
    noise = np.random.default_rng(11).standard_normal((size, size))
    k = np.hypot(np.fft.fftfreq(size)[:, None], np.fft.fftfreq(size))
    z = np.fft.ifft2(np.fft.fft2(noise) * np.maximum(k, 1.0 / 200.0) ** -1.9).real
    return np.asarray(z * (4.0 * RELIEF[kind] * cell_m / 30.0 / z.std()) + 2000.0)


class Places(NamedTuple):
    """Eyes by row and column, the azimuths of their rays, and their skylines."""

    row: np.ndarray
    col: np.ndarray
    azimuth: np.ndarray
    seen: Any


def places(dem: Elevation) -> Places:
    """Choose 14 rays with skylines at 5 to 100 m, 8 to 1000 m and 14 beyond."""
    rng = np.random.default_rng(3)
    size = dem.shape[0]
    row, col = rng.uniform(0.2 * size, 0.8 * size, (2, 6000))
    azimuth = rng.uniform(0.0, 360.0, 6000)
    at = dem.grid.places(row=row, col=col)
    seen = dem.skylines(lat=at.lat, lon=at.lon, azimuths_deg=azimuth, max_distance_m=20_000.0)
    away = seen.distances_m
    inside = seen.reach_m - away > 4.0 * dem.cell_size_m
    chosen = np.concatenate(
        [
            np.flatnonzero(inside & (away > low) & (away <= high))[:count]
            for low, high, count in ((5.0, 100.0, 14), (100.0, 1e3, 8), (1e3, 2e4, 14))
        ]
    )
    at = dem.grid.places(row=row[chosen], col=col[chosen])
    seen = dem.skylines(
        lat=at.lat, lon=at.lon, azimuths_deg=azimuth[chosen], max_distance_m=20_000.0
    )
    return Places(row[chosen], col[chosen], azimuth[chosen], seen)


class Trial(NamedTuple):
    """What was stated, and what the drawn rasters showed over the skylines found, degrees.

    ``sigma``, ``rise`` and ``distance_m`` (n,), ``drawn`` (draws, n).
    """

    sigma: np.ndarray
    rise: np.ndarray
    distance_m: np.ndarray
    drawn: np.ndarray

    @property
    def spread(self) -> np.ndarray:
        """What the standard deviations should be."""
        return self.drawn.std(axis=0, ddof=1)

    @property
    def hidden(self) -> np.ndarray:
        """Share of draws, (n,), that hide a target that just clears."""
        return np.mean(self.drawn > self.rise + CLEARS_SIGMAS * self.sigma, axis=0)


def trial(key: str, kind: str, *, size: int, draws: int) -> Trial:
    """State the doubt of some skylines, and find them again on drawn rasters."""
    cell = CELLS.get(key, 30.0)
    z, grid = ground(kind, cell, size), Affine(cell, 0.0, 500_000.0, 0.0, -cell, 5.2e6)
    dem = Elevation.from_array(z, grid, "EPSG:32632")
    there, errors = places(dem), sight_errors(PRODUCTS[key].errors, dem, position_sigma_m=3.0)
    stated = dem.skyline_doubt(there.seen, errors)
    heights = errors.heights
    law = ErrorLaw(
        heights.local_sigma_m, heights.local_range_m, heights.wide_sigma_m, heights.wide_range_m,
        heights.steep_local_sigma_m,
    )  # fmt: skip
    steep = np.hypot(*np.gradient(z, cell)) > 0.2
    fields, rng = ErrorFields(law, cell, z.shape, seed=5), np.random.default_rng(9)
    n = len(there.row)
    drawn = np.empty((draws, n))
    for i in range(draws):
        one = Elevation.from_array((z + fields.draw(steep)).astype(np.float32), grid, "EPSG:32632")
        aside = rng.normal(0.0, 3.0 / cell, (2, n))
        at = one.grid.places(row=there.row + aside[0], col=there.col + aside[1])
        drawn[i] = one.skylines(
            lat=at.lat, lon=at.lon, azimuths_deg=there.azimuth, max_distance_m=20_000.0,
            eye_height_m=1.6 + rng.normal(0.0, 0.1, n), refraction_k=0.13 + rng.normal(0.0, 0.03),
        ).altitudes_deg  # fmt: skip
    found = there.seen
    return Trial(stated.sigma_deg, stated.rise_deg, found.distances_m, drawn - found.altitudes_deg)
