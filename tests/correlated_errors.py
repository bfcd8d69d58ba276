"""Rasters' errors to draw: a sum of two variograms, Gaussian at short range, spherical at long.

As elevation models are taken to err after Rolstad, Haug and Denby (2009,
doi:10.3189/002214309789470950) and Hugonnet et al. (2022, doi:10.1109/JSTARS.2022.3188922).
Written without the package's own model, whose numbers are handed in. A Gaussian variogram
of range r reaches its sill as ``1 - exp(-4 h^2 / r^2)``, as the library scikit-gstat has it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


def gaussian(h: np.ndarray, range_m: float) -> np.ndarray:
    return np.exp(-4.0 * (h / range_m) ** 2)


def spherical(h: np.ndarray, range_m: float) -> np.ndarray:
    x = h / range_m
    return np.where(x < 1.0, 1.0 - 1.5 * x + 0.5 * x**3, 0.0)


@dataclass(frozen=True)
class ErrorLaw:
    """Standard deviations and ranges of the two parts, metres; the local one where it is steep."""

    local_m: float
    local_range_m: float
    wide_m: float
    wide_range_m: float
    steep_local_m: float


def nearby_errors(
    law: ErrorLaw, row_m: np.ndarray, col_m: np.ndarray, rng: np.random.Generator, n: int
) -> np.ndarray:
    """Draw n sets of errors at a few places, exactly; shape (n, places)."""
    h = np.hypot(row_m[:, None] - row_m, col_m[:, None] - col_m)
    joint = law.local_m**2 * gaussian(h, law.local_range_m)
    joint += law.wide_m**2 * spherical(h, law.wide_range_m)
    factor = np.linalg.cholesky(joint + 1e-9 * np.eye(len(h)))
    return rng.standard_normal((n, len(h))) @ factor.T


class ErrorFields:
    """Error fields over a raster, drawn by circulant embedding and shifted about on its torus."""

    def __init__(self, law: ErrorLaw, cell_m: float, shape: tuple[int, int], seed: int) -> None:
        self.law, self.shape = law, shape
        self.rng = np.random.default_rng(seed)
        far = 2 ** int(np.ceil(np.log2(2 * max(shape))))
        self.local = self._tori(lambda h: gaussian(h, law.local_range_m), cell_m, far, 2)
        self.wide = self._tori(lambda h: spherical(h, law.wide_range_m), cell_m, 2 * far, 3)

    def _tori(self, law, cell_m: float, size: int, count: int) -> list[np.ndarray]:  # type: ignore[no-untyped-def]
        way = np.minimum(np.arange(size), size - np.arange(size)) * cell_m
        spectrum = np.fft.fft2(law(np.hypot(way[:, None], way))).real
        scale = np.sqrt(np.maximum(spectrum, 0.0))
        fields = []
        for _ in range(count):
            noise = self.rng.standard_normal((size, size))
            drawn = np.fft.fft2((noise + 1j * self.rng.standard_normal((size, size))) * scale)
            fields += [
                (drawn.real / size).astype(np.float32),
                (drawn.imag / size).astype(np.float32),
            ]
        return fields

    def _some(self, fields: list[np.ndarray]) -> np.ndarray:
        field = fields[self.rng.integers(len(fields))]
        start = self.rng.integers(0, len(field), 2)
        rows, cols = ((start[k] + np.arange(self.shape[k])) % len(field) for k in (0, 1))
        return self.rng.choice([-1.0, 1.0]) * field[np.ix_(rows, cols)]

    def draw(self, steep: np.ndarray) -> np.ndarray:
        """One field of errors, metres; ``steep`` tells where the steep figure holds."""
        local = np.where(steep, self.law.steep_local_m, self.law.local_m)
        return local * self._some(self.local) + self.law.wide_m * self._some(self.wide)
