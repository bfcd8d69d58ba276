"""Candidates from tables in CSV, by [RFC4180]_."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.tables.csv_table import Table
from backbearing.tables.raw_table import Rough, numbers

if TYPE_CHECKING:
    from pathlib import Path

KNOWN: Final = (
    *("name", "lat", "lon", "height_m", "width_m", "kind"),
    *("access", "note", "role"),
)


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a CSV file."""
    del layer
    table = Table(file, KNOWN, ("lat", "lon"))
    faults = table.faults
    never = np.zeros(len(table), dtype=np.bool_)
    columns = {
        key: numbers(table.column(key), key, faults)
        for key in ("lat", "lon", "height_m", "width_m")
    }
    notes = []
    if table.unread:
        shown = ", ".join(repr(name) for name in table.unread[:6])
        notes.append(f"Columns that are not read here: {shown}.")
    return Rough(
        number=table.lines,
        ids=[f"row {line}" for line in table.lines],
        name=table.column("name"),
        kind=table.column("kind"),
        access=table.column("access"),
        role=table.column("role"),
        note=table.column("note"),
        height_is_guess=never,
        width_is_guess=never.copy(),
        faults=faults,
        notes=notes,
        **columns,
    )
