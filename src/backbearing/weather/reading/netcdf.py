"""Cloud from NetCDF, by xarray: names, units, packing and times as CF has them."""

from __future__ import annotations

import datetime as dt
import warnings
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.weather.forecast import TOTAL, CloudForecast
from backbearing.weather.reading.values import shares

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from backbearing.weather.reading.points import NearPoints

MOST_VALUES: Final = 50_000_000
"""Numbers of one variable that are read at once."""

LAYER_OF_STANDARD_NAME: Final = {
    "cloud_area_fraction": TOTAL,
    "low_type_cloud_area_fraction": "low",
    "medium_type_cloud_area_fraction": "middle",
    "high_type_cloud_area_fraction": "high",
}
"""CF's standard names."""

LAYER_OF_NAME: Final = {
    **dict.fromkeys(("tcc", "clt", "total_cloud_cover", "cloud_area_fraction"), TOTAL),
    **dict.fromkeys(("lcc", "low_cloud_cover", "low_type_cloud_area_fraction"), "low"),
    **dict.fromkeys(("mcc", "medium_cloud_cover", "middle_cloud_cover",
                     "medium_type_cloud_area_fraction"), "middle"),
    **dict.fromkeys(("hcc", "high_cloud_cover", "high_type_cloud_area_fraction"), "high"),
}  # fmt: skip
"""Names of variables in common use, where no standard name is given."""

HDF5, CLASSIC = b"\x89HDF", b"CDF"


def xarray_module() -> ModuleType:
    """Import xarray with the engine for NetCDF 4.

    Raises
    ------
    SkyError
        When one is not installed.
    """
    try:
        import h5netcdf  # noqa: F401
        import xarray as xr
    except ImportError as problem:
        raise SkyError(
            "Forecasts in NetCDF need the packages xarray and h5netcdf",
            hint="install them with `pip install 'backbearing[forecast]'`, or give CSV or GRIB",
            package="xarray",
        ) from problem
    return xr


def read_netcdf(path: Path, near: NearPoints) -> CloudForecast:
    """Read the variables of cloud cover, at the points that are near.

    Raises
    ------
    SkyError
        Without xarray, or for a file that is damaged, holds no cloud, or does not say where,
        when or in which unit.
    """
    xr = xarray_module()
    with path.open("rb") as start:
        engine = "h5netcdf" if start.read(4) == HDF5 else "scipy"
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with xr.open_dataset(path, engine=engine, decode_times=True) as data:
                return _read(data, path, near)
    except SkyError:
        raise
    except Exception as problem:  # the engines' errors share no class
        raise SkyError(
            f"{path.name} cannot be read as NetCDF ({str(problem)[:80]})".replace("\n", " "),
            hint="download it anew",
            file=str(path),
        ) from problem


def _read(data: Any, path: Path, near: NearPoints) -> CloudForecast:
    layers = _layers(data)
    if not layers:
        raise SkyError(
            f"{path.name} holds no variable of cloud cover",
            hint="give one with a standard_name such as low_type_cloud_area_fraction",
            file=str(path),
        )
    first = next(iter(layers.values()))
    lat, lon = (_coordinate(data, first, key, path) for key in ("latitude", "longitude"))
    when = _time(data, first, path)
    times = np.atleast_1d(when.values).astype("datetime64[us]")
    across = [d for d in (*lat.dims, *lon.dims) if d not in when.dims]
    across = list(dict.fromkeys(across))
    lats, lons = (
        np.meshgrid(lat.values, lon.values, indexing="ij") if lat.dims != lon.dims
         else (lat.values, lon.values)
    )  # fmt: skip
    lats, lons = (np.asarray(v, dtype=np.float64).ravel() for v in (lats, lons))
    at = near.of(lats, lons)
    if not at.size or not times.size:
        raise SkyError(f"{path.name} holds no points near the subject.", file=str(path))
    order = np.argsort(times, kind="stable")
    cover = {}
    for layer, variable in layers.items():
        values = _values(variable, when, across, at, path)
        unit = str(variable.attrs.get("units", ""))
        cover[layer] = shares(values, unit, f"{layer} cloud", path.name)[order]
    places = lats[at], (lons[at] + 180.0) % 360.0 - 180.0
    return CloudForecast(path.name, times[order], *places, cover, near.reach_m(*places), _run(data))


def _layers(data: Any) -> dict[str, Any]:
    """Variables by layer; a standard name goes before a name."""
    found: dict[str, Any] = {}
    for by_standard in (True, False):
        for name, variable in data.data_vars.items():
            if by_standard:
                layer = LAYER_OF_STANDARD_NAME.get(str(variable.attrs.get("standard_name", "")))
            else:
                layer = LAYER_OF_NAME.get(str(name).lower())
            if layer is not None:
                found.setdefault(layer, variable)
    return found


def _coordinate(data: Any, variable: Any, standard: str, path: Path) -> Any:
    """Latitude or longitude of a variable, by standard name or by name."""
    for name, one in variable.coords.items():
        if one.attrs.get("standard_name") == standard:
            return one
        if str(name).lower() in (standard, standard[:3]) and one.ndim:
            return one
    raise SkyError(
        f"{path.name} does not say where its cloud is ({standard})",
        hint="give coordinates of latitude and longitude, one or two dimensions each",
        file=str(path),
    )


def _time(data: Any, variable: Any, path: Path) -> Any:
    """When the values hold: one moment, or a dimension of moments."""
    moments = [
        one
        for one in variable.coords.values()
        if np.issubdtype(one.dtype, np.datetime64) and one.ndim <= 1
        and one.attrs.get("standard_name") != "forecast_reference_time"
    ]  # fmt: skip
    for wanted in ("valid_time", "time"):
        for one in moments:
            if one.name == wanted and (one.ndim or one.size == 1):
                return one
    if moments:
        return moments[0]
    raise SkyError(
        f"{path.name} does not say when its cloud is in CF's way",
        hint='give a coordinate of time with units such as "hours since 2027-06-05 00:00"',
        file=str(path),
    )


def _values(variable: Any, when: Any, across: list[Any], at: Any, path: Path) -> Any:
    """Numbers of shape (times, near points)."""
    other = [d for d in variable.dims if d not in (*when.dims, *across)]
    wide = [d for d in other if variable.sizes[d] != 1]
    if wide:
        raise SkyError(
            f"{path.name}: cloud has a dimension {str(wide[0])[:40]!r} besides time and place",
            hint="cut out one level or member",
            file=str(path),
        )
    flat = variable.squeeze(other, drop=True).transpose(*when.dims, *across)
    if flat.size > MOST_VALUES:
        raise SkyError(
            f"{path.name} holds {flat.size:,} values of cloud",
            hint="cut out the land about the subject",
            file=str(path),
        )
    count = flat.sizes[when.dims[0]] if when.dims else 1
    return np.asarray(flat.values, dtype=np.float64).reshape(count, -1)[:, at]


def _run(data: Any) -> dt.datetime | None:
    """When the forecast was begun, where a coordinate says so."""
    for one in data.variables.values():
        reference = one.attrs.get("standard_name") == "forecast_reference_time"
        if reference and np.issubdtype(one.dtype, np.datetime64) and one.size:
            earliest = np.min(one.values).astype("datetime64[us]").item()
            return earliest.replace(tzinfo=dt.UTC) if earliest is not None else None
    return None
