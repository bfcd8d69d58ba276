"""The shortest way from a parking to a stand: along the user's tracks, then straight."""

from __future__ import annotations

from heapq import heappop, heappush
from itertools import pairwise
from math import inf
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.land.walks import OFF_TRACK, Way

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shapely import LineString, Point
    from shapely.geometry.base import BaseGeometry

    Node = tuple[float, float]
    Graph = dict[Node, dict[Node, tuple[float, bool]]]

JOINED_M: Final = 5.0
"""Track ends that come this near to another track are taken as joined."""


def straight_way(a: Node, b: Node) -> Way:
    """A straight way between two points, metres, with no track."""
    from shapely import LineString

    return Way(LineString([a, b]), (False,))


def way_by_tracks(start: Node, end: Node, tracks: Sequence[BaseGeometry]) -> Way:
    """Find the quickest way on level ground from start to end, metres on the local map.

    Off the tracks one walks at ``OFF_TRACK`` of the speed. The way leaves the start for the
    nearest point of the tracks, follows them, and leaves them once for the end; it goes
    straight where that is quicker.
    """
    straight = straight_way(start, end)
    start, end = rounded(start), rounded(end)
    graph, _ = network(tracks, [start, end])
    found = best_path(graph, start, end)
    if found is None or found[1] >= straight.line.length / OFF_TRACK:
        return straight
    return found[0]


def best_path(graph: Graph, start: Node, end: Node) -> tuple[Way, float] | None:
    """Find the cheapest path and its cost, metres of track; None where there is none."""
    from shapely import LineString

    if start == end:
        return straight_way(start, end), 0.0
    found = _cheapest(graph, start, end)
    if found is None:
        return None
    path, cost = found
    return Way(LineString(path), tuple(graph[a][b][1] for a, b in pairwise(path))), cost


def rounded(node: Node) -> Node:
    """A point to the millimetre, so that equal points are found equal."""
    return (round(node[0], 3), round(node[1], 3))


def _lines(geometry: BaseGeometry) -> list[LineString]:
    from shapely import LineString

    parts = getattr(geometry, "geoms", [geometry])
    return [part for part in parts if isinstance(part, LineString)]


def network(tracks: Sequence[BaseGeometry], ends: Sequence[Node]) -> tuple[Graph, tuple[Node, ...]]:
    """Give nodes and the cost of going between them, and which nodes lie on tracks.

    Every end hangs on the nearest point of every track.
    """
    import shapely

    lines = [line for track in tracks for line in _lines(track)]
    stops = [_corners(line) for line in lines]
    graph: Graph = {}
    for i, line in enumerate(lines):
        for end in ends:
            along = float(line.project(shapely.Point(end)))
            stops[i].add(along)
            join(graph, end, _at(line, along), on_track=False)
        for j in range(i + 1, len(lines)):
            for point in _meetings(line, lines[j]):
                here, there = float(line.project(point)), float(lines[j].project(point))
                stops[i].add(here)
                stops[j].add(there)
                join(graph, _at(line, here), _at(lines[j], there), on_track=True)
    on_tracks: dict[Node, None] = {}
    for line, marks in zip(lines, stops, strict=True):
        nodes = [_at(line, mark) for mark in sorted(marks)]
        on_tracks |= dict.fromkeys(nodes)
        for a, b in pairwise(nodes):
            join(graph, a, b, on_track=True)
    return graph, tuple(on_tracks)


def _corners(line: LineString) -> set[float]:
    """How far along a line its own corners lie, metres."""
    import shapely

    corners = shapely.get_coordinates(line)
    return {0.0, *np.cumsum(np.hypot(*np.diff(corners, axis=0).T)).tolist()}


def _meetings(line: LineString, other: LineString) -> list[Point]:
    """Points at which two tracks cross, touch or nearly do."""
    import shapely
    from shapely import ops

    if line.distance(other) > JOINED_M:
        return []
    crossing = shapely.get_coordinates(line.intersection(other))
    found = [shapely.Point(xy) for xy in crossing] + [ops.nearest_points(line, other)[0]]
    for one, two in ((line, other), (other, line)):
        tips = (shapely.Point(two.coords[0]), shapely.Point(two.coords[-1]))
        found += [tip for tip in tips if tip.distance(one) <= JOINED_M]
    return found


def join(graph: Graph, a: Node, b: Node, *, on_track: bool) -> None:
    """Let two nodes be gone between, at the cheaper of two costs where there are two."""
    cost = _apart(a, b) / (1.0 if on_track else OFF_TRACK)
    for p, q in ((a, b), (b, a)):
        known = graph.setdefault(p, {}).get(q)
        if known is None or cost < known[0]:
            graph[p][q] = (cost, on_track)


def _at(line: LineString, along: float) -> Node:
    point = line.interpolate(along)
    return (round(point.x, 3), round(point.y, 3))


def _apart(a: Node, b: Node) -> float:
    return float(np.hypot(a[0] - b[0], a[1] - b[1]))


def _cheapest(graph: Graph, start: Node, end: Node) -> tuple[list[Node], float] | None:
    """Nodes of the shortest path by Dijkstra's rule [Dijkstra1959]_, and its cost."""
    if start not in graph or end not in graph:
        return None
    reached: dict[Node, float] = {start: 0.0}
    came: dict[Node, Node] = {}
    settled: set[Node] = set()
    heap = [(0.0, start)]
    while heap:
        cost, here = heappop(heap)
        if here == end:
            break
        if here in settled:
            continue
        settled.add(here)
        for there, (step, _) in graph[here].items():
            if cost + step < reached.get(there, inf):
                reached[there], came[there] = cost + step, here
                heappush(heap, (cost + step, there))
    if end not in reached:
        return None
    path = [end]
    while path[-1] != start:
        path.append(came[path[-1]])
    return path[::-1], reached[end]
