"""The ground behind a subject on which a light shows from no stand.

The light is an upright box. It hides where all of it, seen from the camera's own height,
falls within the subject's outline. From the subject's visible base down to the ground the
subject is taken to be as wide as at its base.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.alignment.session.shadow_strips import hidden_strips
from backbearing.alignment.stand.outline_edges import outline_area

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from backbearing.outing.subject import Subject

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    GroundAt = Callable[[Floats, Floats], Floats]

BASE_SLICE: Final = 0.02
"""The lowest part of the outline, whose width is carried down to the ground."""

DEEP_M: Final = 1e4
"""So far below the base the subject is carried down: farther than any ground lies."""


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


class Screen:
    """The subject's outline as an opaque screen, carried from its base down to the ground.

    Attributes
    ----------
    shape : shapely geometry
        Metres across and up from the visible base.
    edges : ndarray, shape (n, 4)
        Its boundary's straight pieces: x0, y0, x1, y1.
    west_m, east_m : float
        How far it reaches to either side.
    foot_m : float
        Width of its base.
    """

    def __init__(self, subject: Subject) -> None:
        import shapely

        outline = outline_area(subject.shape)
        west, low, east, high = outline.bounds
        slice_ = shapely.box(west, low, east, low + BASE_SLICE * (high - low))
        foot_west, _, foot_east, _ = outline.intersection(slice_).bounds
        self.foot_m = float(foot_east - foot_west)
        below = shapely.box(foot_west, low - DEEP_M, foot_east, low + 1e-6)
        self.shape = outline.union(below)
        shapely.prepare(self.shape)
        self.edges = np.vstack(
            [
                np.hstack([points[:-1], points[1:]])
                for points in map(shapely.get_coordinates, _rings(self.shape))
            ]
        )
        self.west_m, _, self.east_m, _ = self.shape.bounds

    def holds(self, across_m: Floats, up_m: Floats) -> NDArray[np.bool_]:
        """Whether points lie on the screen."""
        import shapely

        return np.asarray(shapely.contains_xy(self.shape, across_m, up_m))


def _rings(shape: BaseGeometry) -> list[BaseGeometry]:
    import shapely

    return list(shapely.get_rings(shapely.get_parts(shape)))


def blind_from(
    screen: Screen,
    light: Light,
    eye: Eye,
    base_up_m: float,
    ground_at: GroundAt,
    reach_m: float,
) -> BaseGeometry:
    """Do as `blind_from_each` for one stand."""
    return blind_from_each(screen, light, [eye], base_up_m, ground_at, reach_m)[0]


def blind_from_each(
    screen: Screen,
    light: Light,
    eyes: Sequence[Eye],
    base_up_m: float,
    ground_at: GroundAt,
    reach_m: float,
) -> list[BaseGeometry]:
    """Polygons, metres on the local map, in which the light is hidden from each of the stands.

    The middle of the light may stand anywhere in one, from right behind the subject on: seen
    from the eye the light's upright rectangle then lies within the outline, all of it. The
    shadow is cut into strips across it, each given out only as far as the light is hidden
    over the whole strip; what that leaves out is under `LOST_M` wide.
    """
    import shapely

    away = np.array([eye.distance_m for eye in eyes])
    up = np.array([eye.up_m for eye in eyes])
    ahead = np.array([[-eye.east_m, -eye.north_m] for eye in eyes]) / away[:, None]

    def metres(which: Ints, across: Floats, back: Floats) -> tuple[Floats, Floats]:
        """East and north of places in some of the shadows; ``which`` broadcasts with them."""
        east, north = ahead[which, 0], ahead[which, 1]
        aside = across * (away[which] + back) / away[which]
        return back * east + aside * north, back * north - aside * east

    def spans(shadow: Ints, across: Floats, back: Floats) -> tuple[Floats, Floats]:
        which = shadow[:, None]
        shrink = away[which] / (away[which] + back)
        rise = ground_at(*metres(which, across, back)) - up[which]
        bottom = up[which] + rise * shrink - base_up_m
        return bottom, bottom + light.height_m * shrink

    def half_width(shadow: Ints, back: Floats) -> Floats:
        return np.asarray(0.5 * light.width_m * away[shadow] / (away[shadow] + back))

    found = hidden_strips(screen, spans, half_width, reach_m, shadows=len(eyes))
    boxes = shapely.box(found.left, found.near, found.right, found.far)

    def patch(i: int) -> BaseGeometry:
        flat, which = shapely.union_all(boxes[found.shadow == i]), np.array(i)
        return areas_only(
            shapely.transform(flat, lambda at: np.column_stack(metres(which, at[:, 0], at[:, 1])))
        )

    return [patch(i) for i in range(len(eyes))]


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
