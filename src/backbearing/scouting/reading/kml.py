"""Placemarks of KML 2.2 [KML2008]_: longitude before latitude, WGS84 by definition."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.xml_stream import XmlStream
from backbearing.scouting.reading.features import rough_of
from backbearing.scouting.reading.kinds import kind_named
from backbearing.tables.raw_table import MOST_ROWS, counted

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.tables.raw_table import Rough

_OWN: Final = ("kind", "height_m", "width_m", "access", "role", "note")
_HOLDERS: Final = ("Folder", "Document")


class _Placemarks:
    """Gathers placemarks while the file streams by."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.rows: list[dict[str, Any]] = []
        self.parts: list[list[tuple[str, str]]] = []
        self.lines: list[int] = []
        self.links = 0
        self._path: list[str] = []
        self._folders: list[str] = []
        self._row: dict[str, Any] | None = None
        self._key = ""
        self.stream = XmlStream(file, "kml", self._start, self._end)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._path.append(name)
        if name in _HOLDERS:
            self._folders.append("")
        elif name == "NetworkLink":
            self.links += 1
        elif name == "Placemark" and self._row is None:
            self._row = {}
            self.parts.append([])
            self.lines.append(self.stream.line)
        elif name in ("Data", "SimpleData"):
            self._key = attributes.get("name", "").strip().lower()

    def _end(self, name: str, text: str) -> None:
        self._path.pop()
        above = self._path[-1] if self._path else ""
        if name in _HOLDERS:
            self._folders.pop()
        if self._row is None:
            if name == "name" and above in _HOLDERS:
                self._folders[-1] = text
            return
        if name == "Placemark":
            self._close()
        elif above == "Placemark" and name in ("name", "description"):
            self._row.setdefault("name" if name == "name" else "note", text)
        elif name == "coordinates":
            # The hole of an area is no outline of it.
            if "innerBoundaryIs" not in self._path:
                self.parts[-1].append((above, text))
        elif self._key in _OWN and (name == "SimpleData" or (name == "value" and above == "Data")):
            self._row[self._key] = text
        elif name == "Data":
            self._key = ""

    def _close(self) -> None:
        row = self._row or {}
        if not row.get("kind"):
            # Lists are often kept as a folder of barns and a folder of trees.
            folder = next((f for f in reversed(self._folders) if f), "")
            row["kind"] = folder if kind_named(folder) else ""
        self.rows.append(row)
        self._row = None
        if len(self.rows) > MOST_ROWS:
            raise OutingError(
                f"{self.file.name} has more than {MOST_ROWS:,} placemarks",
                hint="split it",
                file=str(self.file),
            )


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from placemarks, in whatever folders they lie.

    The kind is an entry ``kind`` of the placemark's data, or else its folder's name where that
    is the name of a kind. Links to other files are not followed.
    """
    del layer
    found = _Placemarks(file)
    found.stream.read()
    faults: dict[int, str] = {}
    shapes = [_shape(parts, i, faults) for i, parts in enumerate(found.parts)]
    shapes = _points_at_once(shapes)
    number = list(range(1, len(shapes) + 1))
    rough = rough_of(found.rows, shapes, "placemark", number, faults)
    rough.faults = {
        i: f"{fault} (line {found.lines[rough.number[i] - 1]})" for i, fault in rough.faults.items()
    }
    if found.links:
        one, many = "link to another file was", "links to other files were"
        rough.notes.said.append(f"{counted(found.links, one, many)} not followed.")
    return rough


def _shape(parts: list[tuple[str, str]], i: int, faults: dict[int, str]) -> Any:
    """Take a placemark's coordinates as a pair, or as a geometry of several corners."""
    import shapely

    rings = []
    for above, text in parts:
        corners = _corners(text)
        if corners is None:
            faults.setdefault(
                i, f"its coordinates are {text[:40]!r}; write longitude,latitude with points"
            )
            return None
        rings.append((above, corners))
    if not rings:
        return None
    if len(rings) == 1 and len(rings[0][1]) == 1:
        return rings[0][1][0]
    made: list[Any] = []
    for above, corners in rings:
        if len(corners) >= 3 and above == "LinearRing":
            made.append(shapely.Polygon(corners))
        elif len(corners) >= 2:
            made.append(shapely.LineString(corners))
        else:
            made.append(shapely.Point(corners[0]))
    return made[0] if len(made) == 1 else shapely.GeometryCollection(made)


def _corners(text: str) -> NDArray[np.float64] | None:
    """Read ``lon,lat[,height]`` tuples; None when they are not."""
    try:
        cells = [tuple(float(v) for v in corner.split(",")[:2]) for corner in text.split()]
    except ValueError:
        return None
    if not cells or any(len(corner) != 2 for corner in cells):
        return None
    out = np.array(cells)
    return out if np.isfinite(out).all() else None


def _points_at_once(shapes: list[Any]) -> list[Any]:
    import shapely

    at = [i for i, shape in enumerate(shapes) if isinstance(shape, np.ndarray)]
    if at:
        made: Any = shapely.points(np.array([shapes[i] for i in at]))
        for i, point in zip(at, made, strict=True):
            shapes[i] = point
    return shapes
