"""Towns and how many live in them, from a table or from GeoJSON points."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.numbers import num
from backbearing.plan.ranking import Rejected
from backbearing.tables.cleaned import LONGEST_NAME, check_places, clean
from backbearing.tables.csv_table import Table
from backbearing.tables.features_of_file import opened
from backbearing.tables.limits import check_file, suffix_of
from backbearing.tables.raw_table import numbers, texts
from backbearing.tables.shapes import spots_of

if TYPE_CHECKING:
    from os import PathLike

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_PEOPLE: Final = 50_000_000.0
MOST_BYTES: Final = 50_000_000


@dataclass(frozen=True, eq=False)
class Towns:
    """Towns with their people; arrays of shape (m,), degrees."""

    name: tuple[str, ...]
    lat: Floats
    lon: Floats
    population: Floats
    source: str = ""
    rejected: tuple[Rejected, ...] = ()

    def __len__(self) -> int:
        return len(self.name)


def read_towns(path: str | PathLike[str]) -> Towns:
    """Read towns from .csv or .geojson: ``name``, ``lat``, ``lon`` (or points), ``population``.

    Raises
    ------
    OutingError
        For a file that cannot be read, or without a usable town.
    """
    file = Path(path)
    suffix = suffix_of(file)
    if suffix not in (".csv", ".geojson", ".json"):
        raise OutingError(
            f"{file.name}: towns are read from .csv or .geojson, not {suffix or 'a bare name'}.",
            file=str(file),
        )
    check_file(file, MOST_BYTES, "towns")
    return _towns_of(file)


def _towns_of(file: Path) -> Towns:
    """Read and check towns.

    Raises
    ------
    OutingError
        When no town is left.
    """
    faults: dict[int, str] = {}
    read = _of_csv if suffix_of(file) == ".csv" else _of_geojson
    names, ids, number, lat, lon, people = read(file, faults)
    check_places(lat, lon, faults)
    with np.errstate(invalid="ignore"):
        odd = ~((people >= 0.0) & (people <= MOST_PEOPLE))
    for i in np.flatnonzero(odd):
        what = "is missing" if np.isnan(people[i]) else f"is {num(people[i])}"
        faults.setdefault(int(i), f"population {what}; write a number of people")
    kept = [i for i in range(len(ids)) if i not in faults]
    rejected = tuple(
        Rejected(number[i], f"{ids[i].capitalize()}: {faults[i]}.") for i in sorted(faults)
    )
    if not kept:
        why = f" {rejected[0].reason}" if rejected else ""
        raise OutingError(f"{file.name} holds no town that can be used.{why}", file=str(file))
    return Towns(
        name=tuple(clean(names[i], LONGEST_NAME) or f"town, {ids[i]}" for i in kept),
        lat=lat[kept],
        lon=lon[kept],
        population=people[kept],
        source=file.name,
        rejected=rejected,
    )


_Read = tuple[list[str], list[str], list[int], "Floats", "Floats", "Floats"]


def _of_csv(file: Path, faults: dict[int, str]) -> _Read:

    needed = ("lat", "lon", "population")
    table = Table(file, ("name", *needed), needed)
    faults.update(table.faults)
    lat, lon, people = (numbers(table.column(key), key, faults) for key in needed)
    return table.column("name"), [f"row {n}" for n in table.lines], table.lines, lat, lon, people


def _of_geojson(file: Path, faults: dict[int, str]) -> _Read:

    properties, shapes, _ = opened(file, faults)
    spots = spots_of(shapes)
    for i, fault in spots.faults.items():
        faults.setdefault(i, fault)
    number = list(range(1, len(shapes) + 1))
    people = numbers([row.get("population") for row in properties], "population", faults)
    names = texts([row.get("name") for row in properties])
    return names, [f"feature {n}" for n in number], number, spots.lat, spots.lon, people
