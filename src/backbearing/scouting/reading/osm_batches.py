"""Things out of an OpenStreetMap extract of any length, a batch at a time.

A node inside an outline of the same thing is joined with it, though they stand far apart in the
file: nodes that may be joined are found in a pass of their own, outlines about any of them wait
for the end, and all others go through as they come. The rows are those of `.osm.read`.
"""

from __future__ import annotations

from array import array
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.osm_file import elements, shapes_of
from backbearing.scouting.reading.kinds import kind_of_tags, tag_keys
from backbearing.scouting.reading.osm import Things, rough_of_elements
from backbearing.scouting.reading.osm_joined import join_inside, may_be_joined, may_join
from backbearing.tables.raw_table import Batch, LeftOut

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.base.osm_file import Element
    from backbearing.scouting.reading.kinds import Kind

    Thing = tuple[int, Element, Kind]


def batches(file: Path, size: int, index: Path | None) -> Iterator[Batch]:
    """Read candidates from an extract, so many things at a time.

    Parameters
    ----------
    file : Path
    size : int
    index : Path or None
        A file that is made for the places of all nodes, 16 bytes each, for the caller to remove.

    Raises
    ------
    OutingError
        As for `.osm.read`; also while things are asked for.
    """
    joining = _Joining(file)
    things = Things(file, index)
    some: list[Thing] = []
    row = -1
    for row, (element, kind) in enumerate(things):
        joining.note(row, element, kind)
        some.append((row, element, kind))
        if len(some) >= size:
            yield from joining.batch(some)
            some = []
    yield from joining.batch(some)
    yield from joining.rest(things.notes())


class _Joining:
    """Nodes that outlines may stand for, and the outlines that do."""

    def __init__(self, file: Path) -> None:
        import shapely

        self._file = file
        lon, lat = array("d"), array("d")
        for element, _ in self._nodes():
            lon.append(element.lines[0][0][0])
            lat.append(element.lines[0][0][1])
        nodes: Any = shapely.points(np.array(lon), np.array(lat))
        self._tree = shapely.STRtree(nodes)
        self._rows = array("q")
        self._hit: set[int] = set()
        self._waiting: list[Thing] = []

    def _nodes(self) -> Iterator[tuple[Element, Kind]]:
        for element in elements(self._file, tag_keys(), nodes_only=True):
            kind = kind_of_tags(element.tags)
            if kind is not None and may_be_joined(element, kind):
                yield element, kind

    def note(self, row: int, element: Element, kind: Kind) -> None:
        """Remember on which row each of those nodes is."""
        if may_be_joined(element, kind):
            self._rows.append(row)

    def batch(self, some: list[Thing]) -> Iterator[Batch]:
        """Give things as a batch, but for outlines that must wait."""
        if not some:
            return
        shapes = shapes_of([element for _, element, _ in some])
        areas = [i for i, (_, element, kind) in enumerate(some) if may_join(element, kind)]
        stay = np.ones(len(some), dtype=np.bool_)
        if areas and len(self._tree):
            about, nodes = self._tree.query(shapes[areas], predicate="intersects")
            self._hit.update(nodes.tolist())
            for i in np.unique(about):
                stay[areas[i]] = False
                self._waiting.append(some[areas[i]])
        kept = [some[i] for i in np.flatnonzero(stay)]
        if kept:
            rough = rough_of_elements([e for _, e, _ in kept], [k for *_, k in kept], shapes[stay])
            yield Batch(rough, np.array([row for row, *_ in kept], dtype=np.int64))

    def rest(self, notes: list[str]) -> Iterator[Batch]:
        """Give the outlines that waited, each with its node in it, and what else is to say."""
        things = list(self._waiting)
        if self._hit:
            for k, (element, kind) in enumerate(self._nodes()):
                if k in self._hit:
                    things.append((self._rows[k], element, kind))
        things.sort(key=lambda thing: thing[0])
        shapes = shapes_of([element for _, element, _ in things])
        found, kinds, said = join_inside([e for _, e, _ in things], [k for *_, k in things], shapes)
        rows = np.array([row for row, *_ in things], dtype=np.int64)
        outlines = np.array([one.form == "area" for one in found], dtype=np.bool_)
        own = np.flatnonzero(outlines)
        rough = rough_of_elements([found[i] for i in own], [kinds[i] for i in own], shapes[own])
        rough.notes.said.extend(notes)
        late = {
            int(rows[i]): LeftOut(found[i].number, found[i].label, reason)
            for i, reason in said.items()
        }
        yield Batch(rough, rows[own], late)
