"""Candidates from an OpenStreetMap extract [OSMTags]_, by the tag sets of `KINDS`.

Data (c) OpenStreetMap contributors, Open Database Licence 1.0: say so on what you publish.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.osm_file import Element, elements, shapes_of
from backbearing.base.osm_lengths import height_of, width_of
from backbearing.scouting.reading.edges import EdgeTooLongError, spread_along
from backbearing.scouting.reading.kinds import EDGED, Kind, kind_of_tags, tag_keys
from backbearing.scouting.reading.osm_joined import join_inside
from backbearing.tables.raw_table import MOST_ROWS, Notes, Rough, counted
from backbearing.tables.shapes import spots_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.plan.place import Access

CREDIT: Final = "Map data (c) OpenStreetMap contributors, Open Database Licence 1.0."

ACCESS_WORDS: Final[dict[str, Access]] = {
    **dict.fromkeys(("private", "no"), "closed"),
    **dict.fromkeys(("permit", "customers", "destination", "members"), "ask first"),
    **dict.fromkeys(("yes", "public", "permissive", "designated"), "open"),
}


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates, and what clutters frames about them, from nodes, ways and areas.

    Heights and widths come from tags where they are there; the width of an outline is its
    mean over all directions. Woods and rows of trees become points along their edge.

    Raises
    ------
    OutingError
        Without the `osmium` package, or for a file that is no extract.
    """
    del layer
    found: list[Element] = []
    kinds: list[Kind] = []
    things = Things(file)
    for element, kind in things:
        found.append(element)
        kinds.append(kind)
        if len(found) > MOST_ROWS:
            raise OutingError(
                f"{file.name} holds more than {MOST_ROWS:,} things that stand up",
                hint="cut out a smaller part",
                file=str(file),
            )
    shapes = shapes_of(found)
    found, kinds, joined = join_inside(found, kinds, shapes)
    rough = rough_of_elements(found, kinds, shapes)
    rough.faults.update(joined)
    rough.notes.said.extend(things.notes())
    return rough


class Things:
    """What an extract holds of known kinds, one after another.

    ``index`` is where the places of nodes are kept meanwhile; see `.osm_file.elements`.
    """

    def __init__(self, file: Path, index: Path | None = None) -> None:
        self._file, self._index = file, index
        self._too_long = 0

    def __iter__(self) -> Iterator[tuple[Element, Kind]]:
        for element in elements(self._file, tag_keys(), index=self._index):
            kind = kind_of_tags(element.tags)
            if kind is None or (kind.name in EDGED and element.form == "point"):
                continue
            try:
                parts = _edges(element) if kind.name in EDGED else [element]
            except EdgeTooLongError:
                self._too_long += 1
                continue
            for part in parts:
                yield part, kind

    def notes(self) -> list[str]:
        """Say what was left out, once all was gone through."""
        if not self._too_long:
            return []
        one, many = "wood was left out: its edge is", "woods were left out: their edges are"
        return [f"{counted(self._too_long, one, many)} too long."]


def _edges(element: Element) -> list[Element]:
    """Stand for a wood or a row of trees by points along its lines."""
    return [
        replace(element, label=f"{element.label} edge {part}", form="point", lines=[[spot]])
        for part, spot in enumerate(spread_along(element.lines), start=1)
    ]


def rough_of_elements(found: list[Element], kinds: list[Kind], shapes: NDArray[Any]) -> Rough:
    """Put elements, their kinds and their geometries into columns."""
    spots = spots_of(shapes)
    sizes = [height_of(element.tags) for element in found]
    width = np.array([width_of(element.tags) for element in found])
    # A wood's width says nothing of one point on its edge.
    width[[kind.name in EDGED for kind in kinds]] = np.nan
    drawn = np.isnan(width) & (spots.width_m > 0.0)
    return Rough(
        number=[element.number for element in found],
        ids=[element.label for element in found],
        name=[element.tags.get("name", "") for element in found],
        kind=[kind.name for kind in kinds],
        lat=spots.lat,
        lon=spots.lon,
        height_m=np.array([height for height, _ in sizes], dtype=np.float64),
        width_m=np.where(drawn, spots.width_m, width),
        height_is_guess=np.array([guess for _, guess in sizes], dtype=np.bool_),
        width_is_guess=np.zeros(len(sizes), dtype=np.bool_),
        access=[ACCESS_WORDS.get(element.tags.get("access", ""), "") for element in found],
        role=["candidate" if kind.lone else "clutter" for kind in kinds],
        note=[element.tags.get("description", "") for element in found],
        faults=dict(spots.faults),
        notes=Notes([CREDIT]),
    )
