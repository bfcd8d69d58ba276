"""A small invented extract about a place, written by osmium itself."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    Spots = list[tuple[float, float]]


def write_extract(path: Path, *, lat: float, lon: float) -> Path:
    """A hamlet, a road, a track, a path, a creek, a pond, a wood and two sheds.

    Corners are metres east and north of the place.
    """
    import osmium

    writer = osmium.SimpleWriter(str(path), overwrite=True)
    number = 0

    def node(spot: tuple[float, float], tags: dict[str, str] | None = None) -> int:
        nonlocal number
        number += 1
        at = (
            lon + spot[0] / 111_195.0 / math.cos(math.radians(lat)),
            lat + spot[1] / 111_195.0,
        )
        writer.add_node(osmium.osm.mutable.Node(id=number, location=at, tags=tags or {}))
        return number

    bends = [(-2500.0 + 250.0 * i, 400.0 * math.sin(i / 3.0)) for i in range(21)]
    lines: list[tuple[Spots, dict[str, str]]] = [
        (bends, {"highway": "secondary", "name": "Wether road (invented)"}),
        ([(-300.0, -80.0), (-60.0, 60.0), (80.0, 420.0), (60.0, 900.0)], {"highway": "track"}),
        ([(80.0, 420.0), (300.0, 520.0), (700.0, 380.0)], {"highway": "path"}),
        ([(-900.0, -700.0), (-420.0, -500.0), (500.0, -650.0)], {"waterway": "stream"}),
    ]

    def ring(east: float, north: float, radius: float, sides: int) -> Spots:
        turns = [2.0 * math.pi * i / sides for i in range(sides)]
        return [(east + radius * math.cos(t), north + radius * math.sin(t)) for t in turns]

    areas: list[tuple[Spots, dict[str, str]]] = [
        (ring(-600.0, 500.0, 260.0, 24), {"natural": "wood", "name": "Fold wood (invented)"}),
        (ring(450.0, -250.0, 90.0, 16), {"natural": "water", "name": "Wether tarn (invented)"}),
        (ring(-150.0, -60.0, 9.0, 4), {"building": "yes"}),
        (ring(-180.0, -85.0, 6.0, 4), {"building": "barn"}),
    ]
    node((-160.0, -120.0), {"place": "hamlet", "name": "Wether Bank (invented)"})
    ways: list[tuple[list[int], dict[str, str]]] = []
    for spots, tags in lines:
        ways.append(([node(spot) for spot in spots], tags))
    for spots, tags in areas:
        refs = [node(spot) for spot in spots]
        ways.append(([*refs, refs[0]], tags))
    for i, (refs, tags) in enumerate(ways):
        writer.add_way(osmium.osm.mutable.Way(id=1000 + i, nodes=refs, tags=tags))
    writer.close()
    return path
