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


def write_trees(file: Path, cell_m: float, side: int, seed: int) -> Path:
    """Woods of 22 m on two fifths of a square about the middle, in blocks of 600 m."""
    rng = np.random.default_rng(seed)
    block = round(600.0 / cell_m)
    blocks = (rng.random((-(-side // block),) * 2) < 0.4).astype(np.uint8)
    trees = np.kron(blocks, np.ones((block, block), np.uint8))[:side, :side] * np.uint8(22)
    corner = (SIDE * CELL_M - side * cell_m) / 2.0
    place = PLACE @ Affine.translation(corner / CELL_M, corner / CELL_M)
    with rasterio.open(
        file, "w", driver="GTiff", height=side, width=side, count=1, dtype="uint8", crs=CRS,
        transform=place @ Affine.scale(cell_m / CELL_M), nodata=255, tiled=True, compress="deflate",
    ) as out:  # fmt: skip
        out.write(trees, 1)
    return file


def main() -> None:
    heights = land()
    with tempfile.TemporaryDirectory() as folder:
        for cell_m, side in ((CELL_M, SIDE), (10.0, 2_000), (3.0, 4_000), (1.0, 6_000)):
            file = write_trees(Path(folder) / f"trees_{side}.tif", cell_m, side, seed=11)
            print(f"canopy of {cell_m:g} m on ground of {CELL_M:g} m")
            compare(heights, file)


def compare(heights: np.ndarray, file: Path) -> None:
    """Print what one canopy costs: a fan, eyes about one place and eyes far and wide."""

    def grounds() -> tuple[Elevation, Elevation]:
        bare, under = (Elevation.from_array(heights, PLACE, CRS) for _ in range(2))
        return bare, with_cover(under, canopy=file)

    bare, covered = grounds()
    middle = bare.grid.places(row=SIDE / 2, col=SIDE / 2)
    lat, lon = float(middle.lat), float(middle.lon)
    start = cpu_s()
    _ = covered.horizon(lat=lat, lon=lon, azimuths_deg=[170.0])
    print(f"  cover brought to {SIDE} x {SIDE} cells and an eye: {cpu_s() - start:.2f} s CPU, once")
    rng = np.random.default_rng(5)

    def eyes(cells: float) -> dict[str, np.ndarray]:
        at = SIDE / 2 + rng.uniform(-cells, cells, (2, 400))
        places = bare.grid.places(row=at[0], col=at[1])
        return {"lat": places.lat, "lon": places.lon}

    about, wide = eyes(4.0), eyes(100.0)

    def fan(ground: Elevation) -> object:
        return ground.horizon(lat=lat, lon=lon, max_distance_m=20_000.0)

    def many(ground: Elevation, from_where: dict[str, np.ndarray]) -> object:
        return ground.skylines(
            **from_where, azimuths_deg=170.0, max_distance_m=20_000.0, to_the_last_bit=False
        )

    for name, ask in (
        ("360 rays from one eye", fan),
        ("a ray from 400 eyes within 120 m", lambda ground: many(ground, about)),
        ("a ray from 400 eyes within 3 km", lambda ground: many(ground, wide)),
    ):
        rounds = [[timed(ask, ground) for ground in grounds()] for _ in range(3)]
        alone, both = np.min(rounds, axis=0)
        print(
            f"  {name}: bare {1e3 * alone:.1f} ms, with cover {1e3 * both:.1f} ms CPU, "
            f"ratio {both / alone:.2f}"
        )


if __name__ == "__main__":
    main()
