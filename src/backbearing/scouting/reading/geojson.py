"""Candidates from features in GeoJSON, by [RFC7946]_."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.scouting.reading.features import rough_of
from backbearing.tables.features_of_file import opened

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.tables.raw_table import Rough


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a FeatureCollection."""
    del layer
    faults: dict[int, str] = {}
    properties, shapes, notes = opened(file, faults)
    rough = rough_of(properties, shapes, "feature", list(range(1, len(shapes) + 1)), faults)
    rough.notes.extend(notes)
    return rough
