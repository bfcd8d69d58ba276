"""Rasters that are no heights, and ASCII grids that are not what they seem."""

from __future__ import annotations

import os
import struct
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
import rasterio
from pyproj import CRS
from rasterio.transform import from_origin

from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from collections.abc import Callable

    Refused = Callable[..., str]

HEADER = "ncols 3\nnrows 2\nxllcorner 500000\nyllcorner 4000000\ncellsize 30\nNODATA_value -9999\n"
UTM = CRS.from_epsg(32616)


def grid(folder: Path, text: str) -> Path:
    path = folder / "it.asc"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    (folder / "it.prj").write_text(UTM.to_wkt("WKT1_ESRI"))
    return path


@pytest.mark.parametrize(
    "cell",
    ["1,234", "1.234,5", "4oo", "400m", "NODATA", "NAN", "-", "+", ".", "1e", "1.2.3", "--4",
     "0x1F", "∞", "1e9999", "inf", "-inf", "NaN1", "1_000", "１２", "None",
     "#N/A", "1/2", "12'", "1;2"],
)  # fmt: skip
@pytest.mark.parametrize("place", [(0, 0), (0, 2), (1, 1)], ids=["first", "end of row", "inside"])
def test_a_cell_that_is_no_number_is_named_by_line_and_column(
    tmp_path: Path, refused: Refused, cell: str, place: tuple[int, int]
) -> None:
    rows = [["12", "13", "14"], ["15", "16", "17"]]
    rows[place[0]][place[1]] = cell
    text = HEADER + "\n".join(" ".join(row) for row in rows) + "\n"
    said = refused("elevation", grid(tmp_path, text))
    line = text.split("\n")[6 + place[0]].encode()
    column = line.index(cell.encode()) + 1
    assert f"line {7 + place[0]}, column {column}" in said


@pytest.mark.parametrize("void", ["nan", "NaN", "-9999", "-9999.0"])
def test_voids_by_name_and_by_mark_are_voids(tmp_path: Path, void: str) -> None:
    path = grid(tmp_path, f"{HEADER}1 2 {void}\n4 5 6\n")
    heights = Elevation.open(path).window_m(slice(0, 2), slice(0, 3))
    assert np.isnan(heights).tolist() == [[False, False, True], [False, False, False]]


def test_cells_are_looked_at_across_pieces(tmp_path: Path, monkeypatch: Any) -> None:
    # Every size of piece must give the same line and column.
    from backbearing.base.errors import TerrainError
    from backbearing.terrain.reading import ascii_grid

    path = grid(tmp_path, f"{HEADER}123 4567 89\n12 3x45 6\n")
    for size in range(len(HEADER), len(HEADER) + 30):
        monkeypatch.setattr(ascii_grid, "PIECE_BYTES", size)
        os.utime(path, ns=(size * 10**9, size * 10**9))
        with pytest.raises(TerrainError, match=r"line 8, column 4: the cell '3x45'"):
            ascii_grid.check_cells(path)


def raster(path: Path, **how: Any) -> Any:
    usual = {
        "driver": "GTiff",
        "height": 40,
        "width": 40,
        "count": 1,
        "dtype": "float32",
        "crs": "EPSG:4326",
        "transform": from_origin(149.0, -30.0, 1 / 1200, 1 / 1200),
    }
    return rasterio.open(path, "w", **{**usual, **how})


def palette(path: Path) -> None:
    with raster(path, dtype="uint8") as file:
        file.write(np.ones((1, 40, 40), np.uint8))
        file.write_colormap(1, {0: (0, 0, 0, 255), 1: (90, 120, 60, 255)})


def one_bit(path: Path) -> None:
    with raster(path, dtype="uint8", nbits=1) as file:
        file.write(np.ones((1, 40, 40), np.uint8))


def scaled(scale: float, offset: float = 0.0) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        with raster(path) as file:
            file.write(np.ones((1, 40, 40), np.float32))
            file.scales, file.offsets = (scale,), (offset,)

    return make


def of_type(dtype: str) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        with raster(path, dtype=dtype) as file:
            file.write(np.ones((1, 40, 40), dtype))

    return make


def bands(count: int) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        with raster(path, count=count) as file:
            file.write(np.ones((count, 40, 40), np.float32))

    return make


def on(crs: Any) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        with raster(path, crs=crs) as file:
            file.write(np.ones((1, 40, 40), np.float32))

    return make


def of_bytes(data: bytes) -> Callable[[Path], None]:
    return lambda path: path.write_bytes(data) and None


def cut(path: Path) -> None:
    bands(1)(path)
    path.write_bytes(path.read_bytes()[:3000])


MOON = "+proj=longlat +R=1737400 +no_defs"
MARS = "+proj=longlat +a=3396190 +b=3376200 +no_defs"
NO_HEIGHTS = {
    "palette": (palette, "palette"),
    "one bit": (one_bit, "one bit"),
    "scale 0": (scaled(0.0), "scaled by 0"),
    "scale inf": (scaled(float("inf")), "scaled by"),
    "scale nan": (scaled(float("nan")), "scaled by"),
    "offset nan": (scaled(1.0, float("nan")), "offset by"),
    "complex": (of_type("complex64"), "complex"),
    "complex doubles": (of_type("complex128"), "complex"),
    "three bands": (bands(3), "3 bands"),
    "two bands": (bands(2), "2 bands"),
    "the Moon": (on(MOON), "another body"),
    "Mars": (on(MARS), "another body"),
    "no system": (on(None), "reference system"),
    "rubbish": (of_bytes(b"nothing here" * 100), "cannot be read"),
    "a picture": (of_bytes(b"\x89PNG\r\n\x1a\n" + bytes(200)), "cannot be read"),
    "a page": (of_bytes(b"<html><body>404</body></html>"), "cannot be read"),
    "only a header": (of_bytes(b"II*\x00" + struct.pack("<I", 8)), "cannot be read"),
    "a loop of directories": (
        of_bytes(b"II*\x00" + struct.pack("<IHI", 8, 0, 8)), "cannot be read"
    ),
    "cut short": (cut, ""),
}  # fmt: skip


@pytest.mark.parametrize("name", NO_HEIGHTS)
@pytest.mark.filterwarnings("ignore")
def test_what_holds_no_heights_is_refused(tmp_path: Path, refused: Refused, name: str) -> None:
    make, words = NO_HEIGHTS[name]
    path = tmp_path / "it.tif"
    make(path)
    assert words in refused("elevation", path)


def test_a_band_may_be_chosen(tmp_path: Path) -> None:
    bands(3)(tmp_path / "it.tif")
    assert Elevation.open(tmp_path / "it.tif", band=2).height_at(
        lat=-30.01, lon=149.01
    ) == pytest.approx(1.0)


@pytest.mark.parametrize("suffix", [".hgt", ".dt1", ".tif", ".asc", ".vrt", ".xyz", ""])
@pytest.mark.parametrize(
    "data", [b"\x00", b"\xff" * 999, b"UHL1" + b"0" * 76, b"ncols 99999999999\nnrows 9999999999\n"],
    ids=["nul", "ff", "uhl", "ncols"],
)  # fmt: skip
def test_a_few_bytes_of_anything_are_refused(
    tmp_path: Path, refused: Refused, suffix: str, data: bytes
) -> None:
    path = tmp_path / f"N36W085{suffix}"
    path.write_bytes(data)
    refused("elevation", path)


FINDS = sorted((Path(__file__).parent / "finds").glob("*.tif"))


@pytest.mark.parametrize("find", FINDS, ids=lambda path: path.stem)
def test_what_fuzzing_found_stays_mended(refused: Refused, find: Path) -> None:
    # Errors of GDAL's outside rasterio's own family, and names of keys that are no text.
    assert "cannot be read as GTiff" in refused("elevation", find)
