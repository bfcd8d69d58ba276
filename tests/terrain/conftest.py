"""Grounds to test on, files to hold them, and an oracle that shares no code with the package."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from affine import Affine
from pyproj import Geod

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

EARTH_M = 6_371_008.8
SOUTHWARD = Affine(0.01, 0, -84.0, 0, -0.01, 36.5)


@pytest.fixture(scope="session")
def rough() -> Callable[..., np.ndarray]:
    """Make invented ground with hills of all sizes."""

    def make(rows: int, cols: int, *, relief_m: float, seed: int = 0, power: float = 1.8) -> Any:
        rng = np.random.default_rng(seed)
        spectrum = np.fft.rfft2(rng.standard_normal((rows, cols)))
        k = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
        k[0, 0] = np.inf
        z = np.fft.irfft2(spectrum / k**power, s=(rows, cols))
        z = (z - z.min()) / (z.max() - z.min())
        return (200.0 + relief_m * z).astype(np.float32)

    return make


@pytest.fixture(scope="session")
def march() -> Callable[..., tuple[float, float]]:
    """March along geodesics in equal steps: slow, plain, and only ever too low.

    For a raster in longitude and latitude whose outer corner is at (west, north). Gives the
    highest altitude in degrees and its distance.
    """
    geod = Geod(ellps="WGS84")

    def bilinear(z: np.ndarray, row: np.ndarray, col: np.ndarray) -> np.ndarray:
        i, j = np.floor(row).astype(int), np.floor(col).astype(int)
        inside = (i >= 0) & (j >= 0) & (i < z.shape[0] - 1) & (j < z.shape[1] - 1)
        i, j = np.where(inside, i, 0), np.where(inside, j, 0)
        u, v = row - i, col - j
        height = (z[i, j] * (1 - v) + z[i, j + 1] * v) * (1 - u) + (
            z[i + 1, j] * (1 - v) + z[i + 1, j + 1] * v
        ) * u
        return np.where(inside, height, np.nan)

    def look(
        z: np.ndarray, west: float, north: float, cell: float, *, lat: float, lon: float,
        azimuth: float, step_m: float, from_m: float, to_m: float, eye_m: float = 1.6,
        k: float = 0.13,
    ) -> tuple[float, float]:  # fmt: skip
        s = np.arange(from_m, to_m, step_m)
        lons, lats, _ = geod.fwd(
            np.full_like(s, lon), np.full_like(s, lat), np.full_like(s, azimuth), s
        )
        z = z.astype(np.float64)
        ground = bilinear(
            z, np.array([(north - lat) / cell - 0.5]), np.array([(lon - west) / cell - 0.5])
        )[0]
        height = bilinear(z, (north - lats) / cell - 0.5, (lons - west) / cell - 0.5)
        tangent = (height - ground - eye_m - (1 - k) * s**2 / (2 * EARTH_M)) / s
        best = int(np.nanargmax(tangent))
        return float(np.degrees(np.arctan(tangent[best]))), float(s[best])

    return look


@pytest.fixture
def write_tif(tmp_path: Path) -> Callable[..., Path]:
    """Write a GeoTIFF through rasterio."""
    import rasterio

    def write(
        z: np.ndarray,
        transform: Affine = SOUTHWARD,
        *,
        crs: Any = "EPSG:4326",
        name: str = "ground.tif",
        unit: str | None = None,
        scale: float | None = None,
        offset: float | None = None,
        tags: dict[str, str] | None = None,
        **profile: Any,
    ) -> Path:
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with rasterio.open(
            path, "w", driver="GTiff", height=z.shape[-2], width=z.shape[-1],
            count=1 if z.ndim == 2 else z.shape[0], dtype=z.dtype, crs=crs, transform=transform,
            **profile,
        ) as data:  # fmt: skip
            data.write(z, *([1] if z.ndim == 2 else []))
            if unit is not None:
                data.units = [unit]
            if scale is not None:
                data.scales = [scale]
            if offset is not None:
                data.offsets = [offset]
            data.update_tags(**(tags or {}))
        return path

    return write
