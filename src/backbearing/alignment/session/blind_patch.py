"""The ground behind a subject on which a light shows from no stand.

The light is an upright box. It hides where all of it, seen from the camera's own height,
falls within the subject's outline. From the subject's visible base down to the ground the
subject is taken to be as wide as at its base.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.outing.subject import Subject

    Floats = NDArray[np.float64]
    GroundAt = Callable[[Floats, Floats], Floats]

ACROSS: Final = 121
DEEP: Final = 241
"""Points across the subject's shadow and along it at which the light is tried."""

TABLE: Final = 225
"""Rows and columns of the table of distances to the outline's edge."""

BASE_SLICE: Final = 0.02
"""The lowest part of the outline, whose width is carried down to the ground."""


@dataclass(frozen=True, slots=True)
class Eye:
    """A camera on the local map about the subject, metres; ``up_m`` is above sea level."""

    east_m: float
    north_m: float
    up_m: float

    @property
    def distance_m(self) -> float:
        """Level distance to the subject."""
        return float(np.hypot(self.east_m, self.north_m))


@dataclass(frozen=True, slots=True)
class Light:
    """A light's box: width, and top above the ground, metres."""

    width_m: float
    height_m: float


@lru_cache(maxsize=4)
def outline_area(subject: Subject) -> BaseGeometry:
    """The subject's outline as an area, metres across and up from its visible base."""
    import shapely

    parts = [shapely.make_valid(shapely.Polygon(ring)) for ring in subject.shape.rings]
    shape = parts[0]
    for part in parts[1:]:
        shape = shape.symmetric_difference(part)
    return shape


class Screen:
    """The subject's outline as an opaque screen, with the distance to its edge everywhere."""

    def __init__(self, subject: Subject) -> None:
        import shapely

        shape = outline_area(subject)
        west, low, east, high = shape.bounds
        height = high - low
        slice_ = shapely.box(west, low, east, low + BASE_SLICE * height)
        foot_west, _, foot_east, _ = shape.intersection(slice_).bounds
        below = shapely.box(foot_west, low - 2.0 * height, foot_east, low + 1e-6)
        self.shape = shape.union(below)
        self.half_width_m = max(abs(west), abs(east))
        self.top_m = high
        # Twice the width, and as far below the base as the subject is high: what falls
        # beyond is as far outside, or as deep under the ground, as the table's own edge.
        self._across = np.linspace(-2.0, 2.0, TABLE) * self.half_width_m
        self._up = np.linspace(low - height, high + 0.5 * height, TABLE)
        shapely.prepare(self.shape)
        self._inside = self._measured(*np.meshgrid(self._across, self._up))

    def _measured(self, across_m: Floats, up_m: Floats) -> Floats:
        """Distance to the outline's edge, metres; negative outside it."""
        import shapely

        edge = self.shape.boundary
        shapely.prepare(edge)
        away = shapely.distance(shapely.points(across_m, up_m), edge)
        return np.where(shapely.contains_xy(self.shape, across_m, up_m), away, -away)

    def inside_m(self, across_m: Floats, up_m: Floats) -> Floats:
        """The same read bilinearly from a table, within half a cell of it at corners."""
        from scipy.ndimage import map_coordinates

        spots = [
            (value - axis[0]) / (axis[1] - axis[0])
            for value, axis in ((up_m, self._up), (across_m, self._across))
        ]
        found = map_coordinates(self._inside, spots, order=1, mode="nearest")
        return np.asarray(np.where(np.isfinite(spots[0] + spots[1]), found, np.nan))


def hidden_by_m(
    screen: Screen,
    light: Light,
    eye: Eye,
    base_up_m: float,
    ground_at: GroundAt,
    east_m: Floats,
    north_m: Floats,
) -> Floats:
    """How far inside the outline the light stays, metres at the subject; negative shows.

    Parameters
    ----------
    base_up_m : float
        The outline's base above sea level.
    ground_at : callable
        From east and north to ground height above sea level.
    east_m, north_m : ndarray
        Where the light stands; the answer has their shape. NaN in front of the subject.
    """
    distance = eye.distance_m
    ahead = np.array([-eye.east_m, -eye.north_m]) / distance
    right = np.array([ahead[1], -ahead[0]])
    depth = (east_m - eye.east_m) * ahead[0] + (north_m - eye.north_m) * ahead[1]
    aside = (east_m - eye.east_m) * right[0] + (north_m - eye.north_m) * right[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        shrink = np.where(depth > 0.0, distance / depth, np.nan)
    ground = ground_at(east_m, north_m)
    least = np.full(np.shape(east_m), np.inf)
    for sideways in (-0.5, 0.0, 0.5):
        for share in (0.0, 0.5, 1.0):
            across = (aside + sideways * light.width_m) * shrink
            rise = ground + share * light.height_m - eye.up_m
            up = eye.up_m + rise * shrink - base_up_m
            least = np.fmin(least, screen.inside_m(across, up))
    return np.where(shrink <= 1.0, least, np.nan)


def blind_from(
    screen: Screen,
    light: Light,
    eye: Eye,
    base_up_m: float,
    ground_at: GroundAt,
    reach_m: float,
) -> BaseGeometry:
    """Polygon, metres on the local map, in which the light is hidden from one stand.

    The shadow is walked in its own coordinates, across the subject and back from it, so that
    a narrow subject is resolved as finely as a wide one.
    """
    from contourpy import FillType, contour_generator

    distance = eye.distance_m
    ahead = np.array([-eye.east_m, -eye.north_m]) / distance
    right = np.array([ahead[1], -ahead[0]])
    across = np.linspace(-1.02, 1.02, ACROSS) * screen.half_width_m
    # Finer near the subject, where the patch is narrow and its near end lies.
    back = light.width_m + (reach_m - light.width_m) * np.linspace(0.0, 1.0, DEEP) ** 1.5

    def metres(u: Floats, s: Floats) -> tuple[Floats, Floats]:
        aside = u * (distance + s) / distance
        return s * ahead[0] + aside * right[0], s * ahead[1] + aside * right[1]

    u, s = np.meshgrid(across, back)
    inside = hidden_by_m(screen, light, eye, base_up_m, ground_at, *metres(u, s))
    filled = contour_generator(
        across, back, np.nan_to_num(inside, nan=-1.0), fill_type=FillType.OuterOffset
    ).filled(0.0, 1e9)
    return polygons_of(filled, metres)


def polygons_of(
    filled: Any,
    to_metres: Callable[[Floats, Floats], tuple[Floats, Floats]],
) -> BaseGeometry:
    """Turn contourpy's filled contours (outer rings and offsets) into one geometry, metres."""
    import shapely

    made = []
    for points, offsets in zip(*filled, strict=True):
        rings = [
            np.column_stack(to_metres(points[a:b, 0], points[a:b, 1])) for a, b in pairwise(offsets)
        ]
        made.append(shapely.make_valid(shapely.Polygon(rings[0], rings[1:])))
    return areas_only(shapely.union_all(made)) if made else shapely.Polygon()


def areas_only(geometry: BaseGeometry) -> BaseGeometry:
    """Drop the points and lines that cutting areas leaves behind."""
    import shapely

    parts = [g for g in getattr(geometry, "geoms", [geometry]) if g.area > 0.0]
    return shapely.union_all(parts) if parts else shapely.Polygon()
