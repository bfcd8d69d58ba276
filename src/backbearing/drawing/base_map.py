"""The base of the map: relief near and far, and contours at three scales."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.units import FOOT_M, METRIC
from backbearing.drawing.contours import Contours, contour, height_labels, packed
from backbearing.drawing.mercator import softened
from backbearing.drawing.relief import relief_picture

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.drawing.mercator import Box, Floats, MercatorGrid
    from backbearing.drawing.relief import ReliefPicture


@dataclass(frozen=True, slots=True)
class MapGround:
    """The ground under a plan as its map needs it, read from the raster once.

    Attributes
    ----------
    far, near, close : MercatorGrid
        Heights at three scales.
    cell_m : float
        Size of one of the raster's cells, metres.
    points : tuple of (lat, lon, height_m)
        The raster's own points near the subject.
    """

    far: MercatorGrid
    near: MercatorGrid
    close: MercatorGrid
    cell_m: float
    points: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class BaseMap:
    """Pictures by name, and contours as the page reads them."""

    pictures: dict[str, ReliefPicture]
    contours: dict[str, Any]


def base_map(ground: MapGround, units: Units = METRIC) -> BaseMap:
    """Draw the ground under a plan.

    Relief and the far contours are smoothed for the eye; the near and close contours
    follow the bilinear surface that the plan's own heights come from. Contours stand at round
    heights of the reader's units, and their labels count in them.
    """
    far, near, close = softened(ground.far, 1.25), ground.near, ground.close
    pictures = {
        "far": relief_picture(far, soften_px=0.6),
        "near": relief_picture(near, soften_px=0.5 * _cell_px(ground, near), like=far),
        "close": relief_picture(close, soften_px=0.5 * _cell_px(ground, close), like=far),
    }
    if units.name == "imperial":
        far, near, close = (
            replace(grid, heights_m=grid.heights_m / FOOT_M) for grid in (far, near, close)
        )
    far_lines = _outside(contour(far, lines=45, stride=2), far, near.box)
    near_lines, close_lines = contour(near, lines=40), contour(close, lines=24)
    return BaseMap(
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


def _cell_px(ground: MapGround, grid: MercatorGrid) -> float:
    """Pixels to one raster cell, at least two."""
    return max(2.0, ground.cell_m / float(grid.ground_step_m.mean()))


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
