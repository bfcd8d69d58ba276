"""The base of the map: relief near and far, and contours at three scales."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.geodesy import metres_per_degree
from backbearing.drawing.arcs import reach_m
from backbearing.drawing.contours import Contours, contour, height_labels, packed
from backbearing.drawing.home import Home
from backbearing.drawing.mercator import Box, MercatorGrid, mercator_grid, softened
from backbearing.drawing.relief import Picture, relief_picture

if TYPE_CHECKING:
    from backbearing.drawing.mercator import Floats
    from backbearing.plan.plan import Plan
    from backbearing.terrain.elevation import Elevation

NEAR_M = 1600.0
"""Half the side of the square in which contours follow the raster exactly."""

CLOSE_M = 300.0
"""Half the side of the square with the finest contours."""

LARGEST_KM = 60.0
"""A raster no larger than this is drawn whole; of a larger one, what the plan needs."""


@dataclass(frozen=True, slots=True)
class Base:
    """Pictures by name, and contours as the page reads them."""

    pictures: dict[str, Picture]
    contours: dict[str, Any]


def base_of(elevation: Elevation, plan: Plan) -> Base:
    """Draw the ground under a plan.

    Relief and the far contours are smoothed for the eye; the near and close contours
    follow the bilinear surface that the plan's own heights come from.
    """
    far = softened(mercator_grid(elevation, far_box(elevation, plan)), 1.25)
    reach = reach_m(plan)
    near = mercator_grid(elevation, square(plan, max(NEAR_M, 1.5 * reach)), finest_m=8.0)
    close = mercator_grid(elevation, square(plan, max(CLOSE_M, 1.5 * reach)), finest_m=2.0)
    pictures = {
        "far": relief_picture(far, soften_px=0.6),
        "near": relief_picture(near, soften_px=0.5 * _cell_px(elevation, near), like=far),
        "close": relief_picture(close, soften_px=0.5 * _cell_px(elevation, close), like=far),
    }
    far_lines = _outside(contour(far, lines=45, stride=2), far, near.box)
    near_lines, close_lines = contour(near, lines=40), contour(close, lines=24)
    return Base(
        pictures,
        {
            "contours": {
                "far": packed(far, far_lines[0]),
                "far_middle": packed(far, far_lines[1]),
                "near": packed(near, near_lines),
                "close": packed(close, close_lines),
            },
            "heights": {
                "far": height_labels(far, far_lines[0]) + height_labels(far, far_lines[1]),
                "near": height_labels(near, near_lines),
                "close": height_labels(close, close_lines, every=True),
            },
        },
    )


def _cell_px(elevation: Elevation, grid: MercatorGrid) -> float:
    """Pixels to one raster cell, at least two."""
    return max(2.0, elevation.cell_size_m / float(grid.ground_step_m.mean()))


def square(plan: Plan, half_m: float) -> Box:
    """A box round the subject, so far to each side."""
    north, east, south, west = Home.of(plan).around([0.0, 90.0, 180.0, 270.0], half_m)
    return Box(west[1], south[0], east[1], north[0])


def far_box(elevation: Elevation, plan: Plan) -> Box:
    """The raster's extent, or the part round subject and skyline where it is very large."""
    south, west, north, east = elevation.bounds
    middle = float(west + east) / 2.0
    turn = middle - Home.of(plan).beside(middle)
    whole = Box(float(west) - turn, float(south), float(east) - turn, float(north))
    east_m, north_m = metres_per_degree((north + south) / 2.0)
    tall_km, wide_km = (north - south) * north_m / 1000.0, (east - west) * east_m / 1000.0
    if max(tall_km, wide_km) <= LARGEST_KM:
        return whole
    stands = [lens.stand for lens in plan.lenses if lens.stand]
    reach = max([8000.0, *(1.3 * s.skyline_distance_m for s in stands if s.skyline_distance_m > 0)])
    return square(plan, min(reach, LARGEST_KM * 500.0)).cut(whole) or square(plan, 8000.0)


def _outside(contours: Contours, grid: MercatorGrid, hole: Box) -> tuple[Contours, Contours]:
    """Part lines at the edge of a box: those outside it, and those inside."""
    outer: dict[float, list[Floats]] = {}
    inner: dict[float, list[Floats]] = {}
    for height_m, lines in contours.lines.items():
        outer[height_m], inner[height_m] = [], []
        for line in lines:
            lat, lon = grid.place(line[:, 0], line[:, 1])
            inside = (lat > hole.south) & (lat < hole.north) & (lon > hole.west) & (lon < hole.east)
            for start, stop in _runs(inside):
                part = line[start : stop + 1]
                (inner if inside[start] else outer)[height_m].append(part)
    return Contours(contours.interval_m, outer), Contours(contours.interval_m, inner)


def _runs(flags: np.ndarray[Any, np.dtype[np.bool_]]) -> list[tuple[int, int]]:
    """First and last index of each stretch of equal flags; stretches share their ends."""
    edges = [0, *(np.flatnonzero(np.diff(flags)) + 1).tolist(), len(flags) - 1]
    return [(a, b) for a, b in pairwise(edges) if b > a]
