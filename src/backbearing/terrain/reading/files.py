"""One elevation file: one explicit driver per suffix, limits first, windows only."""

from __future__ import annotations

import warnings
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.errors import Setting, TerrainError
from backbearing.base.input_files import check_readable, is_missing
from backbearing.base.numbers import num
from backbearing.terrain.grid import Grid
from backbearing.terrain.reading.ascii_grid import AS_DOUBLES, check_cells
from backbearing.terrain.reading.sources import WATER_LEVEL_M, check_plausible, find_voids
from backbearing.terrain.reading.units import metres_per_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from numpy.typing import NDArray
    from pyproj import CRS

    from backbearing.terrain.grid import Pixels
    from backbearing.terrain.reading.sources import Heights

DRIVERS = {
    ".tif": "GTiff",
    ".tiff": "GTiff",
    ".hgt": "SRTMHGT",
    ".dt0": "DTED",
    ".dt1": "DTED",
    ".dt2": "DTED",
    ".asc": "AAIGrid",
    ".vrt": "VRT",
}
"""The one GDAL driver that may open each suffix, so that no file poses as another."""

MOST_CELLS = 100_000_000_000
"""Cells beyond which a header is taken for damage or malice."""

MOST_FILE_BYTES = 10**12
"""A file larger than a terabyte is no file of heights that anybody holds."""

MOST_BYTES_PER_BLOCK = 256 * 2**20
"""Largest piece of a file that must be unpacked at once, bytes."""

CACHE_MB = 64
"""What GDAL may keep of unpacked blocks, megabytes."""


SEA_TAG = "OPEN_WATER_VALUE"
"""Key under which a file says itself which number stands for open water."""


@dataclass(frozen=True)
class ReadingOptions:
    """How to understand an elevation file, where the file itself is silent."""

    vertical_unit: str | None = None
    voids: tuple[float, ...] = ()
    crs: Any = None
    band: int | None = None
    sea_value: float | None = None
    missing_tile_is_sea: bool = False
    allow_vrt: bool = False


@dataclass(frozen=True)
class FileSource:
    """Heights in one file, read by the window."""

    path: Path
    driver: str
    grid: Grid
    band: int
    unit: str
    metres_per_unit: float
    scale: float
    offset: float
    nodata: float | None
    options: ReadingOptions = field(repr=False)
    tags: Mapping[str, str] = field(repr=False)
    block_cols: int = 1

    @property
    def name(self) -> str:
        """The path, as given."""
        return str(self.path)

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell that a lone file has no tiles to miss."""
        return np.ones(np.shape(pixels.row), dtype=np.bool_)

    def read(self, rows: slice, cols: slice) -> Heights:
        """Read a window in metres.

        Raises
        ------
        TerrainError
            When the file cannot be read there, or holds heights that no land has.
        """
        from rasterio.windows import Window

        window = Window(cols.start, rows.start, cols.stop - cols.start, rows.stop - rows.start)
        with opened(self.path, self.driver) as data:
            raw = data.read(self.band, window=window)
            hidden = _masked(data, self.band, window)
        declared = (*(() if self.nodata is None else (self.nodata,)), *self.options.voids)
        void = find_voids(raw, declared, self.options.sea_value, self.name)
        keep_raw = self.options.sea_value is not None
        heights: NDArray[np.float32] = raw.astype(np.float32, copy=keep_raw)
        if self.scale != 1.0 or self.offset != 0.0 or self.metres_per_unit != 1.0:
            factor = np.float32(self.scale * self.metres_per_unit)
            heights = heights * factor + np.float32(self.offset * self.metres_per_unit)
        heights[void | hidden] = np.nan
        heights += np.float32(0.0)
        if self.options.sea_value is not None:
            heights[raw == self.options.sea_value] = WATER_LEVEL_M
        check_plausible(heights, self.name)
        return heights


def _masked(data: Any, band: int, window: Any) -> NDArray[np.bool_]:
    """Cells that the file's own mask or alpha band leaves out."""
    from rasterio.enums import MaskFlags

    flags = data.mask_flag_enums[band - 1]
    if MaskFlags.per_dataset not in flags and MaskFlags.alpha not in flags:
        return np.zeros((), dtype=np.bool_)
    out: NDArray[np.bool_] = data.read_masks(band, window=window) == 0
    return out


@contextmanager
def opened(path: Path, driver: str) -> Iterator[Any]:
    """Open a file with one driver only, and turn every failure into one sentence."""
    import rasterio
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    try:
        with (
            rasterio.Env(GDAL_CACHEMAX=CACHE_MB),
            warnings.catch_warnings(),
        ):
            warnings.simplefilter("ignore", NotGeoreferencedWarning)
            how = AS_DOUBLES if driver == "AAIGrid" else {}
            with rasterio.open(path, driver=driver, **how) as data:
                yield data
    except Exception as cause:
        # Some of GDAL's own errors come through in classes of rasterio's that share no base, and
        # names in a file's keys need not be text.
        of_rasterio = type(cause).__module__.startswith("rasterio")
        if not of_rasterio and not isinstance(cause, RasterioError | UnicodeDecodeError):
            raise
        raise TerrainError(
            f"{path} cannot be read as {driver}, which is what its suffix says; it may be damaged, "
            "cut short or another kind of file.",
            path=str(path),
        ) from cause


def open_file(path: Path, options: ReadingOptions) -> FileSource:
    """Open one elevation file and settle what its numbers mean; reads no heights.

    Raises
    ------
    TerrainError
        For a missing file, an unknown suffix, a file that is not what its suffix says,
        one without place or CRS, or too large to be true.
    """
    driver = _driver_for(path, options)
    with opened(path, driver) as data:
        if driver == "AAIGrid":
            check_cells(path)
        check_size(data, path)
        band = _band(data, path, options.band)
        _check_heights(data, path, band)
        crs = _crs(data.crs, path, options)
        if data.transform.is_identity:
            raise TerrainError(
                f"{path} says nowhere where it lies on the Earth (no geotransform)",
                hint="georeference it first",
                path=str(path),
            )
        unit, metres = metres_per_unit(
            asked=options.vertical_unit,
            stated=data.units[band - 1],
            crs=crs,
            name=str(path),
        )
        return FileSource(
            path=path,
            driver=driver,
            grid=Grid((data.height, data.width), data.transform, crs.to_2d()),
            band=band,
            unit=unit,
            metres_per_unit=metres,
            scale=float(data.scales[band - 1]),
            offset=float(data.offsets[band - 1]),
            nodata=data.nodatavals[band - 1],
            options=_with_own_sea(options, data.tags()),
            tags={**data.tags(), **data.tags(band)},
            block_cols=int(data.block_shapes[band - 1][1]),
        )


def _with_own_sea(options: ReadingOptions, tags: Mapping[str, str]) -> ReadingOptions:
    """Take the file's own mark of open water where the user names none."""
    if options.sea_value is not None or SEA_TAG not in tags:
        return options
    try:
        return replace(options, sea_value=float(tags[SEA_TAG]))
    except ValueError:
        return options


def _driver_for(path: Path, options: ReadingOptions) -> str:
    driver = DRIVERS.get(path.suffix.lower())
    if driver is None:
        raise TerrainError(
            f"{path} has the suffix {path.suffix or '(none)'!r}; elevation files end in "
            f"{', '.join(sorted(DRIVERS))}.",
            path=str(path),
        )
    if driver == "VRT" and not options.allow_vrt:
        raise TerrainError(
            f"{path} is a VRT, which may read any other file on this machine",
            hint="if you made it yourself pass allow_vrt=True",
            path=str(path),
        )
    if is_missing(path):
        raise TerrainError(f"{path} does not exist", hint="write the path of an elevation file")
    check_readable(
        path, "elevation", largest_bytes=MOST_FILE_BYTES, error=TerrainError, path=str(path)
    )
    return driver


def check_size(data: Any, path: Path | str) -> None:
    """Refuse a header that claims more cells, or a larger block, than can be unpacked."""
    cells = data.height * data.width
    block_rows, block_cols = data.block_shapes[0]
    block = block_rows * block_cols * np.dtype(data.dtypes[0]).itemsize
    if cells > MOST_CELLS:
        raise TerrainError(
            f"{path} claims {data.height:,} x {data.width:,} cells, more than can be true of an "
            "elevation file read here",
            hint="cut out the part you need",
            path=str(path),
        )
    if block > MOST_BYTES_PER_BLOCK:
        raise TerrainError(
            f"{path} is stored in blocks of {block_rows:,} x {block_cols:,} cells, too large to "
            "unpack",
            hint="rewrite it with tiles of 512 x 512",
            path=str(path),
        )


def _band(data: Any, path: Path, asked: int | None) -> int:
    if asked is None and data.count != 1:
        raise TerrainError(
            f"{path} has {data.count} bands, as pictures do",
            hint=(
                "give a raster of heights, or ",
                Setting("band", stands_for="the number of the one that holds them"),
            ),
            path=str(path),
        )
    band = 1 if asked is None else asked
    if not 1 <= band <= data.count:
        raise TerrainError(f"{path} has no band {band}; it has {data.count}.", path=str(path))
    if np.issubdtype(np.dtype(data.dtypes[band - 1]), np.complexfloating):
        raise TerrainError(
            f"{path} holds complex numbers, not heights",
            hint="give a raster of heights in metres or feet",
            path=str(path),
        )
    return band


def _check_heights(data: Any, path: Path, band: int) -> None:
    """Refuse what is stored like a raster of heights and is none."""
    from rasterio.enums import ColorInterp

    kind = ""
    if data.tags(band, ns="IMAGE_STRUCTURE").get("NBITS") == "1":
        kind = "a mask of one bit"
    elif data.colorinterp[band - 1] == ColorInterp.palette:
        kind = "numbers of colours in a palette"
    elif not np.isfinite(data.scales[band - 1]) or data.scales[band - 1] == 0.0:
        kind = f"heights scaled by {num(data.scales[band - 1])}"
    elif not np.isfinite(data.offsets[band - 1]):
        kind = f"heights offset by {num(data.offsets[band - 1])}"
    if kind:
        raise TerrainError(
            f"{path} holds {kind}, not heights",
            hint="give a raster of heights in metres or feet",
            path=str(path),
        )


def _crs(found: Any, path: Path, options: ReadingOptions) -> CRS:
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    given = None
    if options.crs is not None:
        try:
            given = CRS.from_user_input(options.crs)
        except CRSError as cause:
            raise TerrainError(
                f"crs {options.crs!r} is not a reference system",
                hint="write one such as 'EPSG:4326'",
            ) from cause
    if not found:
        if given is None:
            raise TerrainError(
                f"{path} names no coordinate reference system",
                hint=(
                    "set one in the file, or pass crs= such as 'EPSG:4326' (latitude and "
                    "longitude) or 'EPSG:32616' (UTM)"
                ),
                path=str(path),
            )
        return given
    own = CRS.from_wkt(found.to_wkt())
    _check_on_earth(own, path)
    if given is not None and not own.to_2d().equals(given.to_2d(), ignore_axis_order=True):
        raise TerrainError(
            f"{path} is in {own.name}, and crs= says {given.name}",
            hint="leave crs out, or mend the file",
            path=str(path),
        )
    return own


EARTH_AXES_M = (6_350_000.0, 6_400_000.0)
"""Semi-major axes of every ellipsoid of the Earth in use lie well within; no other body's do."""


def _check_on_earth(crs: CRS, path: Path) -> None:
    body = crs.ellipsoid
    if body is None:
        raise TerrainError(
            f"{path} is in {crs.name}, a system that is tied to no place on the Earth",
            hint="georeference it first",
            path=str(path),
        )
    if not EARTH_AXES_M[0] <= body.semi_major_metre <= EARTH_AXES_M[1]:
        raise TerrainError(
            f"{path} is in {crs.name}, a system of another body than the Earth",
            hint="give a raster of the Earth",
            path=str(path),
        )
