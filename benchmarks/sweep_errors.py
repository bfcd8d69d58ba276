"""Where the whole-raster skyline is off: a map of its differences from single skylines.

Run ``python benchmarks/sweep_errors.py``. On the sample's ground, for four bearings, cells on a
regular grid are asked one by one and set beside the sweep's answer: quantiles by how far off the
skyline stands, and the cells that are worst. ``--picture FILE.png`` paints the first bearing's
differences: blue where the sweep is too low, red where too high, grey where one is unknown.
``--trade`` prints accuracy against time instead, one line a setting and ground; run it with another
checkout's ``src`` in ``PYTHONPATH`` for that one's.
"""

from __future__ import annotations

import argparse
import platform
import time
from itertools import pairwise
from pathlib import Path

import numpy as np

from backbearing.terrain import Elevation

SAMPLE = Path(__file__).resolve().parent.parent / "sample_terrain" / "sample_srtm_3arcsec.tif"
AZIMUTHS = (27.0, 147.3, 200.0, 290.0)
ZONES_M = (0.0, 300.0, 3_000.0, np.inf)
WORST_SHOWN = 3
FULL_COLOUR_DEG = 0.1


def differences(
    ground: Elevation, azimuth_deg: float, step: int
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Sweep less single skylines on every `step`-th cell, degrees; distances, rows, columns."""
    swept = np.asarray(ground.horizon_map(azimuth_deg), dtype=np.float64)
    rows, cols = (np.arange(step // 2, n - 2, step) for n in ground.shape)
    row, col = (v.ravel() for v in np.meshgrid(rows, cols, indexing="ij"))
    place = ground.grid.places(row=row.astype(float), col=col.astype(float))
    single = ground.skylines(lat=place.lat, lon=place.lon, azimuths_deg=azimuth_deg)
    off = swept[row, col] - np.asarray(single.altitudes_deg)
    shape = (rows.size, cols.size)
    parts = (off, np.asarray(single.distances_m), row, col)
    off_deg, distance_m, row, col = (v.reshape(shape) for v in parts)
    return off_deg, distance_m, row, col


def report(azimuth_deg: float, off: np.ndarray, distance_m: np.ndarray) -> None:
    """Print quantiles of one bearing, by the skyline's distance."""
    known = np.isfinite(off)
    print(f"bearing {azimuth_deg:5.1f}: {known.sum():,} cells, unknown {(~known).sum():,}")
    for near, far in pairwise(ZONES_M):
        some = off[known & (distance_m >= near) & (distance_m < far)]
        if some.size:
            low = -np.percentile(some, [10, 1, 0])
            print(
                f"  skyline {near:6.0f} to {far:6.0f} m: {some.size:6,} cells, too low p90 "
                f"{low[0]:.3f} p99 {low[1]:.3f} worst {low[2]:.3f}, too high {some.max():.3f}"
            )


def worst(off: np.ndarray, row: np.ndarray, col: np.ndarray) -> None:
    """Name the cells where the sweep is lowest."""
    order = np.argsort(np.where(np.isfinite(off), off, np.inf), axis=None)[:WORST_SHOWN]
    for i in order:
        print(f"    row {row.flat[i]:4d} column {col.flat[i]:4d}: {off.flat[i]:+.3f}")


def paint(off: np.ndarray, path: Path) -> None:
    """Write the map of differences."""
    from PIL import Image

    share = np.clip(np.nan_to_num(off) / FULL_COLOUR_DEG, -1.0, 1.0)
    pale = np.full((*off.shape, 3), 245.0)
    pale[..., 1] -= 200.0 * np.abs(share)
    pale[..., 0] += 200.0 * np.minimum(share, 0.0)
    pale[..., 2] -= 200.0 * np.maximum(share, 0.0)
    pale[~np.isfinite(off)] = 150.0
    Image.fromarray(pale.astype(np.uint8)).resize((off.shape[1] * 4, off.shape[0] * 4), 0).save(
        path
    )


def rolling(cells: int) -> Elevation:
    """Hills of all sizes up to 20 km and 1,200 m of relief, in 30 m cells of a metric grid."""
    from affine import Affine

    from terrain import fractal

    heights = fractal(cells, relief_m=1200.0, roughness=2.0, seed=5)
    return Elevation.from_array(heights, Affine(30, 0, 6e5, 0, -30, 5.3e6), "EPSG:32632")


def trade(name: str, ground: Elevation, step: int) -> None:
    """Print what each setting of the sweep costs and how far off it is."""
    off: dict[str, list[np.ndarray]] = {}
    spent_s: dict[str, list[float]] = {}
    copy_s = []
    for azimuth_deg in AZIMUTHS:
        rows, cols = (np.arange(step // 2, n - 2, step) for n in ground.shape)
        row, col = (v.ravel() for v in np.meshgrid(rows, cols, indexing="ij"))
        place = ground.grid.places(row=row.astype(float), col=col.astype(float))
        start = time.process_time()
        single = ground.skylines(lat=place.lat, lon=place.lon, azimuths_deg=azimuth_deg)
        each = (time.process_time() - start) / len(row) * ground.shape[0] * ground.shape[1]
        spent_s.setdefault("each cell marched", []).append(each)
        off.setdefault("each cell marched", []).append(np.zeros(1))
        for detail in ("fine", "quick"):
            swept = ground.horizon_map(azimuth_deg, detail=detail)
            took = []
            for _ in range(5):
                start = time.process_time()
                ground.horizon_map(azimuth_deg, detail=detail)
                took.append(time.process_time() - start)
            spent_s.setdefault(detail, []).append(min(took))
            apart = np.abs(swept[row, col] - np.asarray(single.altitudes_deg))
            off.setdefault(detail, []).append(apart[np.isfinite(apart)])
        start = time.process_time()
        for _ in range(20):
            np.asarray(ground.heights_m).astype(np.float32, copy=True)
        copy_s.append((time.process_time() - start) / 20)
    for setting, seconds in spent_s.items():
        apart = np.concatenate(off[setting])
        p50, p95, p99 = np.percentile(apart, [50, 95, 99])
        print(
            f"{name:22} {setting:18} {1e3 * np.mean(seconds):9.1f} ms a bearing, "
            f"{np.mean(seconds) / np.mean(copy_s):8.0f} copies, off p50 {p50:.4f} p95 {p95:.4f} "
            f"p99 {p99:.3f} worst {apart.max():.2f} degree"
        )


def main() -> None:
    """Run as the command line says."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--step", type=int, default=6, help="every so many cells")
    words.add_argument("--picture", type=Path, help="paint the first bearing's differences")
    words.add_argument("--trade", action="store_true", help="accuracy against time")
    asked = words.parse_args()
    ground = Elevation.open(SAMPLE)
    print(f"{platform.machine()}, Python {platform.python_version()}, {SAMPLE.name}")
    if asked.trade:
        trade(SAMPLE.stem, ground, asked.step)
        trade("hills, 1000 x 1000", rolling(1000), 3 * asked.step)
        return
    for azimuth_deg in AZIMUTHS:
        off, distance_m, row, col = differences(ground, azimuth_deg, asked.step)
        report(azimuth_deg, off, distance_m)
        worst(off, row, col)
        if asked.picture and azimuth_deg == AZIMUTHS[0]:
            paint(off, asked.picture)


if __name__ == "__main__":
    main()
