"""Candidates from tables in CSV, by [RFC4180]_."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.tables.csv_table import Cells, Table, opened_table
from backbearing.tables.raw_table import Notes, Rough, numbers

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

KNOWN: Final = (
    *("name", "lat", "lon", "height_m", "width_m", "kind"),
    *("access", "note", "role"),
)
_NEEDED: Final = ("lat", "lon")


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a CSV file."""
    del layer
    return _rough(Table(file, KNOWN, _NEEDED))


def batches(file: Path, layer: str | None, size: int) -> Iterator[Rough]:
    """Read candidates from a CSV file of any length, so many rows at a time."""
    del layer
    with opened_table(file, _NEEDED) as (header, rows):
        while some := list(islice(rows, size)):
            yield _rough(Cells(header, some, KNOWN))


def _rough(table: Cells) -> Rough:
    faults = table.faults
    never = np.zeros(len(table), dtype=np.bool_)
    lat, lon, height_m, width_m = (
        numbers(table.column(key), key, faults) for key in ("lat", "lon", "height_m", "width_m")
    )
    notes = []
    if table.unread:
        shown = ", ".join(repr(name) for name in table.unread[:6])
        notes.append(f"Columns that are not read here: {shown}.")
    return Rough(
        number=table.lines,
        ids=[f"row {line}" for line in table.lines],
        name=table.column("name"),
        kind=table.column("kind"),
        lat=lat,
        lon=lon,
        height_m=height_m,
        width_m=width_m,
        access=table.column("access"),
        role=table.column("role"),
        note=table.column("note"),
        height_is_guess=never,
        width_is_guess=never.copy(),
        faults=faults,
        notes=Notes(notes),
    )
