"""Invented grounds and outings for tests: a raster and an outing file, written and read."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from backbearing.outing.request import Outing

    Floats = np.ndarray[Any, np.dtype[np.float64]]

CAMERA = {
    "sensor_width_mm": 36.0,
    "sensor_height_mm": 24.0,
    "width_px": 6000,
    "height_px": 4000,
}


def write_ground(
    path: Path,
    height_m: Callable[[Floats, Floats], Any],
    *,
    lat: float,
    lon: float,
    half_m: float = 3000.0,
    cell_m: float = 30.0,
    void: Callable[[Floats, Floats], Any] | None = None,
) -> Path:
    """Write a raster in longitude and latitude about a point.

    ``height_m`` takes metres east and north of it and gives heights; ``void`` says where
    there are none.
    """
    import rasterio
    from affine import Affine

    step_lat = cell_m / 111_195.0
    step_lon = step_lat / math.cos(math.radians(lat))
    n = round(half_m / cell_m)
    east, north = np.meshgrid(np.arange(-n, n + 1) * cell_m, np.arange(n, -n - 1, -1) * cell_m)
    heights = np.asarray(height_m(east, north) + 0.0 * east, dtype=np.float32)
    if void is not None:
        heights = np.where(void(east, north), np.float32(-9999.0), heights)
    west, top = lon - (n + 0.5) * step_lon, lat + (n + 0.5) * step_lat
    with rasterio.open(
        path, "w", driver="GTiff", width=heights.shape[1], height=heights.shape[0], count=1,
        dtype="float32", crs="EPSG:4326", nodata=-9999.0,
        transform=Affine(step_lon, 0, west, 0, -step_lat, top),
    ) as out:  # fmt: skip
        out.write(heights.astype(np.float32), 1)
    return path


def flat(east: Floats, north: Floats) -> Floats:
    """Level ground at 100 m."""
    return np.asarray(100.0 + 0.0 * east)


def hill(top_m: float, wide_m: float) -> Callable[[Floats, Floats], Floats]:
    """A round hill about the middle, on level ground."""

    def height(east: Floats, north: Floats) -> Floats:
        return np.asarray(100.0 + top_m * np.exp(-(east**2 + north**2) / (2.0 * wide_m**2)))

    return height


def write_outing(
    folder: Path,
    *,
    lat: float,
    lon: float,
    evening: dt.date,
    ground: Callable[[Floats, Floats], Any] = flat,
    raster: Mapping[str, Any] | None = None,
    lenses: Sequence[Mapping[str, Any] | float] = (24.0,),
    **sections: Mapping[str, Any],
) -> Outing:
    """Write an outing and its raster to a folder and read it.

    ``sections`` are laid over what is written for each, such as ``night={"moon": "any"}``;
    ``raster`` goes to :func:`write_ground`.
    """
    from backbearing.outing.load import load_outing

    write_ground(folder / "ground.tif", ground, lat=lat, lon=lon, **(raster or {}))
    given: dict[str, dict[str, Any]] = {
        "ground": {"elevation": "ground.tif", "vertical_sigma_m": 2.0},
        "subject": {"name": "Old Mill", "lat": lat, "lon": lon, "height_m": 8.0, "width_m": 3.0},
        "night": {"evening": evening},
        "camera": CAMERA,
    }
    for name, keys in sections.items():
        given[name] = given.get(name, {}) | dict(keys)
    lines = ["format = 1", 'name = "Invented"']
    for name, keys in given.items():
        lines += [f"[{name}]", *(f"{key} = {toml(value)}" for key, value in keys.items())]
    for lens in lenses:
        own = {"focal_length_mm": lens} if isinstance(lens, float | int) else lens
        lines += ["[[lens]]", *(f"{key} = {toml(value)}" for key, value in own.items())]
    path = folder / "outing.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return load_outing(path)


def toml(value: Any) -> str:
    """Write one value as TOML does."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(toml(one) for one in value) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {toml(one)}" for key, one in value.items()) + " }"
    return repr(value)
