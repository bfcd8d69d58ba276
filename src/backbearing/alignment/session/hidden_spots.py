"""Where a hidden light is put down: one spot for all turns, or one for some turns on end."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.session.blind_patch import areas_only
from backbearing.alignment.view.frame_ground import square
from backbearing.base.angles import azimuth_of
from backbearing.land.closed_ground import closes
from backbearing.plan.lighting import HiddenSpot

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import Point
    from shapely.geometry.base import BaseGeometry

    from backbearing.alignment.session.light_positions import Stage
    from backbearing.plan.place import Place

HAND_M: Final = 0.1
"""A light stands no nearer to the subject's side than a hand's breadth."""

LEAST_ROOM_M: Final = 0.02
"""With less room to every side a spot is none: nobody puts a light down so exactly."""

NEAR_HEIGHTS: Final = 2.0
"""The hidden light is sought within so many subject heights where the patch reaches so near."""


class Circle(NamedTuple):
    """The largest circle in some ground: its middle and radius, metres."""

    middle: Point
    radius_m: float


def nearest_m(foot_m: float, light_width_m: float) -> float:
    """How near to the subject's middle the middle of a light can stand, metres.

    The subject is taken to be as deep as its base is wide.
    """
    return 0.5 * foot_m + 0.5 * light_width_m + HAND_M


def barred_ground(stage: Stage, places: Sequence[Place], foot_m: float) -> BaseGeometry:
    """Where no light is put: in the subject, on closed ground or water, where nothing is known."""
    import shapely

    own = shapely.Point(0.0, 0.0).buffer(nearest_m(foot_m, stage.light.width_m), quad_segs=64)
    closed = [stage.local.to_plane(place.geometry) for place in places if closes(place)]
    axis, east, north = square(stage.reach_m)
    void = ~stage.known_at(east, north)
    step = axis[1] - axis[0]
    voids = shapely.box(
        east[void] - step, north[void] - step, east[void] + step, north[void] + step
    )
    return shapely.union_all([own, *closed, *voids])


def largest_circle(stage: Stage, ground: BaseGeometry) -> Circle | None:
    """The spot with the most room, near the subject if the ground reaches so near."""
    import shapely

    near = shapely.Point(0.0, 0.0).buffer(NEAR_HEIGHTS * stage.scene.subject.height_m)
    for sought in (areas_only(ground.intersection(near)), ground):
        circles = [
            shapely.maximum_inscribed_circle(part, tolerance=0.01)
            for part in shapely.get_parts(sought)
            if part.area > 0.0
        ]
        best = max(circles, key=lambda radius: radius.length, default=None)
        if best is not None and best.length >= LEAST_ROOM_M:
            middle = shapely.Point(best.coords[0])
            return Circle(middle, float(middle.distance(ground.boundary)))
    return None


def hidden_spots(stage: Stage, grounds: Sequence[BaseGeometry]) -> tuple[HiddenSpot, ...]:
    """Spots that hide the light from the turns in their order, moved as seldom as can be.

    ``grounds`` are where it hides from each stand and may stand. Each spot serves as many turns
    on end as have one in common: what serves some turns serves fewer of them too, so that no
    other choice has fewer spots. Turns that no spot hides it from are in none.
    """
    found: list[HiddenSpot] = []
    names: list[str] = []
    common: BaseGeometry | None = None
    circle: Circle | None = None
    for name, ground in zip(stage.names, grounds, strict=True):
        alone = largest_circle(stage, ground)
        if alone is None:
            continue
        joint = ground if common is None else areas_only(common.intersection(ground))
        both = alone if common is None else largest_circle(stage, joint)
        if both is None and circle is not None:
            found.append(_spot(stage, names, circle))
            names, joint, both = [], ground, alone
        names, common, circle = [*names, name], joint, both
    return (*found, _spot(stage, names, circle)) if circle is not None else ()


def _spot(stage: Stage, names: Sequence[str], circle: Circle) -> HiddenSpot:
    east, north = circle.middle.x, circle.middle.y
    lat, lon = (float(v) for v in stage.local.places(east_m=east, north_m=north))
    return HiddenSpot(
        lenses=tuple(names),
        lat=lat,
        lon=lon,
        distance_m=math.hypot(east, north),
        bearing_deg=float(azimuth_of(np.float64(east), np.float64(north))),
        room_m=circle.radius_m,
    )
