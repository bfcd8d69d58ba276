"""The session's walks as lines and as rows of named facts, for every format."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.exports.file_text import inline
from backbearing.exports.rows import CellValue, known
from backbearing.plan.turns import turn_of_each

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.base.units import Units
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Walk
    from backbearing.plan.stand import LensPlan

    Step = LensPlan | Place | tuple[float, float]

WALK_NUMBERS = (
    *("distance_m", "on_track_m", "longer_m", "climb_m", "descent_m", "steepest_deg"),
    *("minutes", "minutes_back", "night_minutes", "night_minutes_back"),
)
"""Fields of ``Walk`` that go out as numbers under their own names."""

WALK_NAMES = ("start", "end", *WALK_NUMBERS, "rule", "closed", "cautions")


def walks_of(plan: Plan) -> tuple[Walk, ...]:
    """Give the walks of a plan's session in their order; none without a session."""
    return plan.session.walks_in_order if plan.session is not None else ()


def walk_row(walk: Walk) -> dict[str, CellValue]:
    """Give a walk as named facts; unknown is None."""
    return {
        "start": walk.start,
        "end": walk.end,
        **{name: known(getattr(walk, name)) for name in WALK_NUMBERS},
        "rule": walk.rule,
        "closed": walk.closed,
        "cautions": "\n".join(walk.cautions),
    }


def walk_lines(walk: Walk, units: Units = METRIC) -> list[str]:
    """Say a walk in sentences, its cautions last."""
    return [
        (
            f"{inline(walk.start)} to {inline(walk.end)}: {units.length(walk.distance_m)}, "
            f"{num(walk.minutes, 0)} min by day, {num(walk.night_minutes, 0)} min by night "
            f"({walk.rule}). A line on the map, not a path that anyone walked."
        ),
        *(f"Caution: {inline(caution)}" for caution in walk.cautions),
    ]


def steps_of(plan: Plan) -> list[Step]:
    """Give what a walked session passes: parking, corners of the ways, stands, parking.

    Corners are latitude and longitude. Empty where the plan's stands are not the session's.
    """
    session = plan.session
    if session is None or not session.shots:
        return []
    lenses = {
        id(shot): lens
        for lens, shot in zip(plan.lenses, turn_of_each(plan), strict=True)
        if shot is not None and lens.stand is shot.stand
    }
    if len(lenses) < len(session.shots):
        return []
    steps: list[Step] = list(_parked(plan, session.approach, at=0))
    for shot in session.shots:
        steps += _corners(session.approach if shot is session.shots[0] else shot.walk)
        steps.append(lenses[id(shot)])
    return [*steps, *_corners(session.home), *_parked(plan, session.home, at=-1)]


def _corners(walk: Walk | None) -> Iterator[tuple[float, float]]:
    for lon, lat, *_ in walk.line.coords[1:-1] if walk is not None else ():
        yield lat, lon


def _parked(plan: Plan, walk: Walk | None, *, at: int) -> Iterator[Place]:
    """The parking at one end of a walk."""
    from shapely.geometry import Point

    places = [place for place in plan.places if place.kind == "parking"]
    if walk is not None and places:
        end = Point(walk.line.coords[at])
        yield min(places, key=lambda place: place.geometry.distance(end))
