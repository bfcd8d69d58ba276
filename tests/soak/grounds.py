"""Random grounds: rasters on many grids, with and without voids, and places upon them."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    Floats = np.ndarray[Any, np.dtype[np.float64]]
    Rng = np.random.Generator


def write_ground(path: Path, rng: Rng, crs: str, lat: float, lon: float, *, band: int = 1) -> None:
    """Write a raster about a place; bands before its heights' hold something else."""
    import rasterio
    from affine import Affine
    from pyproj import CRS, Transformer

    cell = float(rng.choice([5.0, 10.0, 30.0, 90.0], p=[0.2, 0.2, 0.45, 0.15]))
    half = int(rng.integers(60, 110))
    off_east, off_north = rng.uniform(-0.4, 0.4, 2) * half * cell
    n = 2 * half + 1
    east, north = np.meshgrid(
        (np.arange(n) - half) * cell + off_east, (half - np.arange(n)) * cell + off_north
    )
    heights = _heights(rng, east, north, cell)
    if rng.random() < 0.25:
        heights = _holed(rng, heights, east, north)
    if crs == "EPSG:4326":
        step = cell / 111_195.0
        wide = step / max(math.cos(math.radians(lat)), 0.05)
        transform = Affine(
            wide, 0, lon + east[0, 0] / cell * wide - wide / 2,
            0, -step, lat + north[0, 0] / cell * step + step / 2,
        )  # fmt: skip
    else:
        own = CRS.from_user_input(crs)
        x, y = Transformer.from_crs("EPSG:4326", own, always_xy=True).transform(lon, lat)
        transform = Affine(cell, 0, x + east[0, 0] - cell / 2, 0, -cell, y + north[0, 0] + cell / 2)
    with rasterio.open(
        path, "w", driver="GTiff", width=n, height=n, count=band, dtype="float32", crs=crs,
        nodata=-9999.0, transform=transform,
    ) as out:  # fmt: skip
        for other in range(1, band):
            out.write(np.full(heights.shape, 7.0 * other, dtype=np.float32), other)
        out.write(heights.astype(np.float32), band)


def _heights(rng: Rng, east: Floats, north: Floats, cell: float) -> Floats:
    kind = rng.choice(["flat", "slope", "hill", "valley", "ridge", "canyon", "rough", "steps"])
    base = rng.uniform(0.0, 2500.0)
    if kind == "flat":
        return np.asarray(base + 0.0 * east)
    away, relief = np.hypot(east, north), rng.uniform(20.0, 900.0)
    if kind == "slope":
        turn, steep = rng.uniform(0.0, 2.0 * np.pi), rng.uniform(0.01, 0.3)
        return np.asarray(base + 1000.0 + steep * (np.cos(turn) * east + np.sin(turn) * north))
    if kind in ("ridge", "canyon"):
        turn, wide = rng.uniform(0.0, np.pi), rng.uniform(60.0, 800.0)
        across = np.cos(turn) * east + np.sin(turn) * north - rng.uniform(-1.0, 1.0) * wide
        wall = relief * np.exp(-0.5 * (across / wide) ** 2)
        return np.asarray(base + relief + (wall if kind == "ridge" else -wall))
    if kind in ("hill", "valley"):
        bump = relief * np.exp(-(away**2) / (2.0 * rng.uniform(150.0, 1500.0) ** 2))
        return np.asarray(base + relief + (bump if kind == "hill" else -bump))
    if kind == "steps":
        return np.asarray(base + relief * (np.floor((east + north) / (20.0 * cell)) % 3))
    spectrum = np.fft.rfft2(rng.standard_normal(east.shape))
    k = np.hypot(np.fft.fftfreq(len(east))[:, None], np.fft.rfftfreq(len(east))[None, :])
    k[0, 0] = np.inf
    z = np.fft.irfft2(spectrum / k ** rng.uniform(1.5, 2.2), s=east.shape)
    return np.asarray(base + relief * (z - z.min()) / np.ptp(z))


def _holed(rng: Rng, heights: Floats, east: Floats, north: Floats) -> Floats:
    """Voids here and there, none within 12 cells of the subject."""
    cell = abs(east[0, 1] - east[0, 0])
    out = heights.copy()
    for _ in range(int(rng.integers(1, 6))):
        row, col = rng.integers(0, len(heights), 2)
        reach = rng.uniform(1.0, 15.0) * cell
        near = np.hypot(east - east[row, col], north - north[row, col]) < reach
        out[near & (np.hypot(east, north) > 12.0 * cell)] = -9999.0
    return out


def write_places(path: Path, rng: Rng, lat: float, lon: float) -> None:
    def around(reach_m: float) -> list[float]:
        e, n = rng.uniform(-reach_m, reach_m, 2)
        wide = 111_195.0 * max(math.cos(math.radians(lat)), 0.05)
        return [lon + e / wide, lat + n / 111_195.0]

    features = [
        ("Point", around(600.0), {"kind": "parking", "name": "Lay-by"}),
        ("LineString", [around(600.0) for _ in range(4)], {"kind": "track", "name": "Lane"}),
        ("Point", around(200.0), {"kind": "hazard", "name": "Old shaft"}),
    ]
    for access in ("closed", "ask first", "open"):
        corner, size = around(150.0), rng.uniform(1e-4, 1e-3)
        ring = [[corner[0] + a * size, corner[1] + b * size] for a, b in _SQUARE]
        kind = {"kind": "land", "name": f"{access} field", "access": access}
        features.append(("Polygon", [ring], kind))
    document = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "geometry": {"type": t, "coordinates": c}, "properties": p}
            for t, c, p in features
        ],
    }
    path.write_text(json.dumps(document), encoding="utf-8")


_SQUARE = ((0, 0), (1, 0), (1, 1), (0, 1), (0, 0))
