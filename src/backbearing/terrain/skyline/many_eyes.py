"""Ask the raster for many skylines, one ray from each of many eyes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import drop_per_m2
from backbearing.terrain.grid import Pixels
from backbearing.terrain.reading.sources import Ground
from backbearing.terrain.skyline.grazing import keep_on_raster
from backbearing.terrain.skyline.march import compiled_pays
from backbearing.terrain.skyline.one_eye import AGREE_M, LIMITS, NEAREST_M, refuse_number
from backbearing.terrain.skyline.raster_tiles import look_along
from backbearing.terrain.skyline.ray_bundle import Bundle
from backbearing.terrain.skyline.rays import edges_m, refuse_poles
from backbearing.terrain.skyline.sight_fits import trace_each_ray
from backbearing.terrain.skylines import Skylines
from backbearing.terrain.surface import look

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.reading.sources import Source
    from backbearing.terrain.skyline.sight_fits import SightFits

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

BATCH: Final = 50_000
"""Rays worked on at a time, to bound memory."""

AT_THE_EYE: Final = (
    "lat", "lon", "azimuths_deg", "eye_height_m", "min_distance_m", "max_distance_m",
    "ground_m", "highest_ground_m", "above_deg",
)  # fmt: skip
"""What may differ from ray to ray."""

FOUND: Final = (
    "eye_ground_m", "altitudes_deg", "distances_m", "unknown_share", "unknown_from_m",
    "reach_m", "highest_ground_m", "min_distance_m",
)  # fmt: skip
"""What is found, or settled, for each ray."""


@dataclass(frozen=True)
class Asking:
    """What all rays of a question share; ``compiled`` is None where either way will do."""

    source: Source
    chunks: Chunks
    fits: SightFits
    refraction_k: float
    compiled: bool | None


def find_skylines(asking: Asking, asked: dict[str, ArrayLike]) -> Skylines:
    """Answer for each ray; see :meth:`Elevation.skylines`."""
    each = _each_ray(asked)
    _check(each, asking.refraction_k)
    n = len(each["lat"])
    found = {name: np.full(n, np.nan) for name in FOUND}
    found["unknown_share"][:], found["reach_m"][:] = 1.0, 0.0
    found["min_distance_m"][:] = each["min_distance_m"]
    found["highest_ground_m"][:] = each["highest_ground_m"]
    for first in range(0, n, BATCH):
        some = slice(first, first + BATCH)
        batch = {name: values[some] for name, values in each.items()}
        _look_from(asking, batch, {name: values[some] for name, values in found.items()})
    return Skylines(
        lat=each["lat"],
        lon=each["lon"],
        azimuths_deg=np.mod(each["azimuths_deg"], 360.0),
        eye_height_m=each["eye_height_m"],
        max_distance_m=each["max_distance_m"],
        refraction_k=asking.refraction_k,
        marked=None,
        **found,
    )


def _each_ray(asked: dict[str, ArrayLike]) -> dict[str, Floats]:
    """Broadcast what was asked to one number a ray, float64 of shape (n,)."""
    try:
        arrays = np.broadcast_arrays(
            *(np.asarray(asked[name], dtype=np.float64) for name in AT_THE_EYE)
        )
    except ValueError as problem:
        raise TerrainError(
            "lat, lon, azimuths_deg and the heights and distances of skylines do not fit together",
            hint="give each as one number, or as one number a ray",
        ) from problem
    return {name: np.array(values).ravel() for name, values in zip(AT_THE_EYE, arrays, strict=True)}


def _check(each: dict[str, Floats], refraction_k: float) -> None:
    for name, (low, high) in LIMITS.items():
        values = np.array([refraction_k]) if name == "refraction_k" else each[name]
        may_lack = name in ("lat", "lon", "ground_m", "highest_ground_m")
        wrong = ~((values >= low) & (values <= high)) & ~(may_lack & np.isnan(values))
        if wrong.any():
            refuse_number(name, float(values[wrong][0]), low, high)
    if np.isinf(each["azimuths_deg"]).any():
        raise TerrainError(
            "azimuths_deg must be finite degrees from true north, or NaN for no ray.",
            key="azimuths_deg",
        )
    if (each["min_distance_m"] >= each["max_distance_m"]).any():
        raise TerrainError(
            "min_distance_m leaves nothing before max_distance_m on some ray",
            hint="make it smaller",
            key="min_distance_m",
        )
    refuse_poles(each["lat"])


def _look_from(asking: Asking, each: dict[str, Floats], found: dict[str, Floats]) -> None:
    """Look along a batch of rays, and write what is seen into ``found``."""
    grid, chunks = asking.source.grid, asking.chunks
    pixels = grid.pixels(lat=each["lat"], lon=each["lon"])
    ground, raster_m, known = _ground_at_eyes(asking.source, chunks, pixels, each)
    if not known.size:
        return
    each = {name: values[known] for name, values in each.items()}
    places = Pixels(pixels.row[known], pixels.col[known])
    compiled = compiled_pays(chunks.cells_crossed) if asking.compiled is None else asking.compiled
    lines = trace_each_ray(grid, asking.fits, places, each, compiled=compiled)
    keep_on_raster(lines.rows, lines.cols, grid.shape)
    below = (each["min_distance_m"] == 0.0) & ~(ground >= raster_m - AGREE_M)
    starts = np.where(below, grid.cell_size_m, np.maximum(each["min_distance_m"], NEAREST_M))
    ends = np.minimum(edges_m(*lines, grid.shape), each["max_distance_m"])
    eyes = ground + each["eye_height_m"]
    drop = drop_per_m2(asking.refraction_k)
    bundle = Bundle(*lines, starts, ends, eyes, drop, max(grid.steps_m))
    chunks.cells_crossed += bundle.cells_crossed()
    compiled = compiled_pays(chunks.cells_crossed) if asking.compiled is None else asking.compiled
    seen, highest = look_along(
        chunks, bundle, grid.shape, compiled=compiled, above_deg=each["above_deg"]
    )
    none, asked = np.isneginf(seen.tangent), ~np.isnan(each["highest_ground_m"])
    for name, values in (
        ("eye_ground_m", ground),
        ("altitudes_deg", np.where(none, np.nan, np.degrees(np.arctan(seen.tangent)))),
        ("distances_m", seen.distance_m),
        ("unknown_share", seen.unknown_share(starts, ends)),
        ("unknown_from_m", np.where(np.isinf(seen.unknown_from_m), np.nan, seen.unknown_from_m)),
        ("reach_m", ends),
        ("min_distance_m", np.where(starts > NEAREST_M, starts, 0.0)),
        ("highest_ground_m", np.where(asked, each["highest_ground_m"], highest)),
    ):
        found[name][known] = values


def _ground_at_eyes(
    source: Source, chunks: Chunks, pixels: Pixels, each: dict[str, Floats]
) -> tuple[Floats, Floats, Ints]:
    """Ground under the eyes as it counts and as the raster has it, and which eyes have some."""
    heights, state = look(source, chunks, pixels)
    given = ~np.isnan(each["ground_m"])
    stands = (state == Ground.KNOWN) | (given & (state != Ground.OUTSIDE))
    known = np.flatnonzero(stands & np.isfinite(each["azimuths_deg"]))
    return np.where(given, each["ground_m"], heights)[known], heights[known], known
