"""Cloud from GRIB, by eccodes: the library of the service that maintains the format's tables.

Each message says its own parameter, unit, level and times, and eccodes knows those of the great
services by one set of names; GDAL's driver calls some of them unknown.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.weather.forecast import TOTAL, CloudForecast
from backbearing.weather.reading.values import shares

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

    from numpy.typing import NDArray

    from backbearing.weather.reading.points import NearPoints

MOST_MESSAGES: Final = 5_000
MOST_POINTS: Final = 20_000_000

LAYER_OF_NAME: Final = {"tcc": TOTAL, "lcc": "low", "mcc": "middle", "hcc": "high"}
"""By eccodes' short names."""

LAYER_OF_NUMBER: Final = {
    1: TOTAL,
    3: "low",
    4: "middle",
    5: "high",
    192: TOTAL,
    193: "low",
    194: "middle",
    195: "high",
}
"""By parameter number of category 6 (cloud) of discipline 0 (meteorology), GRIB edition 2, code
table 4.2 of WMO-No. 306; from 192 on as one centre numbers its own (from memory)."""

LEVELS: Final = (
    *("surface", "entireAtmosphere", "atmosphere", "atmosphereSingleLayer", "unknown"),
    *("lowCloudLayer", "middleCloudLayer", "highCloudLayer", "nominalTop"),
)
"""Kinds of level whose cloud is that of a whole layer, and not of one pressure."""


def eccodes_module() -> ModuleType:
    """Import eccodes.

    Raises
    ------
    SkyError
        When it is not installed.
    """
    try:
        import eccodes
    except (ImportError, RuntimeError, OSError) as problem:
        raise SkyError(
            "Forecasts in GRIB need the package eccodes",
            hint="install it with `pip install 'backbearing[forecast]'`, or give CSV or NetCDF",
            package="eccodes",
        ) from problem
    return eccodes  # type: ignore[no-any-return]


@dataclass
class _Found:
    """What the messages hold so far: values by layer and time, and the grid's near points."""

    near: NearPoints
    grid: str = ""
    at: NDArray[np.intp] | None = None
    lat: Any = None
    lon: Any = None
    values: dict[tuple[str, dt.datetime], NDArray[np.float32]] = field(default_factory=dict)
    instant: dict[tuple[str, dt.datetime], bool] = field(default_factory=dict)
    runs: set[dt.datetime] = field(default_factory=set)


def read_grib(path: Path, near: NearPoints) -> CloudForecast:
    """Read every message of cloud cover in a file, at the points that are near.

    Raises
    ------
    SkyError
        Without eccodes, or for a file that is damaged, holds no cloud, or mixes grids.
    """
    eccodes = eccodes_module()
    found = _Found(near)
    try:
        with path.open("rb") as data:
            for count in range(MOST_MESSAGES + 1):
                message = eccodes.codes_grib_new_from_file(data)
                if message is None:
                    break
                if count == MOST_MESSAGES:
                    raise SkyError(
                        f"{path.name} holds more than {MOST_MESSAGES:,} messages",
                        hint="cut out cloud cover alone",
                        file=str(path),
                    )
                try:
                    _take(eccodes, message, found, path)
                finally:
                    eccodes.codes_release(message)
    except eccodes.CodesInternalError as problem:
        raise SkyError(
            f"{path.name} is damaged or no GRIB ({str(problem)[:80]})",
            hint="download it anew",
            file=str(path),
        ) from problem
    if not found.values:
        raise SkyError(
            f"{path.name} holds no message of cloud cover for here",
            hint="ask its service for low, middle and high cloud cover about the subject",
            file=str(path),
        )
    times = sorted({when for _, when in found.values})
    cover = {}
    for layer in sorted({layer for layer, _ in found.values}):
        unknown = np.full(len(found.lat), np.nan, dtype=np.float32)
        cover[layer] = np.stack([found.values.get((layer, when), unknown) for when in times])
    moments = np.array([t.replace(tzinfo=None) for t in times], dtype="datetime64[us]")
    return CloudForecast(
        path.name, moments, found.lat, found.lon, cover, near.reach_m(found.lat, found.lon),
        min(found.runs) if found.runs else None,
    )  # fmt: skip


def _take(eccodes: Any, message: Any, found: _Found, path: Path) -> None:
    """Take one message, if it is of cloud and no better one of its time is there."""

    def key(name: str, default: Any = "") -> Any:
        return (
            eccodes.codes_get(message, name) if eccodes.codes_is_defined(message, name) else default
        )

    layer = LAYER_OF_NAME.get(str(key("shortName")))
    if layer is None and (key("discipline", -1), key("parameterCategory", -1)) == (0, 6):
        layer = LAYER_OF_NUMBER.get(int(key("parameterNumber", -1)))
    if layer is None or str(key("typeOfLevel", "unknown")) not in LEVELS:
        return
    when = _moment(int(key("validityDate", 0)), int(key("validityTime", 0)), path)
    instant = str(key("stepType", "instant")) == "instant"
    at = (layer, when)
    if at in found.values and (found.instant[at] or not instant):
        return
    if int(key("numberOfPoints", 0)) > MOST_POINTS:
        raise SkyError(f"{path.name} has a grid of too many points.", file=str(path))
    grid = str(key("md5GridSection", "")) or str(key("numberOfPoints"))
    if found.at is None:
        lat = np.asarray(eccodes.codes_get_array(message, "latitudes"), dtype=np.float64)
        lon = np.asarray(eccodes.codes_get_array(message, "longitudes"), dtype=np.float64)
        found.at, found.grid = found.near.of(lat, lon), grid
        found.lat, found.lon = lat[found.at], (lon[found.at] + 180.0) % 360.0 - 180.0
    if grid != found.grid:
        raise SkyError(
            f"{path.name} holds cloud on two grids", hint="cut out one of them", file=str(path)
        )
    if not len(found.at):
        return
    values = np.asarray(eccodes.codes_get_array(message, "values"), dtype=np.float64)
    if values.size <= int(found.at.max()):
        raise SkyError(
            f"{path.name} is damaged: a message has fewer values than points",
            hint="download it anew",
            file=str(path),
        )
    values = values[found.at]
    values[values == float(key("missingValue", np.nan))] = np.nan
    found.values[at] = shares(values, str(key("units")), f"{layer} cloud", path.name)
    found.instant[at] = instant
    found.runs.add(_moment(int(key("dataDate", 0)), int(key("dataTime", 0)), path))


def _moment(date: int, clock: int, path: Path) -> dt.datetime:
    """Make a time of ``yyyymmdd`` and ``hhmm``, UTC."""
    try:
        return dt.datetime(
            date // 10000, date // 100 % 100, date % 100, clock // 100, clock % 100, tzinfo=dt.UTC
        )
    except ValueError as problem:
        raise SkyError(f"{path.name} holds a time that is none ({date} {clock}).") from problem
