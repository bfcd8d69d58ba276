"""What trees cost: skylines of the bare ground and of the tops, CPU seconds, in one run.

Run it as ``python benchmarks/cover_cost.py``; it makes its own ground.
"""

from __future__ import annotations

import resource
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import rasterio
from affine import Affine

from backbearing.terrain.cover.opening import with_cover
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

CELL_M, SIDE = 30.0, 1_600
PLACE = Affine(CELL_M, 0.0, 500_000.0, 0.0, -CELL_M, 5_300_000.0)
CRS = "EPSG:32633"


def land() -> np.ndarray:
    """Hills of several sizes, the same in every run."""
    rng = np.random.default_rng(7)
    y, x = np.mgrid[0:SIDE, 0:SIDE] * CELL_M
    heights = np.full((SIDE, SIDE), 300.0)
    for wave_m, high_m in ((9_000.0, 250.0), (2_500.0, 80.0), (700.0, 20.0)):
        for _ in range(4):
            angle, phase = rng.uniform(0.0, 2.0 * np.pi, 2)
            along = (x * np.cos(angle) + y * np.sin(angle)) / wave_m
            heights += high_m * np.sin(2.0 * np.pi * along + phase) / 4.0
    return heights.astype(np.float32)


def cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def timed(ask: Callable[[Elevation], object], ground: Elevation) -> float:
    """Least CPU seconds of six runs, all by the march in plain numpy.

    A raster goes over to the compiled march after so many cells; a fresh one has not yet.
    """
    ask(ground)
    found = []
    for _ in range(6):
        start = cpu_s()
        ask(ground)
        found.append(cpu_s() - start)
    return min(found)


def main() -> None:
    rng = np.random.default_rng(11)
    blocks = (rng.random((SIDE // 20, SIDE // 20)) < 0.4).astype(np.float32)
    trees = np.kron(blocks, np.ones((20, 20), np.float32)) * 22.0
    heights = land()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "trees.tif"
        with rasterio.open(
            file, "w", driver="GTiff", height=SIDE, width=SIDE, count=1, dtype="float32", crs=CRS,
            transform=PLACE,
        ) as out:  # fmt: skip
            out.write(trees, 1)

        def grounds() -> tuple[Elevation, Elevation]:
            bare, under = (Elevation.from_array(heights, PLACE, CRS) for _ in range(2))
            return bare, with_cover(under, canopy=file)

        bare, covered = grounds()
        middle = bare.grid.places(row=SIDE / 2, col=SIDE / 2)
        lat, lon = float(middle.lat), float(middle.lon)
        start = cpu_s()
        _ = covered.tops.height_at(lat=lat, lon=lon)  # type: ignore[attr-defined]
        print(f"cover brought to {SIDE} x {SIDE} cells: {cpu_s() - start:.2f} s CPU, once")
        eyes = bare.grid.places(row=rng.uniform(600, 1_000, 400), col=rng.uniform(600, 1_000, 400))

        def fan(ground: Elevation) -> object:
            return ground.horizon(lat=lat, lon=lon, max_distance_m=20_000.0)

        def many(ground: Elevation) -> object:
            return ground.skylines(
                lat=eyes.lat, lon=eyes.lon, azimuths_deg=170.0, max_distance_m=20_000.0,
                to_the_last_bit=False,
            )  # fmt: skip

        for name, ask in (("360 rays from one eye", fan), ("a ray from 400 eyes", many)):
            rounds = [[timed(ask, ground) for ground in grounds()] for _ in range(3)]
            alone, both = np.min(rounds, axis=0)
            print(
                f"{name}: bare {1e3 * alone:.1f} ms, with the tops {1e3 * both:.1f} ms CPU, "
                f"ratio {both / alone:.2f}"
            )


if __name__ == "__main__":
    main()
