"""Ask the raster for a skyline: settle the eye, trace the rays, look along them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.errors import OutsideRasterError, TerrainError, VoidGroundError
from backbearing.geodesy import MEAN_EARTH_RADIUS_M
from backbearing.terrain.horizon import Horizon
from backbearing.terrain.march import (
    Sight,
    Sightings,
    cells_crossed,
    compiled_pays,
    march,
    march_compiled,
)
from backbearing.terrain.pieces import pieces_met
from backbearing.terrain.rays import Rays, farthest_m, trace_rays
from backbearing.terrain.sources import Ground
from backbearing.terrain.surface import look

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.chunks import Chunks
    from backbearing.terrain.sources import Source

    Floats = NDArray[np.float64]

NEAREST_M = 1e-3
"""Ground nearer than this is taken as the tripod's own foot."""

AGREE_M = 0.01
"""How far a measured ground may lie below the raster's before the two contradict."""

FARTHEST_M = 1_000_000.0
"""Distance beyond which the parabola of curvature is no longer worth its name."""


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

    def __post_init__(self) -> None:
        limits = {
            "lat": (-90.0, 90.0),
            "lon": (-360.0, 360.0),
            "eye_height_m": (0.0, 100_000.0),
            "max_distance_m": (1.0, FARTHEST_M),
            "refraction_k": (-1.0, 0.99),
            "min_distance_m": (0.0, FARTHEST_M),
            "ground_m": (-12_000.0, 9_000.0),
            "highest_ground_m": (-12_000.0, 9_000.0),
        }
        for name, (low, high) in limits.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise TerrainError(
                    f"{name} is {value:g}; write a number between {low:g} and {high:g}.",
                    key=name,
                    value=value,
                )
        if self.min_distance_m >= self.max_distance_m:
            raise TerrainError(
                f"min_distance_m ({self.min_distance_m:g}) leaves nothing before max_distance_m "
                f"({self.max_distance_m:g}); make it smaller.",
                key="min_distance_m",
            )


def find_skyline(source: Source, chunks: Chunks, question: Question) -> Horizon:
    """Answer a question; see :meth:`Elevation.horizon`."""
    azimuths = np.array(question.azimuths_deg, dtype=np.float64)
    if azimuths.ndim > 1 or azimuths.size == 0 or not np.isfinite(azimuths).all():
        raise TerrainError(
            "azimuths_deg must be a list of finite degrees from true north.", key="azimuths_deg"
        )
    azimuths = np.mod(np.atleast_1d(azimuths), 360.0)
    grid, lat, lon = source.grid, question.lat, question.lon
    ground, raster_m = _ground_at_eye(source, chunks, question)
    reach = min(question.max_distance_m, farthest_m(grid, lat=lat, lon=lon))
    rays = trace_rays(grid, lat=lat, lon=lon, azimuths_deg=azimuths, reach_m=reach)
    start = max(question.min_distance_m, NEAREST_M)
    if question.min_distance_m == 0.0 and not ground >= raster_m - AGREE_M:
        start = grid.cell_size_m
    ends = rays.edge_m(grid.shape)
    sight = Sight(
        eye_m=ground + question.eye_height_m,
        drop_per_m2=(1.0 - question.refraction_k) / (2.0 * MEAN_EARTH_RADIUS_M),
        nodes_m=rays.nodes_m(start, max(start, float(ends.max())), max(grid.steps_m)),
        ends_m=ends,
    )
    seen, highest = _look_along(chunks, rays, sight, grid.shape)
    if question.highest_ground_m is not None:
        highest = question.highest_ground_m
    return _horizon(question, azimuths, sight, seen, ground, highest, start)


def _look_along(
    chunks: Chunks, rays: Rays, sight: Sight, shape: tuple[int, int]
) -> tuple[Sightings, float]:
    """Look along all rays over every piece they cross; also its highest ground."""
    chunks.cells_crossed += cells_crossed(rays, sight)
    look_over = march_compiled if compiled_pays(chunks.cells_crossed) else march
    seen, highest = Sightings.none_yet(len(rays.rows)), -math.inf
    for piece, crossing, nearest in pieces_met(chunks, rays, sight, shape):
        ceiling = chunks.ceiling_m(*piece)
        if ceiling < math.inf:
            highest = max(highest, ceiling)
            if _stays_below(ceiling, sight, nearest, seen.tangent[crossing]):
                continue
        chunk = chunks.at(*piece)
        look_over(chunk, rays, sight, seen)
        highest = max(highest, chunk.highest_m)
    return seen, highest


def _stays_below(ceiling_m: float, sight: Sight, nearest_m: float, tangent: Floats) -> bool:
    """Tell that ground no higher than a ceiling stays below all the skylines from there on."""
    rise = ceiling_m - sight.eye_m
    s = nearest_m if rise >= 0.0 else max(nearest_m, math.sqrt(-rise / sight.drop_per_m2))
    return bool(rise / s - sight.drop_per_m2 * s <= tangent.min())


def _ground_at_eye(source: Source, chunks: Chunks, question: Question) -> tuple[float, float]:
    """Ground height under the eye as it counts, and as the raster has it (NaN if unknown)."""
    lat, lon = question.lat, question.lon
    heights, states = look(source, chunks, source.grid.pixels(lat=lat, lon=lon))
    state = Ground(int(states))
    where = f"{lat:.5f}, {lon:.5f}"
    if state is Ground.OUTSIDE:
        south, west, north, east = source.grid.bounds
        raise OutsideRasterError(
            f"The eye at lat {where} lies outside the raster {source.name}, which spans lat "
            f"{south:.5f} to {north:.5f} and lon {west:.5f} to {east:.5f} less half a cell; choose "
            "a place inside, or add the neighbouring tile.",
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
            f"The eye at lat {where} stands on {what} of {source.name}; give the ground's height "
            "yourself (ground_m), or choose another place.",
            lat=lat,
            lon=lon,
            state=state.name,
        )
    return float(heights), float(heights)


def _horizon(
    question: Question,
    azimuths: Floats,
    sight: Sight,
    seen: Sightings,
    ground: float,
    highest: float,
    start: float,
) -> Horizon:
    none = np.isneginf(seen.tangent)
    length = np.maximum(sight.ends_m - start, 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(length > 0.0, np.minimum(seen.unknown_m / length, 1.0), 1.0)
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
        unknown_share=share,
        unknown_from_m=np.where(np.isinf(seen.unknown_from_m), np.nan, seen.unknown_from_m),
        reach_m=sight.ends_m,
    )
