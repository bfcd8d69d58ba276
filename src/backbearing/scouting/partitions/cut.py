"""Parts of candidates cut into parcels: what one worker works out at a time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.geodesy import sphere_xyz_m
from backbearing.base.tile_order import place_on_curve
from backbearing.scouting.partitions.candidate_parts import REACH_M
from backbearing.scouting.ranking.context import Standing
from backbearing.scouting.reading.candidate_table import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.partitions.candidate_parts import CandidatePart, CandidateParts

CELL_DEG: Final = 0.02
"""Candidates are visited by cells of this side, each beside the one before, so that those of a
parcel stand together and few others stand near them."""


@dataclass(frozen=True)
class ParcelName:
    """One parcel of a parts folder, before anything is read.

    Attributes
    ----------
    part : CandidatePart
    first, count : int
        Which of its own candidates, in the order in which they are visited.
    """

    part: CandidatePart
    first: int
    count: int

    @property
    def text(self) -> str:
        """``part-00001-00002-000-01500``: unlike that of any other parcel."""
        return f"{self.part.file.removesuffix('.parquet')}-{self.first:07d}"


@dataclass(frozen=True, eq=False)
class Parcel:
    """What travels to a worker: a slice of the candidates, and what stands near them.

    Attributes
    ----------
    name : str
    frame : geopandas.GeoDataFrame
        As `Candidates.frame`; any index.
    rows : ndarray of int64
        Their places in the file.
    standing : Standing
    """

    name: str
    frame: geopandas.GeoDataFrame
    rows: NDArray[np.int64]
    standing: Standing


def parcel_names(parts: CandidateParts, chunk: int) -> list[ParcelName]:
    """Name the parcels of a folder, of at most ``chunk`` candidates each; nothing is read.

    Tiles that follow one another lie side by side, so that they find the same ground at hand.
    """
    tiles = ([part.tile_row for part in parts.parts], [part.tile_col for part in parts.parts])
    order = np.argsort(place_on_curve(*tiles), kind="stable")
    return [
        ParcelName(part, first, min(chunk, part.own - first))
        for part in (parts.parts[i] for i in order)
        for first in range(0, part.own, chunk)
    ]


def cut(parts: CandidateParts, names: Sequence[ParcelName]) -> Iterator[Parcel]:
    """Give the parcels of these names, one part of the folder in memory at a time.

    Raises
    ------
    DamagedPartError
        For a part that is not what was written.
    """
    held: tuple[CandidatePart, _Opened] | None = None
    for name in names:
        if held is None or held[0] != name.part:
            held = None
            held = name.part, _Opened.of(parts.read(name.part))
        yield held[1].parcel(name)


@dataclass(frozen=True, eq=False)
class _Opened:
    """A part in memory: all its rows in order, and those that it answers for as visited."""

    frame: geopandas.GeoDataFrame
    standing: Standing
    visited: NDArray[np.intp]

    @classmethod
    def of(cls, frame: geopandas.GeoDataFrame) -> _Opened:
        own = np.flatnonzero(frame["own"].to_numpy() & frame["candidate"].to_numpy())
        lat, lon = frame.geometry.y.to_numpy()[own], frame.geometry.x.to_numpy()[own]
        cells = (np.floor(values / CELL_DEG) for values in (lat, lon))
        order = np.argsort(place_on_curve(*cells), kind="stable")
        return cls(frame, Standing.from_frame(frame), own[order])

    def parcel(self, name: ParcelName) -> Parcel:
        rows = self.visited[name.first : name.first + name.count]
        here = sphere_xyz_m(lat=self.standing.lat[rows], lon=self.standing.lon[rows])
        middle = here.mean(axis=0)
        reach = float(np.linalg.norm(here - middle, axis=1).max()) + REACH_M
        # In the order of the file, so that ties fall as they do on one machine.
        near = np.array(sorted(self.standing.tree.query_ball_point(middle, reach)), dtype=np.intp)
        some = self.frame.iloc[rows]
        places = some["row"].to_numpy(dtype=np.int64)
        return Parcel(name.text, some[[*COLUMNS, "geometry"]], places, self.standing.part(near))
