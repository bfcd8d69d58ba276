"""What the marks on the sheet's maps and pictures mean: only of those that are there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.drawing.arcs import placed, role_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View


def map_key(plan: Plan, seen: Sequence[View]) -> str:
    """Every pattern with its one meaning, and whose shape the pictures show."""
    said = [*_stands(plan), *_light(plan), *_land(plan), *_ways(plan)]
    said += dict.fromkeys(f"Pictures: {view.shape_note}." for view in seen if view.shape_note)
    return " ".join(said)


def _stands(plan: Plan) -> Iterator[str]:
    points = [p for lens in plan.lenses for p in lens.arc if placed(p)]
    usable = [role_of(p.limits) == "usable" for p in points]
    arcs = ["thick: no limit found"] * any(usable) + ["dashed: some limit"] * (not all(usable))
    if arcs:
        yield f"Arcs {', '.join([*arcs, 'ticks every 15 min'])}."
    if any(lens.stand is not None for lens in plan.lenses):
        yield "Thin lines: to the target."


def _light(plan: Plan) -> Iterator[str]:
    lighting = plan.session.lighting if plan.session else None
    if lighting is None:
        return
    if lighting.earlier_shadows:
        yield "Wedges: shadows of people at stands."
    if not lighting.blind.area.is_empty:
        yield "Dotted: a light hides here from every stand."


def _land(plan: Plan) -> Iterator[str]:
    access = {place.access for place in plan.places if place.kind == "land"}
    said = []
    if "closed" in access:
        said.append("cross-hatched: closed")
    if access & {"ask first", "unknown"}:
        said.append("slanted: ask first or unknown")
    if access:
        yield f"Land {', '.join([*said, 'bare: open or not in your file'])}."
    kinds = {place.kind for place in plan.places}
    if "water" in kinds:
        yield "Tinted: water."
    if "hazard" in kinds:
        yield "Heavy dashes, dots: hazard."


def _ways(plan: Plan) -> Iterator[str]:
    session = plan.session
    if any(place.kind == "track" for place in plan.places):
        yield "Dashed: track."
    if session is not None and (session.approach is not None or session.home is not None):
        yield "Thick: the walk."
