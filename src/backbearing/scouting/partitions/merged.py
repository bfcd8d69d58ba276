"""Ranked parts merged: the best of all, a later page, or those of a province.

Every part is sorted, best first. Parts are taken by their best score, and no more are opened
once so many rows are held that none of the rest can come before them; files and row groups that
lie elsewhere are skipped by the least and greatest values which Parquet keeps. What is held is
what is asked for and one part, however many there are.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import OutingError
from backbearing.base.geodesy import sphere_xyz_m
from backbearing.scouting.partitions.geoparquet import opened, points_of
from backbearing.scouting.partitions.ranked_part import MINUTES, ROW
from backbearing.scouting.ranking.rank_order import sort_key

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

MOST_ROWS: Final = 20_000
"""Rows that are given at once; each is some 10 kB in memory."""

MOST_AFTER: Final = 1_000_000
"""How far down a page may begin: so many scores are held meanwhile."""


@dataclass(frozen=True)
class Box:
    """Between which degrees; ``west`` above ``east`` crosses the antimeridian.

    Parameters
    ----------
    west, south, east, north : float

    Raises
    ------
    OutingError
        For what is no box on the globe.
    """

    west: float
    south: float
    east: float
    north: float

    def __post_init__(self) -> None:
        lon_ok = all(-180.0 <= v <= 180.0 for v in (self.west, self.east))
        if not (lon_ok and -90.0 <= self.south <= self.north <= 90.0):
            raise OutingError(
                "The box is none on the globe",
                hint="write west,south,east,north in degrees, such as -24.5,36.0,-23.0,37.2",
            )

    def holds(self, lon: Floats, lat: Floats) -> NDArray[np.bool_]:
        """Whether places lie within, the edges with them."""
        across = (
            (lon >= self.west) & (lon <= self.east)
            if self.west <= self.east
            else (lon >= self.west) | (lon <= self.east)
        )
        return np.asarray(across & (lat >= self.south) & (lat <= self.north))

    def meets(self, other: Box) -> bool:
        """Whether anything of another box, one that crosses no antimeridian, may lie within."""
        if other.north < self.south or other.south > self.north:
            return False
        if self.west <= self.east:
            return other.east >= self.west and other.west <= self.east
        return other.east >= self.west or other.west <= self.east


class Circle(NamedTuple):
    """All within so many metres of a place, as the crow flies."""

    lat: float
    lon: float
    radius_m: float

    def holds(self, lon: Floats, lat: Floats) -> NDArray[np.bool_]:
        """Whether places lie within."""
        middle = sphere_xyz_m(lat=np.array([self.lat]), lon=np.array([self.lon]))
        chord = np.linalg.norm(sphere_xyz_m(lat=lat, lon=lon) - middle, axis=1)
        radius = float(np.linalg.norm(middle))
        along = 2.0 * radius * np.arcsin(np.clip(chord / (2.0 * radius), 0.0, 1.0))
        return np.asarray(along <= self.radius_m)

    def meets(self, other: Box) -> bool:
        """Whether anything of a box may lie within: by a band of latitude alone."""
        reach = self.radius_m / DEGREE_M
        return other.south - reach <= self.lat <= other.north + reach


DEGREE_M: Final = 110_500.0
"""Less than any degree of latitude is long, so that a reach in degrees is not too short."""


@dataclass(frozen=True)
class Wanted:
    """Which rows of a ranking.

    Attributes
    ----------
    top : int
        How many.
    after : int
        So many that fit are passed over first: a later page.
    where : Box or Circle, optional
    failed : bool
        Also candidates that cannot work, which come last.

    Raises
    ------
    OutingError
        For more than are given at once.

    Examples
    --------
    >>> from backbearing.scouting import Wanted
    >>> second_page = Wanted(top=20, after=20)
    >>> second_page.failed
    False
    """

    top: int = 10
    after: int = 0
    where: Box | Circle | None = None
    failed: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.top <= MOST_ROWS:
            raise OutingError(
                f"{self.top:,} rows were asked for",
                hint=f"ask for 1 to {MOST_ROWS:,} at once, and for the next ones after them",
            )
        if not 0 <= self.after <= MOST_AFTER:
            raise OutingError(
                f"A page after {self.after:,} rows was asked for",
                hint=f"begin after 0 to {MOST_AFTER:,}",
            )


@dataclass(frozen=True)
class _Group:
    """A row group by its least and greatest values; ``key`` is that of its best row."""

    number: int
    rows: int
    key: float
    box: Box


@dataclass(frozen=True)
class _Part:
    path: Path
    groups: tuple[_Group, ...]
    ranked: int

    @property
    def rows(self) -> int:
        return sum(group.rows for group in self.groups)

    @property
    def key(self) -> float:
        return min((group.key for group in self.groups), default=1.0)


@dataclass(frozen=True, eq=False)
class Found:
    """Rows of a ranking, in its order.

    Attributes
    ----------
    frame : geopandas.GeoDataFrame
        As `Ranking.frame`.
    minutes : ndarray of uint16, shape (n, nights)
        Of each night by its best lens.
    done, ranked : int
        Candidates that have come home, and those of them that have a rank.
    """

    frame: geopandas.GeoDataFrame
    minutes: NDArray[np.uint16]
    done: int
    ranked: int


def find(files: Sequence[Path], wanted: Wanted) -> Found | None:
    """Merge ranked parts as far as is wanted; None where there is no part at all.

    Ranks are those among all candidates that have come home, wherever they lie.

    Raises
    ------
    DamagedPartError
        For a part that is not what was written.
    """
    parts = [_part(path) for path in files]
    if not parts:
        return None
    held = _best(parts, wanted)
    done, ranked = sum(part.rows for part in parts), sum(part.ranked for part in parts)
    frame = _rows(parts, held)
    before = _before(parts, held) + 1
    frame, minutes = _as_ranking(frame, before, held.key)
    return Found(frame, minutes, done, ranked)


@dataclass(frozen=True, eq=False)
class _Held:
    """Rows found so far: what they are sorted by, and where they stand; arrays of shape (n,)."""

    key: Floats
    row: Ints
    part: Ints
    place: Ints

    @classmethod
    def joined(cls, some: Sequence[_Held]) -> _Held:
        columns = zip(*((one.key, one.row, one.part, one.place) for one in some), strict=True)
        return cls(*(np.concatenate(column) for column in columns))

    def first(self, count: int) -> _Held:
        return self.at(np.lexsort((self.row, self.key))[:count])

    def at(self, rows: Any) -> _Held:
        return _Held(self.key[rows], self.row[rows], self.part[rows], self.place[rows])

    def __len__(self) -> int:
        return len(self.key)


def _best(parts: Sequence[_Part], wanted: Wanted) -> _Held:
    """Give the wanted rows in order, opening parts from the one with the best row on."""
    need = wanted.top + wanted.after
    none = np.zeros(0, dtype=np.int64)
    held, fresh = _Held(np.zeros(0), none, none, none), []
    worst = np.inf
    for number in sorted(range(len(parts)), key=lambda i: parts[i].key):
        if parts[number].key > worst or (parts[number].key > 0.0 and not wanted.failed):
            break
        fresh.append(_of_part(parts[number], number, wanted, worst))
        if sum(map(len, fresh)) >= need:
            held, fresh = _Held.joined([held, *fresh]).first(need), []
            worst = held.key[-1] if len(held) == need else np.inf
    return _Held.joined([held, *fresh]).first(need).at(slice(wanted.after, None))


def _of_part(part: _Part, number: int, wanted: Wanted, worst: float) -> _Held:
    """Give a part's rows that fit and may come before the worst that is held."""
    key, row, place = [np.zeros(0)], [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    start, where = 0, wanted.where
    with opened(part.path) as file:
        for group in part.groups:
            begins, start = start, start + group.rows
            if group.key > worst or (where is not None and not where.meets(group.box)):
                continue
            keys, rows, lon, lat = _light(file.read_row_group(group.number, columns=LIGHT))
            fits = np.ones(len(keys), dtype=np.bool_) if where is None else where.holds(lon, lat)
            fits &= keys <= worst
            if not wanted.failed:
                fits &= keys <= 0.0
            key.append(keys[fits])
            row.append(rows[fits])
            place.append(begins + np.flatnonzero(fits))
    places = np.concatenate(place)
    many = np.full(len(places), number, dtype=np.int64)
    return _Held(np.concatenate(key), np.concatenate(row), many, places)


LIGHT: Final = ["score", ROW, "bbox"]


def _light(table: Any) -> tuple[Floats, Ints, Floats, Floats]:
    """Sort key, place in the file, longitude and latitude of a table's rows."""
    boxes = table["bbox"].combine_chunks()
    score = table["score"].to_numpy().astype(np.float64)
    lon, lat = (boxes.field(name).to_numpy(zero_copy_only=False) for name in ("xmin", "ymin"))
    return sort_key(score), table[ROW].to_numpy().astype(np.int64), lon, lat


def _before(parts: Sequence[_Part], held: _Held) -> Ints:
    """How many of all rows come before each that is held."""
    count = np.zeros(len(held), dtype=np.int64)
    if not len(held):
        return count
    last = float(held.key.max())
    for part in parts:
        if part.key > last:
            continue
        with opened(part.path) as file:
            table = file.read(columns=["score", ROW])
        key = sort_key(table["score"].to_numpy().astype(np.float64))
        row = table[ROW].to_numpy()
        low, high = (np.searchsorted(key, held.key, side=side) for side in ("left", "right"))
        count += low
        for i in np.flatnonzero(high > low):
            count[i] += np.searchsorted(row[low[i] : high[i]], held.row[i])
    return count


def _rows(parts: Sequence[_Part], held: _Held) -> geopandas.GeoDataFrame:
    """Read all columns of the rows that are held, in their order."""
    import pandas as pd

    frames, order = [], []
    for number in np.unique(held.part).tolist():
        mine = np.flatnonzero(held.part == number)
        frames.append(_taken(parts[number], held.place[mine]))
        order.append(mine)
    if not frames:
        return _taken(parts[0], np.zeros(0, dtype=np.int64))
    joined = pd.concat(frames, ignore_index=True) if len(frames) > 1 else frames[0]
    back = np.argsort(np.concatenate(order), kind="stable")
    return joined.iloc[back].reset_index(drop=True)


def _taken(part: _Part, places: Ints) -> geopandas.GeoDataFrame:
    ends = np.cumsum([group.rows for group in part.groups])
    groups = np.searchsorted(ends, places, side="right")
    needed = np.unique(groups)
    with opened(part.path) as file:
        table = file.read_row_groups([part.groups[i].number for i in needed.tolist()])
        # Where each row stands among the groups that were read.
        sizes = np.array([part.groups[i].rows for i in needed.tolist()], dtype=np.int64)
        begins = dict(zip(needed.tolist(), (np.cumsum(sizes) - sizes).tolist(), strict=True))
        first = ends - [group.rows for group in part.groups]
        at = [begins[g] + int(p - first[g]) for g, p in zip(groups.tolist(), places, strict=True)]
        return points_of(table.take(np.array(at, dtype=np.int64)))


def _as_ranking(
    frame: geopandas.GeoDataFrame, rank: Ints, key: Floats
) -> tuple[geopandas.GeoDataFrame, NDArray[np.uint16]]:
    """Put rank numbers where a ranking has them, and take the minutes out."""
    import pandas as pd

    nights = [np.asarray(one, dtype=np.uint16) for one in frame[MINUTES]]
    minutes = np.stack(nights) if nights else np.zeros((0, 0), dtype=np.uint16)
    numbers = pd.array(np.where(key <= 0.0, rank, 0), dtype="Int64")
    numbers[key > 0.0] = pd.NA
    frame = frame.drop(columns=[ROW, MINUTES])
    frame.insert(list(frame.columns).index("geometry") + 1, "rank", numbers)
    return frame, minutes


def _part(path: Path) -> _Part:
    with opened(path) as file:
        told = file.metadata
        columns = {told.schema.column(i).path: i for i in range(told.num_columns)}
        groups, ranked = [], 0
        for number in range(told.num_row_groups):
            group = told.row_group(number)
            score = group.column(columns["score"]).statistics
            ranked += score.num_values
            edges = {name: group.column(columns[f"bbox.{name}"]).statistics for name in _EDGES}
            box = Box(edges["xmin"].min, edges["ymin"].min, edges["xmax"].max, edges["ymax"].max)
            key = -float(score.max) if score.has_min_max else 1.0
            groups.append(_Group(number, group.num_rows, key, box))
        return _Part(path, tuple(groups), ranked)


_EDGES: Final = ("xmin", "ymin", "xmax", "ymax")
