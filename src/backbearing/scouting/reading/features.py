"""Features with properties and geometries, from whatever format, as rough columns."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.scouting.reading.edges import EdgeTooLongError, spread_along
from backbearing.scouting.reading.kinds import EDGED, kind_named
from backbearing.tables.raw_table import Notes, Rough, numbers, texts
from backbearing.tables.shapes import spots_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

MOST_EDGE_POINTS: Final = 100_000
"""Points that stand for the edges of woods in one file."""


def rough_of(
    properties: Sequence[Mapping[str, Any]],
    shapes: Sequence[Any],
    what: str,
    number: list[int],
    faults: dict[int, str],
) -> Rough:
    """Put features into columns.

    Parameters
    ----------
    properties : sequence of mappings
        Keys as in a CSV file's header; others are ignored.
    shapes : sequence of shapely geometries or None
        Longitude and latitude, WGS84.
    what : str
        What the file calls a row: ``feature``, ``waypoint``.
    number : list of int
        The rows' numbers.
    faults : dict
        What is wrong with rows so far.
    """
    properties, shapes, number, ids, of = _edges_spread(properties, shapes, what, number, faults)
    faults = {i: faults[k] for i, k in enumerate(of) if k in faults}
    spots = spots_of(shapes)
    for i, fault in spots.faults.items():
        faults.setdefault(i, fault)
    words = {
        key: texts([row.get(key) for row in properties])
        for key in ("name", "kind", "access", "role", "note")
    }
    height = numbers([row.get("height_m") for row in properties], "height_m", faults)
    width = numbers([row.get("width_m") for row in properties], "width_m", faults)
    drawn = ~spots.was_point & np.isnan(width)
    width = np.where(drawn & (spots.width_m > 0.0), spots.width_m, width)
    never = np.zeros(len(shapes), dtype=np.bool_)
    return Rough(
        number=number,
        ids=ids,
        lat=spots.lat,
        lon=spots.lon,
        height_m=height,
        width_m=width,
        height_is_guess=never,
        width_is_guess=never.copy(),
        faults=faults,
        notes=Notes([], drawn=int((~spots.was_point & np.isfinite(spots.lat)).sum())),
        **words,
    )


def _edges_spread(
    properties: Sequence[Mapping[str, Any]],
    shapes: Sequence[Any],
    what: str,
    number: list[int],
    faults: dict[int, str],
) -> tuple[list[Mapping[str, Any]], list[Any], list[int], list[str], list[int]]:
    """Put points along the lines of woods and rows of trees; leave the rest as it is.

    Returns properties, shapes, numbers, ids, and for each the row from which it comes.
    """
    import shapely

    ids = [f"{what} {n}" for n in number]
    edged = {
        i
        for i, row in enumerate(properties)
        if isinstance(row.get("kind"), str) and _is_edged(row["kind"], shapes[i])
    }
    if not edged:
        return list(properties), list(shapes), number, ids, list(range(len(shapes)))
    rows: list[int] = []
    made: list[Any] = []
    names: list[str] = []
    spread = 0
    for i, shape in enumerate(shapes):
        if i not in edged:
            rows.append(i)
            made.append(shape)
            names.append(ids[i])
            continue
        lines = shapely.boundary(shape) if shapely.get_dimensions(shape) == 2 else shape
        parts = [shapely.get_coordinates(part).tolist() for part in shapely.get_parts(lines)]
        if spread > MOST_EDGE_POINTS:
            faults.setdefault(i, f"{MOST_EDGE_POINTS:,} points of edges come before it; split it")
            rows.append(i)
            made.append(None)
            names.append(ids[i])
            continue
        try:
            spots: Any = shapely.points(spread_along([part for part in parts if len(part) > 1]))
        except EdgeTooLongError as problem:
            faults.setdefault(i, str(problem))
            spots = [None]
        spread += len(spots)
        rows += [i] * len(spots)
        made += list(spots)
        names += [f"{ids[i]} edge {k}" for k in range(1, len(spots) + 1)]
    # A wood's width says nothing of one point on its edge.
    properties = [
        {**row, "width_m": None} if i in edged else row for i, row in enumerate(properties)
    ]
    return [properties[i] for i in rows], made, [number[i] for i in rows], names, rows


def _is_edged(word: str, shape: Any) -> bool:
    import shapely

    kind = kind_named(word)
    if kind is None or kind.name not in EDGED or shape is None:
        return False
    lined = shapely.get_dimensions(shape) in (1, 2) and shape.geom_type != "GeometryCollection"
    return bool(lined and not shape.is_empty and np.isfinite(shapely.get_coordinates(shape)).all())
