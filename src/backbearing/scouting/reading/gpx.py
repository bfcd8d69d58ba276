"""Waypoints of GPX 1.1 [GPX11]_: latitude and longitude in WGS84 by definition."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.xml_stream import XmlStream
from backbearing.tables.raw_table import MOST_ROWS, Notes, Rough, counted, numbers

if TYPE_CHECKING:
    from pathlib import Path

_STANDARD: Final = ("name", "desc", "cmt", "type")
_OWN: Final = ("kind", "height_m", "width_m", "access", "role", "note")


class _Waypoints:
    """Gathers waypoints while the file streams by."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.rows: list[dict[str, str]] = []
        self.lines: list[int] = []
        self.others = 0
        self._path: list[str] = []
        self._row: dict[str, str] | None = None
        self.stream = XmlStream(file, "gpx", self._start, self._end)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self._path.append(name)
        if name == "wpt" and len(self._path) == 2:
            self._row = {"lat": attributes.get("lat", ""), "lon": attributes.get("lon", "")}
            self.lines.append(self.stream.line)
        elif name in ("rte", "trk") and len(self._path) == 2:
            self.others += 1

    def _end(self, name: str, text: str) -> None:
        row, depth = self._row, len(self._path)
        self._path.pop()
        if row is None:
            return
        if name == "wpt" and depth == 2:
            self.rows.append(row)
            self._row = None
            if len(self.rows) > MOST_ROWS:
                raise OutingError(
                    f"{self.file.name} has more than {MOST_ROWS:,} waypoints",
                    hint="split it",
                    file=str(self.file),
                )
            return
        standard = depth == 3 and name in _STANDARD
        if standard or ("extensions" in self._path and name in _OWN):
            row.setdefault(name, text)


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from waypoints.

    The kind is the waypoint's ``type`` (or ``kind`` in its extensions, where ``height_m`` and
    ``width_m`` are read too); ``ele`` is the ground, not a height, and is left alone.
    """
    del layer
    found = _Waypoints(file)
    found.stream.read()
    rows, faults = found.rows, dict[int, str]()

    def column(*keys: str) -> list[str]:
        return [next((row[key] for key in keys if row.get(key)), "") for row in rows]

    columns = {key: numbers(column(key), key, faults) for key in ("lat", "lon")}
    columns |= {key: numbers(column(key), key, faults) for key in ("height_m", "width_m")}
    never = np.zeros(len(rows), dtype=np.bool_)
    notes = []
    if found.others:
        one, many = "route or track is no place and was", "routes and tracks are no places and were"
        notes.append(f"{counted(found.others, one, many)} left out.")
    number = list(range(1, len(rows) + 1))
    return Rough(
        number=number,
        ids=[f"waypoint {n}" for n in number],
        name=column("name"),
        kind=column("kind", "type"),
        access=column("access"),
        role=column("role"),
        note=column("note", "desc", "cmt"),
        height_is_guess=never,
        width_is_guess=never.copy(),
        faults={i: f"{fault} (line {found.lines[i]})" for i, fault in faults.items()},
        notes=Notes(notes),
        lat=columns["lat"],
        lon=columns["lon"],
        height_m=columns["height_m"],
        width_m=columns["width_m"],
    )
