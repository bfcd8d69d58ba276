"""Measure the whole-raster skyline: time against copying the raster, error against a march.

Run ``python benchmarks/terrain.py``; peers that are not installed are named and skipped.
Every ratio is to a copy of the same raster timed next to it, for the machine may be busy.
The truth is a march along each cell's own ray over the bilinear surface, in steps of
0.004 cell at the eye to 0.25 cell far off, and a hundred times finer about the highest.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from affine import Affine
from numba import njit
from pyproj import Geod, Transformer

from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

EARTH_M = 6_371_008.8
EYE_M = 1.6
K = 0.13
CELL_M = 30.0
PLACES = {
    "projected": (Affine(CELL_M, 0, 600_000, 0, -CELL_M, 5_300_000), "EPSG:32632"),
    "geographic": (Affine(1 / 3600, 0, 7.0, 0, -1 / 3600, 47.0), "EPSG:4326"),
}
AZIMUTHS = (27.0, 81.0, 135.0, 200.0)
PEER_AZIMUTH = 200.0


def fractal(size: int, *, relief_m: float, roughness: float, seed: int) -> np.ndarray:
    """Make ground with hills of all sizes up to 20 km; four deviations span the relief."""
    from scipy import fft

    side = 1 << (size - 1).bit_length()
    noise = np.random.default_rng(seed).standard_normal((side, side), dtype=np.float32)
    spectrum = fft.rfft2(noise, workers=2)
    ky, kx = np.fft.fftfreq(side).astype(np.float32), np.fft.rfftfreq(side).astype(np.float32)
    k = np.maximum(np.hypot(ky[:, None], kx[None, :]), np.float32(CELL_M / 20_000.0))
    spectrum *= k ** np.float32(-roughness)
    spectrum[0, 0] = 0.0
    z = fft.irfft2(spectrum, s=(side, side), workers=2)[:size, :size]
    z *= np.float32(relief_m / 4.0) / z.std()
    return np.ascontiguousarray(z - z.min(), dtype=np.float32)


GROUNDS = {
    "gentle": {"relief_m": 300.0, "roughness": 1.9, "seed": 1},
    "steep": {"relief_m": 2600.0, "roughness": 1.95, "seed": 2},
}


def describe(z: np.ndarray) -> str:
    down, across = np.gradient(z[::3, ::3], 3 * CELL_M)
    slopes = np.degrees(np.arctan(np.hypot(down, across)))
    return (
        f"{z.shape[0]} x {z.shape[1]} cells, heights {z.min():.0f} to {z.max():.0f} m, slopes "
        f"median {np.median(slopes):.0f} and p95 {np.percentile(slopes, 95):.0f} degrees"
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _tangent(
    z: np.ndarray,
    rows: np.ndarray,
    cols: np.ndarray,
    knot_m: float,
    s: float,
    eye: float,
    drop: float,
) -> float:
    q = s / knot_m
    n = int(q)
    if n + 1 >= len(rows):
        return -np.inf
    r = rows[n] + (q - n) * (rows[n + 1] - rows[n])
    c = cols[n] + (q - n) * (cols[n + 1] - cols[n])
    i, j = int(np.floor(r)), int(np.floor(c))
    if i < 0 or j < 0 or i >= z.shape[0] - 1 or j >= z.shape[1] - 1:
        return -np.inf
    u, v = r - i, c - j
    north = z[i, j] * (1 - v) + z[i, j + 1] * v
    south = z[i + 1, j] * (1 - v) + z[i + 1, j + 1] * v
    return (north * (1 - u) + south * u - eye) / s - drop * s


@njit(cache=True, nogil=True, error_model="numpy")
def _march(
    z: np.ndarray,
    rows: np.ndarray,
    cols: np.ndarray,
    knot_m: float,
    eye: float,
    drop: float,
    cell_m: float,
) -> tuple[float, float]:
    best, at, s = -np.inf, 0.0, 0.0
    while True:
        cells = s / cell_m
        step = 0.004 if cells < 1 else 0.01 if cells < 3 else 0.025 if cells < 10 else 0.05
        step = cell_m * (step if cells < 40 else 0.1 if cells < 150 else 0.25)
        s += step
        tangent = _tangent(z, rows, cols, knot_m, s, eye, drop)
        if tangent == -np.inf:
            break
        if tangent > best:
            best, at = tangent, s
            for part in range(-50, 51):
                close = s + part * 0.02 * step
                best = max(best, _tangent(z, rows, cols, knot_m, close, eye, drop))
    return best, at


class Truth(NamedTuple):
    """Cells, their skyline's altitude in degrees and its distance."""

    cells: np.ndarray
    altitude_deg: np.ndarray
    away_m: np.ndarray


def true_skyline(
    z: np.ndarray, transform: Affine, crs: str, azimuth: float, cells: np.ndarray
) -> Truth:
    """March along geodesics, with the eye, curvature and refraction that we claim."""
    to_crs = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    a, b, c, d, e, f = tuple(transform)[:6]
    g, h, m, o, p, q = tuple(~transform)[:6]
    geod, knot_m = Geod(ellps="WGS84"), 200.0
    s = np.arange(0.0, 170_000.0, knot_m)
    found = np.empty((len(cells), 2))
    for n, (row, col) in enumerate(cells):
        x, y = a * (col + 0.5) + b * (row + 0.5) + c, d * (col + 0.5) + e * (row + 0.5) + f
        lon, lat = to_crs.transform(x, y, direction="INVERSE")
        lons, lats, _ = geod.fwd(*(np.full_like(s, v) for v in (lon, lat, azimuth)), s)
        x, y = to_crs.transform(lons, lats)
        rows, cols = o * x + p * y + q - 0.5, g * x + h * y + m - 0.5
        eye = float(z[row, col]) + EYE_M
        drop = (1 - K) / (2 * EARTH_M)
        found[n] = _march(z, rows, cols, knot_m, eye, drop, CELL_M)
    return Truth(cells, np.degrees(np.arctan(found[:, 0])), found[:, 1])


def plane_skyline(
    z: np.ndarray, azimuth: float, cells: np.ndarray, *, curved: bool = False
) -> Truth:
    """March as the peers see it: along grid azimuths, the eye on the ground, no refraction."""
    drop = 0.5 / EARTH_M if curved else 0.0
    knots = np.arange(0.0, 6000.0)
    found = np.empty((len(cells), 2))
    for n, (row, col) in enumerate(cells):
        rows = row - np.cos(np.radians(azimuth)) * knots
        cols = col + np.sin(np.radians(azimuth)) * knots
        found[n] = _march(z, rows, cols, CELL_M, float(z[row, col]), drop, CELL_M)
    return Truth(cells, np.degrees(np.arctan(found[:, 0])), found[:, 1])


def errors(swept: np.ndarray, truth: Truth) -> str:
    off = swept[truth.cells[:, 0], truth.cells[:, 1]] - truth.altitude_deg
    seen = np.isfinite(off) & (truth.away_m > 0)

    def spread(part: np.ndarray) -> str:
        q = np.percentile(np.abs(off[part]), [50, 95, 99, 100])
        return f"p50 {q[0]:.4f} p95 {q[1]:.4f} p99 {q[2]:.3f} worst {q[3]:.2f}"

    near, far = seen & (truth.away_m <= 300), seen & (truth.away_m > 300)
    return (
        f"all: {spread(seen)} | skyline within 300 m: {spread(near)} | beyond ({far.mean():.0%}): "
        f"{spread(far)} | too high by at most {off[seen].max():.3f}"
    )


def random_cells(z: np.ndarray, count: int) -> np.ndarray:
    rng = np.random.default_rng(11)
    return np.column_stack([rng.integers(2, n - 2, count) for n in z.shape])


class Timing(NamedTuple):
    """Least seconds of the work and of copying the raster, single and double precision."""

    work_s: float
    copy_single_s: float
    copy_double_s: float

    def __str__(self) -> str:
        return (
            f"{self.work_s:7.3f} s, {self.work_s / self.copy_double_s:5.0f} x copy in double "
            f"({1e3 * self.copy_double_s:.1f} ms), {self.work_s / self.copy_single_s:5.0f} x in "
            f"single ({1e3 * self.copy_single_s:.1f} ms)"
        )


def timed(work: Callable[[], object], z: np.ndarray, times: int) -> Timing:
    single, double = np.empty_like(z), z.astype(np.float64)
    target = np.empty_like(double)
    taken: list[list[float]] = [[], [], []]
    work()
    for _ in range(times):
        for slot, act in enumerate(
            (work, lambda: np.copyto(single, z), lambda: np.copyto(target, double))
        ):
            start = time.perf_counter()
            act()
            taken[slot].append(time.perf_counter() - start)
    return Timing(*(min(part) for part in taken))


def ours(z: np.ndarray, name: str, cells: np.ndarray, times: int) -> None:
    for place, (transform, crs) in PLACES.items():
        ground = Elevation.from_array(z, transform, crs)
        for azimuth in AZIMUTHS:
            truth = true_skyline(z, transform, crs, azimuth, cells)
            for detail in ("fine", "quick"):

                def sweep(
                    detail: Any = detail, azimuth: float = azimuth, ground: Elevation = ground
                ) -> Any:
                    return ground.horizon_map(
                        azimuth, eye_height_m=EYE_M, refraction_k=K, detail=detail
                    )

                print(f"  {name} {place} {azimuth:3.0f} {detail:5}  {timed(sweep, z, times)}")
                swept = sweep()
                print(f"      {errors(swept, truth)}")
                print(f"      {overlap(swept, truth)}")


def overlap(swept: np.ndarray, truth: Truth) -> str:
    """How alike are the cells above which a target clears the ground, by us and by the march."""
    here = swept[truth.cells[:, 0], truth.cells[:, 1]]
    seen = np.isfinite(here) & np.isfinite(truth.altitude_deg)
    parts = []
    for altitude in np.percentile(truth.altitude_deg[seen], [25, 50, 75]):
        mine, true = here[seen] < altitude, truth.altitude_deg[seen] < altitude
        parts.append(f"{altitude:.1f}: {(mine & true).sum() / (mine | true).sum():.4f}")
    return "cells clear at a target altitude, intersection over union, " + ", ".join(parts)


# Each peer is a program of its own: it reads z.npy, writes degrees to out.npy, prints seconds.
PEERS = {
    "topocalc": """
import numpy as np, time
from topocalc.horizon import horizon
z = np.load("z.npy").astype(np.float64)
azimuth = (180.0 - {azimuth} + 180.0) % 360.0 - 180.0
start = time.perf_counter()
cosine = horizon(azimuth, z, {cell_m})
taken = time.perf_counter() - start
np.save("out.npy", 90.0 - np.degrees(np.arccos(np.clip(cosine, -1, 1))))
print(taken)
""",
    "whitebox-workflows": """
import numpy as np, time, rasterio
from affine import Affine
import whitebox_workflows
z = np.load("z.npy")
with rasterio.open("z.tif", "w", driver="GTiff", height=z.shape[0], width=z.shape[1], count=1,
                   dtype="float32", crs="EPSG:32632", nodata=-32768.0,
                   transform=Affine({cell_m}, 0, 600000, 0, -{cell_m}, 5300000)) as file:
    file.write(z, 1)
tools = whitebox_workflows.WbEnvironment()
dem = tools.read_raster("z.tif")
start = time.perf_counter()
angle = tools.horizon_angle(dem, azimuth={azimuth}, max_dist=200000.0)
taken = time.perf_counter() - start
tools.write_raster(angle, "out.tif")
with rasterio.open("out.tif") as file:
    np.save("out.npy", file.read(1))
print(taken)
""",
}

GRASS = """
set -e
r.in.bin -f --quiet input=z.bin output=z bytes=4 rows={rows} cols={cols} \
  north={north} south=0 east={east} west={west} anull=-99999
g.region raster=z
start=$(date +%s.%N)
r.horizon -d --quiet elevation=z direction={mathematical} output=h
end=$(date +%s.%N)
r.out.bin -f --quiet input=$(g.list type=raster pattern='h_*') output=out.bin bytes=4
echo $start $end
"""


def run_peer(name: str, command: list[str], folder: Path, limit_s: float) -> str | None:
    """Run a program within its time; its last line, or None with the reason printed."""
    try:
        done = subprocess.run(
            command, cwd=folder, capture_output=True, text=True, timeout=limit_s, check=True
        )
    except subprocess.TimeoutExpired:
        print(f"  {name}: stopped after {limit_s:.0f} s")
        return None
    except (subprocess.CalledProcessError, OSError) as error:
        lines = (getattr(error, "stderr", "") or str(error)).strip().splitlines()
        told = [line for line in lines if "rror" in line] or lines or [str(error)]
        print(f"  {name}: skipped, {told[-1]}")
        return None
    return done.stdout.strip().splitlines()[-1]


def peers(z: np.ndarray, name: str, cells: np.ndarray, python: str, limit_s: float) -> None:
    truth = plane_skyline(z, PEER_AZIMUTH, cells)
    copy = timed(lambda: None, z, 5)
    for peer, program in PEERS.items():
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place)
            np.save(folder / "z.npy", z)
            code = program.format(azimuth=PEER_AZIMUTH, cell_m=CELL_M)
            out = run_peer(peer, [python, "-c", code], folder, limit_s)
            if out is not None:
                report(f"{name} {peer}", float(out), copy, np.load(folder / "out.npy"), truth)
    grass(z, name, plane_skyline(z, PEER_AZIMUTH, cells, curved=True), copy, limit_s)


def report(label: str, taken_s: float, copy: Timing, swept: np.ndarray, truth: Truth) -> None:
    print(f"  {label:28} {copy._replace(work_s=taken_s)}")
    print(f"      {errors(swept, truth)}")


def grass(z: np.ndarray, name: str, truth: Truth, copy: Timing, limit_s: float) -> None:
    program = shutil.which("grass")
    if program is None:
        print("  r.horizon: skipped, grass is not installed")
        return
    rows, cols = z.shape
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        z.astype("<f4").tofile(folder / "z.bin")
        script = GRASS.format(
            rows=rows,
            cols=cols,
            north=rows * CELL_M,
            west=500_000 - cols * CELL_M / 2,
            east=500_000 + cols * CELL_M / 2,
            mathematical=(90.0 - PEER_AZIMUTH) % 360.0,
        )
        (folder / "run.sh").write_text(script)
        # At the equator on the central meridian, where its true azimuths are the grid's.
        command = [program, "--tmp-location", "EPSG:32632", "--exec", "sh", "run.sh"]
        out = run_peer("r.horizon", command, folder, limit_s)
        if out is not None:
            start, end = map(float, out.split())
            swept = np.fromfile(folder / "out.bin", "<f4").reshape(z.shape)
            report(f"{name} r.horizon", end - start, copy, swept, truth)


def viewshed(z: np.ndarray, name: str, limit_s: float) -> None:
    """Time what one observer's area costs with a general tool, as an anchor."""
    if shutil.which("gdal_viewshed") is None:
        print("  gdal_viewshed: skipped, it is not installed")
        return
    import rasterio

    with tempfile.TemporaryDirectory() as place:
        folder, (transform, crs) = Path(place), PLACES["projected"]
        with rasterio.open(
            folder / "z.tif", "w", driver="GTiff", height=z.shape[0], width=z.shape[1], count=1,
            dtype="float32", crs=crs, transform=transform,
        ) as file:  # fmt: skip
            file.write(z, 1)
        x = transform.c + z.shape[1] * CELL_M / 2
        y = transform.f - z.shape[0] * CELL_M / 2
        command = ["gdal_viewshed", "-q", "-ox", str(x), "-oy", str(y), "-oz", "1.6"]
        command += ["-md", "0", "z.tif", "out.tif"]
        start = time.perf_counter()
        subprocess.run(command, cwd=folder, check=True, capture_output=True, timeout=limit_s)
        print(f"  {name}: gdal_viewshed, one observer, {time.perf_counter() - start:.2f} s")


GROWTH = """
import json, sys, time
sys.path.insert(0, {here!r})
import terrain
from backbearing.terrain import Elevation
z = terrain.fractal({size}, **terrain.GROUNDS["steep"])
transform, crs = terrain.PLACES["projected"]
small = Elevation.from_array(z[:200, :200].copy(), transform, crs)
small.horizon_map(200.0, detail="{detail}")
ground = Elevation.from_array(z, transform, crs)
terrain.clear_peak()
held = terrain.resident()
taken = []
for _ in range(3):
    start = time.perf_counter()
    ground.horizon_map(200.0, detail="{detail}")
    taken.append(time.perf_counter() - start)
print(json.dumps([min(taken), terrain.peak() - held]))
"""


def _status(key: str) -> float:
    """Memory of this process in MiB, as Linux states it; NaN elsewhere."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        return float("nan")
    return float(next(line.split()[1] for line in lines if line.startswith(key))) / 1024


def resident() -> float:
    return _status("VmRSS:")


def peak() -> float:
    return _status("VmHWM:")


def clear_peak() -> None:
    with Path("/proc/self/clear_refs").open("w") as file:
        file.write("5")


def growth(sizes: list[int]) -> None:
    for detail in ("fine", "quick"):
        for size in sizes:
            code = GROWTH.format(here=str(Path(__file__).parent), size=size, detail=detail)
            out = subprocess.run(
                [sys.executable, "-c", code], capture_output=True, text=True, check=True
            ).stdout
            taken, memory = json.loads(out.strip().splitlines()[-1])
            each = 1e9 * taken / size**2
            print(
                f"  {detail:5} {size:5} x {size:<5}  {taken:7.3f} s  {each:5.1f} ns a cell  "
                f"{memory:6.0f} MiB beyond the raster's {4 * size**2 / 2**20:.0f}"
            )


COLD = """
import time
start = time.perf_counter()
import numpy as np
from affine import Affine
from backbearing.terrain import Elevation
ground = Elevation.from_array(np.zeros((300, 300), np.float32),
                              Affine(30, 0, 600000, 0, -30, 5300000), "EPSG:32632")
loaded = time.perf_counter()
ground.horizon_map(200.0)
print(f"import {loaded - start:.2f} s, first map {time.perf_counter() - loaded:.2f} s")
"""


def cold() -> None:
    with tempfile.TemporaryDirectory() as cache:
        for label in ("nothing compiled yet", "compiled before"):
            env = {**os.environ, "NUMBA_CACHE_DIR": cache}
            out = subprocess.run(
                [sys.executable, "-c", COLD], env=env, capture_output=True, text=True, check=True
            ).stdout.strip()
            print(f"  {label}: {out}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--size", type=int, default=3601, help="cells to a side")
    parser.add_argument("--cells", type=int, default=4000, help="cells marched from")
    parser.add_argument("--times", type=int, default=7, help="repeats; the least counts")
    parser.add_argument(
        "--peers-python", default=sys.executable, help="a Python that has the peers"
    )
    parser.add_argument("--limit-s", type=float, default=600.0, help="time allowed to each peer")
    parser.add_argument(
        "--parts", nargs="+", default=["cold", "ours", "peers", "growth"], help="what to measure"
    )
    given = parser.parse_args()
    print(
        f"Python {platform.python_version()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}"
    )
    print(f"Eye height {EYE_M} m, refraction {K}, cells of {CELL_M:g} m; errors in degrees")
    if "cold" in given.parts:
        print("A new process:")
        cold()
    for name, kind in GROUNDS.items():
        if not {"ours", "peers"} & set(given.parts):
            break
        z = fractal(given.size, **kind)
        cells = random_cells(z, given.cells)
        print(f"{name}: {describe(z)}")
        if "ours" in given.parts:
            ours(z, name, cells, given.times)
        if "peers" in given.parts:
            print(
                "  Peers, from the ground itself, along grid azimuths, held to a march like that:"
            )
            peers(z, name, cells, given.peers_python, given.limit_s)
            viewshed(z, name, given.limit_s)
    if "growth" in given.parts:
        print("Growth, steep, beyond the raster and what is loaded:")
        growth([1024, 2048, 4096, 8192])
    print(f"Load at the end {os.getloadavg()[0]:.1f}; peak {peak_of_all():.0f} MiB")


def peak_of_all() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
