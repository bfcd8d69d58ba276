"""Open a forecast file, whatever it is; no request is ever made."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import SkyError
from backbearing.base.input_files import check_readable
from backbearing.weather.reading.apart import read_apart
from backbearing.weather.reading.netcdf import CLASSIC, HDF5
from backbearing.weather.reading.points import WITHIN_M, NearPoints
from backbearing.weather.reading.table import read_table

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.weather.forecast import CloudForecast

LARGEST_BYTES: Final = 2_000_000_000

TABLES: Final = (".csv", ".json")


def read_forecast(
    path: Path, *, lat: float, lon: float, within_m: float = WITHIN_M
) -> CloudForecast:
    """Read a forecast of cloud about a place: NetCDF, GRIB, CSV or JSON.

    Parameters
    ----------
    path : Path
        A table by its suffix, else by its first bytes.
    lat, lon : float
        WGS84 degrees; a table's rows without a place are of this one.
    within_m : float
        Points of a grid farther away are left out.

    Raises
    ------
    SkyError
        In one sentence, what cannot be read or believed.
    """
    check_readable(path, "cloud", largest_bytes=LARGEST_BYTES, error=SkyError)
    stamp = path.stat()
    return _read(path, stamp.st_mtime_ns, stamp.st_size, lat, lon, within_m)


@lru_cache(maxsize=4)
def _read(
    path: Path, changed_ns: int, size: int, lat: float, lon: float, within_m: float
) -> CloudForecast:
    """Read a file once for as long as it stays as it is."""
    del changed_ns, size
    if path.suffix.lower() in TABLES:
        return read_table(path, lat=lat, lon=lon)
    with path.open("rb") as data:
        begins = data.read(4)
    near = NearPoints(lat, lon, within_m)
    if begins == HDF5 or begins[:3] == CLASSIC:
        return read_apart(path, near, "netcdf")
    if begins == b"GRIB" or path.suffix.lower() in (".grib", ".grib2", ".grb", ".grb2"):
        return read_apart(path, near, "grib")
    raise SkyError(
        f"{path.name} is no forecast of cloud",
        hint="give NetCDF, GRIB, or a .csv or .json as docs/cloud.md has it",
        file=str(path),
    )
