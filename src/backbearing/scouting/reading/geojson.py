"""Candidates from features in GeoJSON, by [RFC7946]_."""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any

from backbearing.scouting.reading.features import rough_of
from backbearing.tables.features_of_file import code_of, features_of, shift_of, understood
from backbearing.tables.json_stream import Members, refuse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from backbearing.base.datum_shift import DatumShift
    from backbearing.tables.raw_table import Rough


def read(file: Path, layer: str | None = None) -> Rough:
    """Read candidates from a FeatureCollection."""
    del layer
    features, code = features_of(file)
    return rough_of_features(file, features, 1, code)


def batches(file: Path, layer: str | None, size: int) -> Iterator[Rough]:
    """Read candidates from a FeatureCollection of any length, so many features at a time.

    One that is not in WGS84 is gone through twice: one operation serves all its places, and
    which one hangs on where they all lie.
    """
    del layer
    document = Members(file)
    features = document.features()
    code: int | None = None
    shift, first = None, 1
    while some := list(islice(features, size)):
        if code is None:
            code = code_of(file, document.others)
            shift = None if code == 4326 else shift_of(file, code)
        yield rough_of_features(file, some, first, code, shift)
        first += len(some)
    if code is not None and code_of(file, document.others) != code:
        raise refuse(file, "names its crs after its features; write it before them")


def rough_of_features(
    file: Path, features: list[Any], first: int, code: int = 4326, shift: DatumShift | None = None
) -> Rough:
    """Put features, of which the first has this number, into columns."""
    faults: dict[int, str] = {}
    properties, shapes, notes = understood(file, features, code, faults, shift)
    number = list(range(first, first + len(features)))
    rough = rough_of(properties, shapes, "feature", number, faults)
    rough.notes.said.extend(notes)
    return rough
