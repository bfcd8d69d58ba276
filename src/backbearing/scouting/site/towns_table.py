"""Towns from a table or from GeoJSON points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.numbers import num
from backbearing.plan.ranking import Rejected
from backbearing.scouting.reading.cleaning import LONGEST_NAME, check_places, clean
from backbearing.scouting.reading.csv_table import Table
from backbearing.scouting.reading.geojson import opened
from backbearing.scouting.reading.limits import suffix_of
from backbearing.scouting.reading.raw_table import numbers, texts
from backbearing.scouting.reading.shapes import spots_of
from backbearing.scouting.site.towns import Towns

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_PEOPLE = 50_000_000.0


def towns_of(file: Path) -> Towns:
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
