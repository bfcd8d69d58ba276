"""Sequences of GeoJSON features: one on each line, or after each record separator.

WGS84, longitude before latitude, as [RFC7946]_ wants it; a sequence has no place to say else.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING

from backbearing.scouting.reading.geojson import rough_of_features
from backbearing.tables.json_stream import features_of_sequence, refuse
from backbearing.tables.raw_table import MOST_ROWS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.tables.raw_table import Rough


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a sequence of features."""
    del layer
    features = list(islice(features_of_sequence(file), MOST_ROWS + 1))
    if len(features) > MOST_ROWS:
        raise refuse(file, f"has more than {MOST_ROWS:,} features; split it")
    return rough_of_features(file, features, 1)


def batches(file: Path, layer: str | None, size: int) -> Iterator[Rough]:
    """Read candidates from a sequence of any length, so many features at a time."""
    del layer
    features, first = features_of_sequence(file), 1
    while some := list(islice(features, size)):
        yield rough_of_features(file, some, first)
        first += len(some)
