"""Ways round ground that is not to be walked on: closed land, water, hazards.

A visibility graph [LozanoPerez1979]_ over the corners of that ground, the ends of the way
and the user's tracks. On a track one may cross: there the track's own access counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

import numpy as np

from backbearing.base.grouped import FieldOf
from backbearing.base.text import length
from backbearing.land.closed_ground import AREAS
from backbearing.land.on_plane import on_plane
from backbearing.land.routes import best_path, join, network, rounded, straight_way, way_by_tracks
from backbearing.plan.session import STRAIGHT, Detour

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely.geometry.base import BaseGeometry

    from backbearing.base.local_plane import LocalPlane
    from backbearing.land.routes import Graph, Node
    from backbearing.land.walks import Way
    from backbearing.plan.place import Place

KEEP_OFF_M: Final = 1.0
"""Corners are passed so far off (judgement, no source)."""

SQUEEZE_M: Final = 0.4
"""Corners are passed as near as this where a narrow gap saves a long way (no source)."""

WORTH: Final = 1.1
"""A narrow gap is taken where the way that keeps its distance is so many times longer."""

HAZARD_M: Final = 5.0
"""Hazards are kept so far off, where the ends of the way are not nearer (no source)."""

BROOK_M: Final = 0.5
"""Half the width given to water that is drawn as a line."""

MOST_CORNERS: Final = 120
"""Ground with more corners is drawn more coarsely, always outward."""

TOUCH_M: Final = 0.02


@dataclass(frozen=True, slots=True)
class Wall:
    """Ground to go round, metres on the local map; ``tips`` are the ends of a brook."""

    name: str
    shape: BaseGeometry
    tips: tuple[Node, ...] = ()


@dataclass(frozen=True, slots=True)
class Routed:
    """A way, what it goes round, and that in words."""

    way: Way
    detour: Detour = STRAIGHT
    longer_m: ClassVar[FieldOf[float]] = FieldOf("detour")
    round_of: ClassVar[FieldOf[tuple[str, ...]]] = FieldOf("detour")
    said: tuple[str, ...] = ()


def walls_of(places: Sequence[Place], local: LocalPlane, ends: Sequence[Node]) -> tuple[Wall, ...]:
    """Closed land, water and hazards as walls; ground on which an end lies is none."""
    import shapely

    spots = shapely.points(ends)
    found = []
    for place in places:
        wide = _half_width(place)
        if wide is None:
            continue
        shape = on_plane(local, place)
        away = float(shapely.distance(shape, spots).min())
        if away == 0.0:
            continue
        wall = shapely.make_valid(shape.buffer(min(wide, 0.9 * away), quad_segs=2))
        if wall.area > 0.0:
            name = place.name or f"a place of kind {place.kind}"
            found.append(Wall(name, wall, _tips(shape) if place.kind == "water" else ()))
    return tuple(found)


def _half_width(place: Place) -> float | None:
    """How far from its drawing a place is not walked on; None where it may be."""
    area = place.geometry.geom_type in AREAS
    if place.kind == "hazard":
        return HAZARD_M
    if place.kind == "water":
        return 0.0 if area else BROOK_M
    return 0.0 if area and place.kind == "land" and place.access == "closed" else None


def _tips(shape: BaseGeometry) -> tuple[Node, ...]:
    """The ends of lines: a brook does not end where its drawing does."""
    lines = [g for g in getattr(shape, "geoms", [shape]) if g.geom_type == "LineString"]
    return tuple((x, y) for line in lines for x, y in (line.coords[0][:2], line.coords[-1][:2]))


def way_round(
    start: Node, end: Node, tracks: Sequence[BaseGeometry], walls: Sequence[Wall]
) -> Routed:
    """Find the quickest way on level ground that crosses no wall off the tracks.

    First no brook is crossed either; where that leaves no way, brooks are. Where there is
    no way at all the one that takes no heed of walls comes back, and says so.
    """
    free = way_by_tracks(start, end, tracks) if tracks else straight_way(start, end)
    hit = [wall for wall in walls if _crosses(free, wall)]
    if not hit:
        return Routed(free)
    names = tuple(dict.fromkeys(wall.name for wall in hit))
    firm = [wall for wall in walls if not wall.tips]
    for heeded in (list(walls), firm):
        way = _shortest(start, end, tracks, heeded) if heeded else None
        if way is None:
            continue
        gone = tuple(dict.fromkeys(w.name for w in hit if not _crosses(way, w)))
        if not gone:
            break
        longer = float(way.line.length - free.line.length)
        words = f"{length(longer)} longer than through it" if longer >= 0.5 else "hardly longer"
        said = (f"The way goes round {', '.join(gone)}: {words}.", *_gap_words(way, heeded))
        return Routed(way, Detour(longer, gone), said)
    if all(wall.tips for wall in hit):
        return Routed(free)
    none = f"No way round {', '.join(names)} was found among your places; the line crosses it."
    return Routed(free, Detour(float("nan")), (none,))


def _gap_words(way: Way, walls: Sequence[Wall]) -> tuple[str, ...]:
    """Name the ground between which a way squeezes, off its ends and the tracks."""
    import shapely

    corners = np.asarray(way.line.coords)[1:-1, :2]
    apart = shapely.points(corners)
    near = [
        wall
        for wall in walls
        if len(corners) and (shapely.distance(wall.shape, apart) < 0.9 * KEEP_OFF_M).any()
    ]
    if not near:
        return ()
    names = dict.fromkeys(wall.name for wall in near)
    return (f"It passes within a metre of {', '.join(names)}, through a gap under 2 m wide.",)


def _crosses(way: Way, wall: Wall) -> bool:
    """Whether a way enters a wall off the tracks."""
    import shapely

    corners = np.asarray(way.line.coords)[:, :2]
    pieces = shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1))
    inner = wall.shape.buffer(-TOUCH_M)
    return bool((shapely.intersects(inner, pieces) & ~np.array(way.on_track)).any())


def _shortest(
    start: Node, end: Node, tracks: Sequence[BaseGeometry], walls: Sequence[Wall]
) -> Way | None:
    """Keep off the walls where that leaves no much longer way, else pass as near as need be."""
    import shapely

    blocked = shapely.union_all([wall.shape for wall in walls])
    tips = [tip for wall in walls for tip in wall.tips]
    ends = [rounded(start), rounded(end)]
    # Beside the ends and the tracks one may pass as near as they lie.
    near = shapely.union_all([*shapely.points(ends), *tracks]).buffer(2.0 * KEEP_OFF_M)
    inner = blocked.buffer(-TOUCH_M)

    def way_kept(off_m: float) -> Way | None:
        free = [*ends, *_corners(blocked, tips, off_m)]
        rim = blocked.buffer(0.8 * off_m, quad_segs=2).difference(near)
        return _over(free, tracks, inner.union(rim)) or _over(free, tracks, inner)

    wide, narrow = way_kept(KEEP_OFF_M), way_kept(SQUEEZE_M)
    if wide is None or narrow is None:
        return wide or narrow
    return narrow if wide.line.length > WORTH * narrow.line.length else wide


def _over(free: list[Node], tracks: Sequence[BaseGeometry], inner: BaseGeometry) -> Way | None:
    """Join all nodes that see one another, and take the quickest path from first to second."""
    import shapely

    graph, on_tracks = network(tracks, free)
    shapely.prepare(inner)
    _drop_blocked(graph, inner)
    for i, node in enumerate(free):
        others = [other for other in (*free[i + 1 :], *on_tracks) if other != node]
        if not others:
            continue
        lines = shapely.linestrings([[node, other] for other in others])
        for k in np.flatnonzero(~shapely.intersects(inner, lines)):
            join(graph, node, others[k], on_track=False)
    found = best_path(graph, free[0], free[1])
    return found and found[0]


def _drop_blocked(graph: Graph, inner: BaseGeometry) -> None:
    """Take out the steps off the tracks that a wall stands in."""
    import shapely

    for node, others in graph.items():
        for other in [o for o, (_, on_track) in others.items() if not on_track]:
            if shapely.intersects(inner, shapely.LineString([node, other])):
                del others[other]


def _corners(blocked: BaseGeometry, tips: Sequence[Node], off_m: float) -> list[Node]:
    """Corners at which a way may turn: those of the walls, passed at a little distance."""
    import shapely

    coarse = 0.1
    while True:
        around = blocked.buffer(off_m + coarse, quad_segs=2).simplify(coarse)
        found = shapely.get_coordinates(around)
        if len(found) <= MOST_CORNERS:
            break
        coarse *= 2.0
    clear = [
        (round(float(x), 3), round(float(y), 3))
        for x, y in found
        if all(np.hypot(x - u, y - v) > 3.0 * (KEEP_OFF_M + coarse) for u, v in tips)
    ]
    return list(dict.fromkeys(clear))
