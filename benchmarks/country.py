"""Write a country that does not exist: ground in tiles, candidates on it, and an outing.

``python benchmarks/country.py FOLDER`` writes 100 GeoTIFF tiles of 2,048 x 2,048 cells of 30 m
(20,480 x 20,480 together), 1,000,000 candidates as CSV and an ``outing.toml``. It lies in the
open Atlantic, where nobody will look for it. Everything follows from the seed and from places
alone: a tile written by itself has the same heights, tiles meet without a seam, and a larger
country begins with the same ground. One tile and 20,000 candidates are held at a time.

A small one: ``--tiles 2 --tile-cells 512 --block 256 --candidates 500 --formats csv geojson``.
"""

from __future__ import annotations

import argparse
import resource
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from country_candidates import FORMATS, Scattering, write_candidates

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float32]

CRS: Final = "EPSG:32624"
WEST_M, NORTH_M, CELL_M = 200_000.0, 4_300_000.0, 30.0
NO_HEIGHT: Final = -32768

RIDGES: Final = ((256, 800.0), (128, 420.0), (64, 220.0))
"""Cells from crest to crest and metres from crest to valley, of ridges that have edges."""

HILLS: Final = ((32, 110.0), (16, 50.0), (8, 20.0), (4, 9.0), (2, 5.0))
"""The same of what is round."""

SPECKLE_M: Final = 3.0
"""What a radar's heights are off from cell to cell, at most."""


@dataclass(frozen=True)
class Country:
    """Ground of ``tiles`` by ``tiles`` files of ``tile_cells`` by ``tile_cells`` cells.

    ``block`` is the side of the squares that a file is packed in, cells.
    """

    tiles: int = 10
    tile_cells: int = 2048
    block: int = 512
    seed: int = 7

    @property
    def side_cells(self) -> int:
        """Cells along the whole."""
        return self.tiles * self.tile_cells

    @property
    def middle(self) -> tuple[float, float]:
        """Latitude and longitude of its middle, degrees."""
        from pyproj import Transformer

        half = self.side_cells * CELL_M / 2.0
        way = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)
        lon, lat = way.transform(WEST_M + half, NORTH_M - half)
        return lat, lon


def _shuffled(row: NDArray[np.int64], col: NDArray[np.int64], salt: int) -> Floats:
    """A number from -1 to 1 for each place of a lattice, by splitmix64's finisher."""
    with np.errstate(over="ignore"):
        x = row.astype(np.uint64)[:, None] * np.uint64(0x9E3779B97F4A7C15)
        x = x + col.astype(np.uint64)[None, :] * np.uint64(0xD1B54A32D192ED03)
        x = x + np.uint64(salt) * np.uint64(0x8CB92BA72F3D8DD7)
        for shift, factor in ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB)):
            x = (x ^ (x >> np.uint64(shift))) * np.uint64(factor)
        x = x ^ (x >> np.uint64(31))
    return (x >> np.uint64(40)).astype(np.float32) / np.float32(2**23) - np.float32(1.0)


def _weights(first: int, count: int, spacing: int) -> tuple[NDArray[np.int64], Floats]:
    """Lattice rows that cells lean on, and by how much: uniform cubic B-splines."""
    place = (first + np.arange(count) + 0.5) / spacing
    low = np.floor(place).astype(np.int64)
    f = place - low
    parts = ((1 - f) ** 3, 3 * f**3 - 6 * f**2 + 4, -3 * f**3 + 3 * f**2 + 3 * f + 1, f**3)
    lattice = np.arange(low[0] - 1, low[-1] + 3)
    out = np.zeros((count, len(lattice)), dtype=np.float32)
    for k, part in enumerate(parts):
        out[np.arange(count), low - low[0] + k] = part / 6.0
    return lattice, out


def _waves(row0: int, col0: int, cells: int, spacing: int, salt: int) -> Floats:
    """Smooth noise of one size over a square of cells, about -1 to 1."""
    rows, down = _weights(row0, cells, spacing)
    cols, across = _weights(col0, cells, spacing)
    return np.asarray(2.0 * (down @ _shuffled(rows, cols, salt) @ across.T), dtype=np.float32)


def heights_m(row0: int, col0: int, cells: int, seed: int = 7) -> Floats:
    """Heights of a square of cells, whole metres from some 50 to 3,000, shape (cells, cells)."""
    salt = 1_000 * seed
    mass = _waves(row0, col0, cells, 1024, salt)
    mass = np.clip(0.5 + 0.8 * mass, 0.0, 1.0)
    heights = 350.0 + 900.0 * mass
    for k, (spacing, high_m) in enumerate(RIDGES, start=1):
        crest = 1.0 - 2.0 * np.abs(_waves(row0, col0, cells, spacing, salt + k))
        heights += high_m * (0.15 + 0.85 * mass) * crest
    # Valley floors: what is deep fills up, but for its hills.
    heights = np.where(heights < 320.0, 320.0 + 0.2 * (heights - 320.0), heights)
    for k, (spacing, high_m) in enumerate(HILLS, start=10):
        heights += high_m * (0.2 + 0.8 * mass) * _waves(row0, col0, cells, spacing, salt + k)
    own = _shuffled(row0 + np.arange(cells), col0 + np.arange(cells), salt + 99)
    return np.asarray(np.rint(heights + SPECKLE_M * own), dtype=np.float32)


def write_ground(country: Country, folder: Path) -> Iterator[Path]:
    """Write the tiles one by one, each given as it is done."""
    import rasterio
    from affine import Affine

    folder.mkdir(parents=True, exist_ok=True)
    n = country.tile_cells
    for down in range(country.tiles):
        for across in range(country.tiles):
            row0, col0 = down * n, across * n
            profile = {
                "driver": "GTiff", "width": n, "height": n, "count": 1, "dtype": "int16",
                "nodata": NO_HEIGHT, "crs": CRS, "tiled": True, "blockxsize": country.block,
                "blockysize": country.block, "compress": "deflate", "predictor": 2,
                "transform": Affine(
                    CELL_M, 0.0, WEST_M + col0 * CELL_M, 0.0, -CELL_M, NORTH_M - row0 * CELL_M
                ),
            }  # fmt: skip
            file = folder / f"ground_{down:02d}_{across:02d}.tif"
            with rasterio.open(file, "w", **profile) as data:
                data.write(heights_m(row0, col0, n, country.seed).astype(np.int16), 1)
            yield file


OUTING: Final = """\
# A country that does not exist, in the open Atlantic: ground, things and numbers are invented.
format = 1
name = "A country for measuring"

[ground]
elevation = "ground"
product = "srtm"

[subject]
name = "The middle of the country (invented)"
lat = {lat:.5f}
lon = {lon:.5f}
height_m = 7.0
width_m = 6.0

[target]
name = "core"

[night]
evening = 2027-06-04
sun_below_deg = -18.0
moon = "down"
clear_by_deg = 1.0

[camera]
sensor_width_mm = 36.0
sensor_height_mm = 24.0
width_px = 6000
height_px = 4000
orientation = "landscape"
accepted_trail_px = 3.0

[framing]
share = 0.36
base_margin = 0.08
edge_margin = 0.05
eye_height_m = 1.4
{lenses}
[scouting]
candidates = "{candidates}"
first_night = 2027-04-10
nights = {nights}
"""


def write_outing(
    country: Country, folder: Path, candidates: str, nights: int, lenses_mm: list[float]
) -> Path:
    """Write the outing that joins ground and candidates."""
    lat, lon = country.middle
    lenses = "".join(
        f"\n[[lens]]\nfocal_length_mm = {mm}\nf_number = 2.0\n" + "share = 0.24\n" * (mm < 20.0)
        for mm in lenses_mm
    )
    file = folder / "outing.toml"
    text = OUTING.format(lat=lat, lon=lon, lenses=lenses, candidates=candidates, nights=nights)
    file.write_text(text, encoding="utf-8")
    return file


def _used() -> str:
    used = resource.getrusage(resource.RUSAGE_SELF)
    cpu_s = used.ru_utime + used.ru_stime
    return f"{cpu_s:.0f} s of processor, peak {used.ru_maxrss / 1024:.0f} MB"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--tiles", type=int, default=10, help="files down, and as many across")
    parser.add_argument("--tile-cells", type=int, default=2048, help="cells along a file")
    parser.add_argument(
        "--block", type=int, default=512, help="256 or 512 cells of a file's squares"
    )
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--candidates", type=int, default=1_000_000)
    parser.add_argument("--formats", nargs="*", default=["csv"], choices=sorted(FORMATS))
    parser.add_argument("--nights", type=int, default=30)
    parser.add_argument("--lenses", type=float, nargs="*", default=[16.0, 24.0, 40.0, 85.0])
    parser.add_argument("--roads", type=int, default=0, help="OSM only: roads of 100 nodes each")
    parser.add_argument("--no-ground", action="store_true", help="candidates and outing alone")
    given = parser.parse_args()
    country = Country(given.tiles, given.tile_cells, given.block, given.seed)
    given.folder.mkdir(parents=True, exist_ok=True)
    if not given.no_ground:
        files = list(write_ground(country, given.folder / "ground"))
        size_mb = sum(file.stat().st_size for file in files) / 1e6
        side = country.side_cells
        print(f"{len(files)} tiles, {side:,} x {side:,} cells, {size_mb:.0f} MB ({_used()})")
    scattering = Scattering(
        given.candidates, country.side_cells, CELL_M, WEST_M, NORTH_M, CRS, given.seed, given.roads
    )
    name = "candidates.csv"
    for kind in given.formats:
        file = write_candidates(scattering, given.folder, kind)
        name = file.name
        size_mb = file.stat().st_size / 1e6
        print(f"{file.name}: {given.candidates:,} candidates, {size_mb:.1f} MB ({_used()})")
    file = write_outing(country, given.folder, name, given.nights, given.lenses)
    print(f"Now: backbearing scout {file}")


if __name__ == "__main__":
    main()
