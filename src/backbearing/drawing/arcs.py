"""A lens's arc through the night, for any drawing: its stretches, and its place at a moment."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.local_plane import LocalPlane

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


FINE_DEG: Final = 3.0
"""A stand that goes round the subject by more than this from point to point is drawn with points
between."""

WIDEST_DEG: Final = 120.0
"""By more than this nothing says which way round it went: the target passed by the zenith."""


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
        between = [] if before is None else _points_between(before, point)
        if before is None or between is None:
            runs.append({"role": role, "line": [here]})
        elif role_of(before.limits) == role:
            runs[-1]["line"] += [*(origin.spot(*spot) for spot in between), here]
        else:
            line = [*(origin.spot(*spot) for spot in between), here]
            last = runs[-1]["line"][-1]
            middle = len(between) // 2
            half = (
                line[middle] if between else [(last[0] + here[0]) / 2.0, (last[1] + here[1]) / 2.0]
            )
            runs[-1]["line"] += [*line[:middle], half]
            runs.append({"role": role, "line": [half, *line[middle + bool(between) :]]})
        before = point
    return runs


def at_time(lens: LensPlan, time: dt.datetime) -> tuple[float, float] | None:
    """Where a lens's arc stands at a moment, between its points; None off the arc."""
    for one, other in zip(lens.arc, lens.arc[1:], strict=False):
        if one.time <= time <= other.time:
            if not (placed(one) and placed(other)):
                return None
            return _between(one, other, (time - one.time) / (other.time - one.time))
    return None


def _points_between(one: ArcPoint, other: ArcPoint) -> list[tuple[float, float]] | None:
    """Places between two points of an arc, as many as a bend needs; an odd number, or none.

    None where the way round the subject is not known.
    """
    turn = abs(float(wrap_180_deg(other.bearing_deg - one.bearing_deg)))
    if turn > WIDEST_DEG:
        return None
    if not turn > FINE_DEG:
        return []
    steps = 2 * math.ceil(turn / FINE_DEG / 2.0)
    spots = [_between(one, other, i / steps) for i in range(1, steps)]
    return [spot for spot in spots if spot is not None]


def _between(one: ArcPoint, other: ArcPoint, part: float) -> tuple[float, float] | None:
    """Go round the subject from one point of an arc to the next, by bearing and distance.

    A straight way between them would lead past the subject, or through it, when the target
    passes by the zenith. None where the way round is not known.
    """
    turn = float(wrap_180_deg(other.bearing_deg - one.bearing_deg))
    if abs(turn) > WIDEST_DEG:
        return None
    bearings = np.radians(one.bearing_deg + turn * np.array([0.0, part, 1.0]))
    far = one.distance_m + (other.distance_m - one.distance_m) * np.array([0.0, part, 1.0])
    # From the subject; what the bend adds to the straight way is nothing at either end.
    east, north = -far * np.sin(bearings), -far * np.cos(bearings)
    bend = [v[1] - (1.0 - part) * v[0] - part * v[2] for v in (east, north)]
    lat = one.lat + part * (other.lat - one.lat)
    lon = one.lon + part * float(wrap_180_deg(other.lon - one.lon))
    if abs(turn) < 0.01 * FINE_DEG:
        return lat, lon
    moved = LocalPlane(lat, lon).places(east_m=bend[0], north_m=bend[1])
    return float(moved[0]), float(moved[1])
