"""What the user's own places say of a stand: whose land it is, and what lies near."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.constants import LEAST_M_PER_LAT_DEG
from backbearing.base.geodesy import line_between
from backbearing.base.text import length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import Point

    from backbearing.plan.place import Place

NEAR_M = 60.0
"""Water and hazards nearer than this to a stand are said (common practice, no source)."""

SURELY = 2.0
"""Places are put aside unmeasured from so many times `NEAR_M` on."""

_ASKED = {
    "closed": "is marked closed. Do not stand there without leave",
    "ask first": "is marked ask first. Get leave before you go",
    "unknown": "has no word on access. Find out before you go",
}


def place_cautions(*, lat: float, lon: float, places: Sequence[Place]) -> tuple[str, ...]:
    """Say what the places hold against a spot, the gravest first.

    Only what the user's file holds can be said; land it does not name is not thereby open.
    """
    if not places:
        return ()
    from shapely import Point

    spot = Point(lon, lat)
    grave: list[str] = []
    plain: list[str] = []
    for place in places:
        name = place.name or f"a place of kind {place.kind}"
        if place.kind == "land" and place.access in _ASKED and place.geometry.covers(spot):
            said = f"Land: {name} {_ASKED[place.access]}."
            (grave if place.access == "closed" else plain).append(said)
        elif place.kind in ("water", "hazard") and _may_be_near(place, spot):
            away = _distance_m(place, spot)
            if away <= NEAR_M:
                what = "Water" if place.kind == "water" else "Hazard"
                where = "at the stand" if away < 1.0 else f"{length(away)} from the stand"
                grave.append(f"{what}: {name}, {where}.")
    if not any(p.kind == "land" and p.geometry.covers(spot) for p in places):
        plain.append("Land: your places file says nothing of this ground. Find out whose it is.")
    return (*grave, *plain)


def _may_be_near(place: Place, spot: Point) -> bool:
    """Whether a place is not sure to lie farther than `NEAR_M` from a spot, at little cost."""
    # A degree of longitude is the shorter one away from the equator.
    least_m = place.geometry.distance(spot) * LEAST_M_PER_LAT_DEG * math.cos(math.radians(spot.y))
    return least_m <= SURELY * NEAR_M


def _distance_m(place: Place, spot: Point) -> float:
    """Distance to a place's nearest point, metres; it is sought on a map flat at the spot."""
    from shapely import affinity, ops

    shrink = math.cos(math.radians(spot.y))
    flat = affinity.scale(place.geometry, xfact=shrink, yfact=1.0, origin=(spot.x, spot.y))
    nearest, _ = ops.nearest_points(flat, spot)
    found = line_between(
        lat1=spot.y,
        lon1=spot.x,
        lat2=nearest.y,
        lon2=spot.x + (nearest.x - spot.x) / max(shrink, 1e-9),
    )
    return float(found.distance_m)
