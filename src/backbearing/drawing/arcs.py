"""A lens's arc through the night, for any drawing: its stretches, and its place at a moment."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.drawing.map_origin import MapOrigin
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import ArcPoint, LensPlan, Stand

Role = Literal["usable", "ridge", "frame", "behind", "sky", "unknown"]
"""How a stretch of arc is drawn."""

ROLE_OF_LIMIT: dict[str, Role] = {
    "unknown ground": "unknown",
    "no stand": "unknown",
    "ridge": "ridge",
    "horizon": "ridge",
    "frame": "frame",
    "subject": "behind",
    "twilight": "sky",
    "moon": "sky",
}
"""In order of precedence where several limits hold: the ground before the sky."""

ROLES: tuple[tuple[Role, str], ...] = (
    ("usable", "no limit found"),
    ("ridge", "the ridge hides it, or comes too near"),
    ("frame", "outside the frame"),
    ("behind", "behind the subject itself"),
    ("sky", "twilight or Moon"),
    ("unknown", "ground unknown"),
)
"""Every role and what the key says of it."""


def role_of(limits: tuple[str, ...]) -> Role:
    """How a minute with these limits is drawn."""
    for limit, role in ROLE_OF_LIMIT.items():
        if limit in limits:
            return role
    return "usable"


def placed(point: ArcPoint | Stand) -> bool:
    """Whether there is a place at all."""
    return math.isfinite(point.lat) and math.isfinite(point.lon)


def reach_m(plan: Plan) -> float:
    """Distance from the subject to the farthest stand or point of an arc, metres."""
    distances = [p.distance_m for lens in plan.lenses for p in lens.arc if placed(p)]
    distances += [lens.stand.distance_m for lens in plan.lenses if lens.stand]
    return max(distances, default=30.0)


def arc_runs(origin: MapOrigin, lens: LensPlan) -> list[dict[str, Any]]:
    """A lens's arc cut into stretches of one role.

    A stretch reaches half-way to its neighbours, so that they meet where the role
    changes. Moments without a stand have no place and leave a gap.
    """
    runs: list[dict[str, Any]] = []
    before: ArcPoint | None = None
    for point in lens.arc:
        if not placed(point):
            before = None
            continue
        here = origin.spot(point.lat, point.lon)
        role = role_of(point.limits)
        if before is None:
            runs.append({"role": role, "line": [here]})
        elif role_of(before.limits) == role:
            runs[-1]["line"].append(here)
        else:
            last = runs[-1]["line"][-1]
            half = [(last[0] + here[0]) / 2.0, (last[1] + here[1]) / 2.0]
            runs[-1]["line"].append(half)
            runs.append({"role": role, "line": [half, here]})
        before = point
    return runs


def at_time(lens: LensPlan, time: dt.datetime) -> tuple[float, float] | None:
    """Where a lens's arc stands at a moment, between its points; None off the arc."""
    for one, other in zip(lens.arc, lens.arc[1:], strict=False):
        if one.time <= time <= other.time:
            if not (placed(one) and placed(other)):
                return None
            part = (time - one.time) / (other.time - one.time)
            return (
                one.lat + part * (other.lat - one.lat),
                one.lon + part * (other.lon - one.lon),
            )
    return None
