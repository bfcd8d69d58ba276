"""Ask the raster for a skyline: settle the eye, trace the rays, look along them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from backbearing.base import asked
from backbearing.base.errors import OutsideRasterError, TerrainError, VoidGroundError
from backbearing.base.geodesy import drop_per_m2
from backbearing.base.numbers import num
from backbearing.terrain.horizon import Horizon
from backbearing.terrain.reading.sources import Ground
from backbearing.terrain.skyline.grazing import keep_on_raster
from backbearing.terrain.skyline.march import compiled_pays
from backbearing.terrain.skyline.raster_tiles import look_along
from backbearing.terrain.skyline.ray_bundle import Bundle
from backbearing.terrain.skyline.rays import Rays, farthest_m, refuse_poles, trace_rays
from backbearing.terrain.surface import look

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.grid import Grid
    from backbearing.terrain.reading.sources import Source
    from backbearing.terrain.skyline.sight_fits import SightFits
    from backbearing.terrain.skyline.sightings import Sightings

    Floats = NDArray[np.float64]

NEAREST_M = 1e-3
"""Ground nearer than this is taken as the tripod's own foot."""

AGREE_M = 0.01
"""How far a measured ground may lie below the raster's before the two contradict."""

FARTHEST_M = 1_000_000.0
"""Distance beyond which the parabola of curvature is no longer worth its name."""


LIMITS = {
    "lat": (-90.0, 90.0),
    "lon": (-360.0, 360.0),
    "eye_height_m": (0.0, 100_000.0),
    "max_distance_m": (1.0, FARTHEST_M),
    "refraction_k": (-1.0, 0.99),
    "min_distance_m": (0.0, FARTHEST_M),
    "ground_m": (-12_000.0, 9_000.0),
    "highest_ground_m": (-12_000.0, 9_000.0),
}
"""Between which numbers each part of a question must lie."""


def refuse_number(name: str, value: float, low: float, high: float) -> NoReturn:
    """Raise for a number outside its limits."""
    raise TerrainError(
        f"{name} is {value:g}",
        hint=f"write a number between {low:g} and {high:g}",
        key=name,
        value=value,
    )


@dataclass(frozen=True)
class Question:
    """What :meth:`Elevation.horizon` was asked."""

    lat: float
    lon: float
    eye_height_m: float
    azimuths_deg: ArrayLike
    max_distance_m: float
    refraction_k: float
    min_distance_m: float
    ground_m: float | None
    highest_ground_m: float | None
    above_deg: ArrayLike | None = None

    def __post_init__(self) -> None:
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                refuse_number(name, value, low, high)
        if self.min_distance_m >= self.max_distance_m:
            raise TerrainError(
                f"min_distance_m ({self.min_distance_m:g}) leaves nothing before max_distance_m "
                f"({self.max_distance_m:g})",
                hint="make it smaller",
                key="min_distance_m",
            )


def find_skyline(source: Source, chunks: Chunks, fits: SightFits, question: Question) -> Horizon:
    """Answer a question; see :meth:`Elevation.horizon`."""
    azimuths = asked.numbers(question.azimuths_deg, "azimuths_deg", TerrainError)
    if azimuths.ndim > 1 or azimuths.size == 0 or not np.isfinite(azimuths).all():
        raise TerrainError(
            "azimuths_deg must be a list of finite degrees from true north.", key="azimuths_deg"
        )
    azimuths = np.mod(np.atleast_1d(azimuths), 360.0)
    grid = source.grid
    ground, raster_m = _ground_at_eye(source, chunks, question)
    rays = _trace(grid, fits, question, azimuths)
    keep_on_raster(rays.rows, rays.cols, grid.shape)
    start = max(question.min_distance_m, NEAREST_M)
    if question.min_distance_m == 0.0 and not ground >= raster_m - AGREE_M:
        start = grid.cell_size_m
    ends = np.minimum(rays.edge_m(grid.shape), question.max_distance_m)
    bundle = Bundle.from_one_eye(
        rays,
        start_m=start,
        ends_m=ends,
        eye_m=ground + question.eye_height_m,
        drop=drop_per_m2(question.refraction_k),
        cell_m=max(grid.steps_m),
    )
    chunks.cells_crossed += bundle.cells_crossed()
    compiled = compiled_pays(chunks.cells_crossed)
    above = None
    if question.above_deg is not None:
        above = np.broadcast_to(np.asarray(question.above_deg, dtype=np.float64), azimuths.shape)
    seen, highest = look_along(chunks, bundle, grid.shape, compiled=compiled, above_deg=above)
    return _horizon(question, azimuths, bundle, seen, ground, float(highest.max()))


def _trace(grid: Grid, fits: SightFits, question: Question, azimuths: Floats) -> Rays:
    lat, lon = question.lat, question.lon
    refuse_poles(np.array([lat]))
    eye = grid.pixels(lat=lat, lon=lon)
    tile = fits.tile(float(eye.row), float(eye.col), question.max_distance_m)
    if tile is not None:
        return tile.rays((float(eye.row), float(eye.col)), np.radians(azimuths))
    reach = min(question.max_distance_m, farthest_m(grid, lat=lat, lon=lon))
    return trace_rays(grid, lat=lat, lon=lon, azimuths_deg=azimuths, reach_m=reach)


def _ground_at_eye(source: Source, chunks: Chunks, question: Question) -> tuple[float, float]:
    """Ground height under the eye as it counts, and as the raster has it (NaN if unknown)."""
    lat, lon = question.lat, question.lon
    heights, states = look(source, chunks, source.grid.pixels(lat=lat, lon=lon))
    state = Ground(int(states))
    where = f"{num(lat, 5)}, {num(lon, 5)}"
    if state is Ground.OUTSIDE:
        south, west, north, east = source.grid.bounds
        raise OutsideRasterError(
            f"The eye at lat {where} lies outside the raster {source.name}, which spans lat "
            f"{south:.5f} to {north:.5f} and lon {west:.5f} to {east:.5f} less half a cell",
            hint="choose a place inside, or add the neighbouring tile",
            lat=lat,
            lon=lon,
        )
    if question.ground_m is not None:
        return question.ground_m, float(heights)
    if state is not Ground.KNOWN:
        what = {
            Ground.VOID: "a void",
            Ground.MISSING_TILE: "a missing tile",
            Ground.SEA: "open water",
        }[state]
        raise VoidGroundError(
            f"The eye at lat {where} stands on {what} of {source.name}",
            hint="give the ground's height yourself (ground_m), or choose another place",
            lat=lat,
            lon=lon,
            state=state.name,
        )
    return float(heights), float(heights)


def _horizon(
    question: Question,
    azimuths: Floats,
    bundle: Bundle,
    seen: Sightings,
    ground: float,
    highest: float,
) -> Horizon:
    start = float(bundle.starts_m[0])
    if question.highest_ground_m is not None:
        highest = question.highest_ground_m
    none = np.isneginf(seen.tangent)
    return Horizon(
        lat=question.lat,
        lon=question.lon,
        eye_height_m=question.eye_height_m,
        eye_ground_m=ground,
        refraction_k=question.refraction_k,
        min_distance_m=start if start > NEAREST_M else 0.0,
        max_distance_m=question.max_distance_m,
        highest_ground_m=highest,
        azimuths_deg=azimuths,
        altitudes_deg=np.where(none, np.nan, np.degrees(np.arctan(seen.tangent))),
        distances_m=seen.distance_m,
        unknown_share=seen.unknown_share(start, bundle.ends_m),
        unknown_from_m=np.where(np.isinf(seen.unknown_from_m), np.nan, seen.unknown_from_m),
        reach_m=bundle.ends_m,
    )
