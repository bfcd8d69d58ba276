"""Measure the skyline: speed against a brute-force march, and how far both are from the truth.

Run ``python benchmarks/skyline.py``; it takes a few minutes. Ratios are taken in one run
on one machine. Every figure names its eye height and least distance, for near ground
decides: from an eye at 1.6 m a march in steps of 0.05 cell strides over crests a few
tens of metres away, and is then too low by its own fault. The fine march (steps of 1 cm,
and of a ten-thousandth of the distance farther out) is the truth that both are held to.
"""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from affine import Affine
from pyproj import Geod

from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

    from backbearing.terrain import Skylines

SAMPLE = Path(__file__).parents[1] / "sample_terrain" / "sample_srtm_3arcsec.tif"
EARTH_M = 6_371_008.8
GEOD = Geod(ellps="WGS84")


def rough(relief_m: float, power: float, rows: int = 3601) -> Elevation:
    """Make one-arc-second ground with hills of all sizes."""
    rng = np.random.default_rng(7)
    k = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(rows)[None, :])
    k[0, 0] = np.inf
    z = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((rows, rows))) / k**power, s=(rows, rows))
    z = 200.0 + relief_m * (z - z.min()) / (z.max() - z.min())
    step = 1 / 3600
    transform = Affine(step, 0, -84.5, 0, -step, 37.0)
    return Elevation.from_array(z.astype(np.float32), transform, "EPSG:4326")


def march(dem: Elevation, place: dict[str, float], azimuth: float, s: np.ndarray) -> float:
    """Highest altitude among samples of the bilinear surface, degrees."""
    z, t = dem.heights_m, dem.transform
    lon, lat, _ = GEOD.fwd(*(np.full_like(s, v) for v in (place["lon"], place["lat"], azimuth)), s)

    def height(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
        row, col = (lat - t.f) / t.e - 0.5, (lon - t.c) / t.a - 0.5
        i, j = np.floor(row).astype(np.int64), np.floor(col).astype(np.int64)
        ok = (i >= 0) & (j >= 0) & (i < z.shape[0] - 1) & (j < z.shape[1] - 1)
        i, j, u, v = np.where(ok, i, 0), np.where(ok, j, 0), row - i, col - j
        north = z[i, j] * (1 - v) + z[i, j + 1] * v
        south = z[i + 1, j] * (1 - v) + z[i + 1, j + 1] * v
        return np.where(ok, north * (1 - u) + south * u, np.nan)

    eye = height(np.array([place["lat"]]), np.array([place["lon"]]))[0] + 1.6
    tangent = (height(lat, lon) - eye - 0.87 * s * s / (2 * EARTH_M)) / s
    return float(np.degrees(np.arctan(np.nanmax(tangent))))


def even_steps(cell_m: float, from_m: float, to_m: float) -> np.ndarray:
    return np.arange(max(from_m, 0.05 * cell_m), to_m, 0.05 * cell_m)


def fine_steps(from_m: float, to_m: float) -> np.ndarray:
    near = np.arange(max(from_m, 0.01), 100.0, 0.01)
    far = np.exp(np.arange(np.log(max(from_m, 100.0)), np.log(to_m), 1e-4))
    return np.concatenate([near, far])


def accuracy(name: str, dem: Elevation, sites: int, rays: int, to_m: float) -> None:
    rng = np.random.default_rng(1)
    south, west, north, east = dem.bounds
    for from_m in (0.0, 300.0):
        errors = []
        for _ in range(sites):
            place = {
                "lat": float(rng.uniform(south + 0.02, north - 0.02)),
                "lon": float(rng.uniform(west + 0.02, east - 0.02)),
            }
            azimuths = rng.uniform(0, 360, rays)
            found = dem.horizon(
                **place, azimuths_deg=azimuths, max_distance_m=to_m, min_distance_m=from_m
            )
            for azimuth, altitude in zip(azimuths, found.altitudes_deg, strict=True):
                plain = march(dem, place, azimuth, even_steps(dem.cell_size_m, from_m, to_m))
                fine = march(dem, place, azimuth, fine_steps(from_m, to_m))
                errors.append((altitude - plain, altitude - fine, plain - fine))
        for label, e in zip(
            ("ours - march at 0.05 cell", "ours - fine march", "march at 0.05 cell - fine march"),
            np.array(errors).T,
            strict=True,
        ):
            q = np.percentile(np.abs(e), [50, 95, 99, 100])
            print(
                f"  {name:12} from {from_m:3.0f} m  {label:32} median {q[0]:.5f}  p95 {q[1]:.5f}  "
                f"p99 {q[2]:.5f}  worst {q[3]:.5f}  least {e.min():+.5f}  most {e.max():+.5f}"
            )


def best_of(work: Callable[[], object], times: int) -> tuple[float, float]:
    """Median and least seconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return float(np.median(taken)), min(taken)


def speed(name: str, dem: Elevation, place: dict[str, float], to_m: float) -> None:
    s = even_steps(dem.cell_size_m, 0.0, to_m)
    brute, _ = best_of(lambda: [march(dem, place, a, s) for a in (10.0, 130.0, 250.0)], 3)
    for count in (1, 10, 360, 3600):
        azimuths = np.arange(count) * 360.0 / count

        def ask(azimuths: np.ndarray = azimuths) -> object:
            return dem.horizon(**place, azimuths_deg=azimuths, max_distance_m=to_m)

        ask()
        median, least = best_of(ask, 25)
        print(
            f"  {name:12} {count:5} azimuths  median {1e3 * median:7.2f} ms  least "
            f"{1e3 * least:7.2f} ms  march at 0.05 cell {brute / 3 * count:8.2f} s  "
            f"ratio {brute / 3 * count / median:9.0f}"
        )


def many_eyes(name: str, dem: Elevation, place: dict[str, float], to_m: float) -> None:
    """One ray from each of many eyes within some 5 km, against a call for each of them."""
    rng = np.random.default_rng(3)
    for count in (1_000, 10_000, 100_000):
        rays: dict[str, Any] = {
            "lat": place["lat"] + rng.uniform(-0.05, 0.05, count),
            "lon": place["lon"] + rng.uniform(-0.05, 0.05, count),
            "azimuths_deg": rng.uniform(0.0, 360.0, count),
        }

        def ask(rays: dict[str, Any] = rays) -> Skylines:
            return dem.skylines(**rays, max_distance_m=to_m)

        found = ask()
        median, least = best_of(ask, 7)
        some = rng.choice(count, 300, replace=False)
        start = time.perf_counter()
        alone = [
            dem.horizon(
                lat=float(rays["lat"][i]),
                lon=float(rays["lon"][i]),
                azimuths_deg=[rays["azimuths_deg"][i]],
                max_distance_m=to_m,
            ).altitudes_deg[0]
            for i in some
        ]
        each = (time.perf_counter() - start) / len(some)
        apart = np.abs(found.altitudes_deg[some] - alone).max()
        print(
            f"  {name:12} {count:7} eyes  median {1e6 * median / count:6.2f} us a ray  least "
            f"{1e6 * least / count:6.2f}  one call each {1e6 * each:6.0f} us  ratio "
            f"{each * count / median:6.0f}  apart by at most {apart:.1e} degree"
        )


COLD = """
import time, sys
start = time.perf_counter()
import numpy as np
from backbearing.terrain import Elevation, skyline
if {compiled}: skyline.compiled_pays = lambda _: True
loaded = time.perf_counter()
dem = Elevation.open({path!r})
one = dem.horizon(lat=36.30, lon=-84.25)
first = time.perf_counter()
two = dem.horizon(lat=36.31, lon=-84.26)
print(f"{{loaded - start:.2f}} {{first - loaded:.2f}} {{time.perf_counter() - first:.4f}}")
"""


def cold() -> None:
    """First and second skyline of a new process, 360 azimuths on the sample."""
    with tempfile.TemporaryDirectory() as cache:
        for label, compiled, folder in (
            ("plain numpy", False, None),
            ("compiled, no cache yet", True, cache),
            ("compiled, cached", True, cache),
        ):
            env = {**os.environ, **({"NUMBA_CACHE_DIR": folder} if folder else {})}
            code = COLD.format(compiled=compiled, path=str(SAMPLE))
            out = subprocess.run(
                [sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True
            ).stdout.split()
            print(f"  {label:24} import {out[0]} s  first {out[1]} s  second {out[2]} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sites", type=int, default=12, help="places for each accuracy figure")
    parser.add_argument("--rays", type=int, default=8, help="azimuths for each place")
    given = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, eye height 1.6 m")
    grounds = {
        "sample": (Elevation.open(SAMPLE), {"lat": 36.30, "lon": -84.25}, 40_000.0),
        "gentle": (rough(250.0, 2.2), {"lat": 36.5, "lon": -84.0}, 50_000.0),
        "steep": (rough(3000.0, 1.9), {"lat": 36.5, "lon": -84.0}, 50_000.0),
    }
    print("A new process:")
    cold()
    print("Speed, warm:")
    for name, (dem, place, to_m) in grounds.items():
        speed(name, dem, place, to_m)
    print("One ray from each of many eyes, warm:")
    for name, (dem, place, to_m) in grounds.items():
        many_eyes(name, dem, place, to_m)
    print(f"Altitude differences in degrees, {given.sites * given.rays} rays each:")
    for name, (dem, _, to_m) in grounds.items():
        accuracy(name, dem, given.sites, given.rays, to_m)


if __name__ == "__main__":
    main()
