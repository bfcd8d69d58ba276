"""A subject's outline as an area, and its outermost points for lenses that bend its sides."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.outing.outline import Outline

    Floats = NDArray[np.float64]

STEPS: Final = 64
"""A straight side is cut into pieces of at most this part of the outline's height."""

MOST_LEVELS: Final = 250
"""An outline with corners at more heights is smoothed by `SMOOTHED` of its height first."""

SMOOTHED: Final = 1e-4


class Sides(NamedTuple):
    """Points along the left and right sides of an outline, arrays (n,).

    ``across_m`` and ``up_m`` from the middle of the base; ``inner`` where the neighbours of a
    point lie on the same straight piece, as far to either side.
    """

    across_m: Floats
    up_m: Floats
    inner: NDArray[np.bool_]


@lru_cache(maxsize=4)
def outline_area(shape: Outline) -> BaseGeometry:
    """An outline as an area, metres across and up from its visible base."""
    import shapely

    parts = [shapely.make_valid(shapely.Polygon(ring)) for ring in shape.rings]
    area = parts[0]
    for part in parts[1:]:
        area = area.symmetric_difference(part)
    return area


@lru_cache(maxsize=8)
def outer_sides(shape: Outline) -> Sides:
    """Follow the outermost points of an outline from its base to its top, on both sides.

    At one height no point further in can lie further out in the frame of a lens that looks
    forward, fisheye or not; so these are all that its width can depend on.
    """
    import shapely

    area = outline_area(shape)
    levels = _levels(area)
    if len(levels) > MOST_LEVELS:
        area = shapely.simplify(area, SMOOTHED * shape.height_m)
        levels = _levels(area)
    west, _, east, _ = area.bounds
    low, high = levels[:-1], levels[1:]
    within = 1e-7 * (high - low)
    ends = []
    for level in (low + within, high - within):
        lines = shapely.linestrings([[[west - 1.0, v], [east + 1.0, v]] for v in level])
        bounds = shapely.bounds(shapely.intersection(lines, area))
        ends.append((bounds[:, 0], bounds[:, 2]))
    found = [
        _pieces(ends[0][side], low, ends[1][side], high, shape.height_m / STEPS) for side in (0, 1)
    ]
    return Sides(*(np.concatenate(column) for column in zip(*found, strict=True)))


def _levels(area: BaseGeometry) -> Floats:
    """Heights at which the area's edge has a corner."""
    import shapely

    return np.asarray(np.unique(shapely.get_coordinates(area)[:, 1]))


def _pieces(
    a_low: Floats, low: Floats, a_high: Floats, high: Floats, longest_m: float
) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Points along one side, given its straight pieces' ends."""
    across: list[float] = []
    up: list[float] = []
    inner: list[bool] = []
    for x0, y0, x1, y1 in zip(*(v.tolist() for v in (a_low, low, a_high, high)), strict=True):
        if not (math.isfinite(x0) and math.isfinite(x1)):
            continue
        steps = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / longest_m))
        shares = np.arange(steps + 1) / steps
        across += (x0 + shares * (x1 - x0)).tolist()
        up += (y0 + shares * (y1 - y0)).tolist()
        inner += [0 < i < steps for i in range(steps + 1)]
    return np.array(across), np.array(up), np.array(inner)


def outermost(values: Floats, inner: NDArray[np.bool_]) -> Floats:
    """Largest value along the first axis, by a parabola where it lies inside a straight piece."""
    best = np.argmax(values, axis=0)
    most = np.take_along_axis(values, best[None], axis=0)[0]
    last = len(values) - 1
    before = np.take_along_axis(values, np.maximum(best - 1, 0)[None], axis=0)[0]
    after = np.take_along_axis(values, np.minimum(best + 1, last)[None], axis=0)[0]
    bend = before - 2.0 * most + after
    with np.errstate(divide="ignore", invalid="ignore"):
        peak = most - (after - before) ** 2 / (8.0 * bend)
    return np.asarray(np.where(inner[best] & (bend < 0.0), peak, most))
