"""From rows on disk by tile to parts: doubles gone, neighbours beside, names filled in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.geodesy import sphere_xyz_m
from backbearing.base.tile_order import place_on_curve
from backbearing.scouting.partitions.candidate_parts import PART_COLUMNS, REACH_M, write_part
from backbearing.scouting.partitions.spill import place_of_number
from backbearing.scouting.reading.kinds import OTHER

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.partitions.candidate_parts import CandidatePart
    from backbearing.scouting.partitions.spill import Spill
    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

MOST_OWN: Final = 50_000
"""Candidates of one part; a tile with more is cut from south to north."""

_LEARNED: Final = ("name", "named", "height_m", "width_m", "height_is_guess", "width_is_guess")


class Joined(NamedTuple):
    """What joining doubles comes to: rows that go, rising, and what others learn from them."""

    gone: NDArray[np.int64]
    learned: dict[int, dict[str, Any]]

    def mend(self, table: Any) -> Any:
        """Give some rows of the spill as they are after doubles are joined."""
        import pyarrow as pa

        rows = table["row"].to_numpy()
        table = table.filter(pa.array(~np.isin(rows, self.gone)))
        rows = table["row"].to_numpy()
        at = {i: self.learned[row] for i, row in enumerate(rows.tolist()) if row in self.learned}
        if not at:
            return table
        for key in _LEARNED:
            cells = table[key].to_pylist()
            for i, record in at.items():
                cells[i] = record[key]
            place = table.schema.get_field_index(key)
            kind = table.schema.field(key).type
            table = table.set_column(place, key, pa.chunked_array([pa.array(cells, kind)]))
        return table


def write_parts(grid: Grid, spill: Spill, folder: Path) -> list[CandidatePart]:
    """Write a part for every tile that holds a candidate, or several where they are many.

    Raises
    ------
    WriteRefusedError
        When the disk refuses.
    """
    numbers = spill.numbers()
    places = [place_of_number(grid, number) for number in numbers]
    curve = place_on_curve([p.tile_row for p in places], [p.tile_col for p in places])
    written: dict[tuple[int, int], int] = {}
    parts = []
    for k in np.lexsort((np.array(numbers), curve)):
        tile = places[k].tile_row, places[k].tile_col
        for frame in _frames(spill, numbers[k]):
            piece = written.get(tile, 0)
            parts.append(write_part(frame, folder, tile=tile, piece=piece))
            written[tile] = piece + 1
    return parts


def _frames(spill: Spill, number: int) -> Iterator[geopandas.GeoDataFrame]:
    """Candidates of one place with all that stands within reach, so many at a time."""
    table = spill.rows_of(number)
    candidate = np.flatnonzero(table["candidate"].to_numpy())
    lat, row = table["lat"].to_numpy(), table["row"].to_numpy()
    northward = candidate[np.lexsort((row[candidate], lat[candidate]))]
    count = -(-len(northward) // MOST_OWN)
    for own in np.array_split(northward, count) if count else []:
        yield _frame(_near(spill, _spots(table.take(own))), row[own])


def _near(spill: Spill, own: Floats) -> Any:
    """All rows within reach of some places, on the sphere in metres."""
    import pyarrow as pa
    from scipy.spatial import cKDTree

    low, high, tree = own.min(axis=0), own.max(axis=0), cKDTree(own)
    found = []
    for number in spill.boxes.near(low, high, REACH_M):
        table = spill.rows_of(number)
        spots = _spots(table)
        inside = ((spots >= low - REACH_M) & (spots <= high + REACH_M)).all(axis=1)
        rows = np.flatnonzero(inside)
        away, _ = tree.query(spots[rows], distance_upper_bound=REACH_M)
        found.append(table.take(rows[np.isfinite(away)]))
    return pa.concat_tables(found)


def _spots(table: Any) -> Floats:
    lat, lon = table["lat"].to_numpy(), table["lon"].to_numpy()
    return sphere_xyz_m(lat=lat, lon=lon).reshape(-1, 3)


def _frame(table: Any, own: NDArray[np.int64]) -> geopandas.GeoDataFrame:
    import geopandas

    frame = table.to_pandas()
    order = np.lexsort((frame["row"].to_numpy(), ~frame["candidate"].to_numpy()))
    frame = frame.iloc[order].reset_index(drop=True)
    word = frame["kind"].where(frame["kind"] != OTHER.name, "place")
    frame["name"] = frame["name"].where(frame["name"] != "", word + ", " + frame["id"])
    frame["own"] = np.isin(frame["row"].to_numpy(), own)
    points = geopandas.points_from_xy(frame["lon"], frame["lat"])
    columns = [name for name in PART_COLUMNS if name != "geometry"]
    return geopandas.GeoDataFrame(frame[columns], geometry=points, crs="EPSG:4326")
