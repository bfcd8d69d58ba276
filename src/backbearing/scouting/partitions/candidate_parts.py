"""Candidates on disk in parts, each inside one tile of the raster, with what stands near.

A *parts folder* holds GeoParquet files and ``parts.json``. Each file holds candidates of one
tile of 1,024 x 1,024 cells (the ring of tiles about the raster takes whatever lies off it) and,
so that it can be worked out by itself, whatever stands within `REACH_M` of any of them. Several
files may lie in one tile. The columns are those of `Candidates.frame` (``COLUMNS`` and the
geometry, points in EPSG:4326), and:

``row`` (int64)
    The place in the file of candidates, rising with it, no two alike. Ties of a ranking, and
    the order in which things are counted, go by it.
``candidate`` (bool)
    Whether it is a possible subject; else it only stands in the way.
``own`` (bool)
    Whether this file answers for it. A candidate is ``own`` in exactly one file; what is not
    ``own``, or no candidate, is there for the frames alone.

Rows are settled: checked, sizes filled, doubles joined. ``parts.json`` names the files, and is
written last: a folder without it is unfinished.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.files import made_folder, write_file
from backbearing.base.geodesy import sphere_xyz_m
from backbearing.plan.ranking import Rejected
from backbearing.scouting.partitions.geoparquet import (
    damaged,
    opened,
    read_parquet,
    write_parquet,
)
from backbearing.scouting.ranking.candidate_stands import LONGEST_M
from backbearing.scouting.ranking.clutter import FARTHEST_M
from backbearing.scouting.ranking.raster_window import TILE
from backbearing.scouting.reading.candidate_table import COLUMNS

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

FORMAT: Final = "backbearing-candidate-parts"
VERSION: Final = 1
INDEX: Final = "parts.json"

REACH_M: Final = LONGEST_M + FARTHEST_M + 100.0
"""How far from a candidate a thing may stand and still be in a frame."""

PART_COLUMNS: Final = (*COLUMNS, "row", "candidate", "own")
"""Columns of a part, before the geometry."""

MOST_TOLD: Final = 1000
"""Rows left out that are told one by one; the rest are only counted."""

MIDDLE_BINS: Final = 100_000
"""Into so many bins rows are counted to find the one in the middle."""


@dataclass(frozen=True)
class CandidatePart:
    """One file of a parts folder.

    Attributes
    ----------
    file : str
        Its name in the folder.
    tile_row, tile_col : int
        The raster's tile, from 0; -1 and one past the last for what lies off the raster.
    own : int
        Candidates that it answers for.
    rows : int
        All rows.
    """

    file: str
    tile_row: int
    tile_col: int
    own: int
    rows: int


@dataclass(frozen=True)
class PartsAbout:
    """What is known of the file of candidates as a whole.

    Attributes
    ----------
    source : str
        The file's name.
    digest : str
        Of its content and of how it was cut; another file has another.
    notes : tuple of str
        What was settled for the whole file, in sentences.
    rejected : tuple of Rejected
        The first 1,000 rows left out, or joined with another.
    rejected_count : int
        All of them.
    """

    source: str
    digest: str
    notes: tuple[str, ...] = ()
    rejected: tuple[Rejected, ...] = ()
    rejected_count: int = 0


@dataclass(frozen=True)
class CandidateParts:
    """A parts folder, opened.

    Attributes
    ----------
    folder : Path
    about : PartsAbout
    parts : tuple of CandidatePart
    middle_lat, middle_lon : float
        Place of the candidate in the middle of the file, degrees: its time zone is used where
        the outing names none. NaN when there is no candidate.
    """

    folder: Path
    about: PartsAbout
    parts: tuple[CandidatePart, ...]
    middle_lat: float
    middle_lon: float

    def __len__(self) -> int:
        return sum(part.own for part in self.parts)

    def read(self, part: CandidatePart) -> geopandas.GeoDataFrame:
        """Read one part, candidates first, each sort in the order of the file.

        Raises
        ------
        DamagedPartError
            When it is not what ``parts.json`` says.
        """
        path = self.folder / part.file
        frame = read_parquet(path)
        missing = [name for name in (*PART_COLUMNS, "geometry") if name not in frame]
        if missing:
            raise damaged(path, f"it has no column {missing[0]}")
        if len(frame) != part.rows or int((frame["own"] & frame["candidate"]).sum()) != part.own:
            raise damaged(path, "it holds other rows than parts.json says")
        order = np.lexsort((frame["row"].to_numpy(), ~frame["candidate"].to_numpy()))
        return frame.iloc[order].reset_index(drop=True)


def tiles_of_places(grid: Grid, *, lat: Floats, lon: Floats) -> NDArray[np.int64]:
    """Give the tile of each place, shape (n, 2): row and column of the raster's tiles.

    Whatever lies off the raster is in the ring of tiles about it.
    """
    pixels = grid.pixels(lat=lat, lon=lon)
    last = np.ceil(np.array(grid.shape) / TILE).astype(np.int64)
    found = []
    for values, most in zip((pixels.row, pixels.col), last, strict=True):
        held = np.clip(np.nan_to_num(values / TILE, nan=-1.0, posinf=-1.0, neginf=-1.0), -1, most)
        found.append(np.floor(held).astype(np.int64))
    return np.stack(found, axis=1)


def write_part(
    frame: geopandas.GeoDataFrame, folder: Path, *, tile: tuple[int, int], piece: int = 0
) -> CandidatePart:
    """Write one file of a parts folder at once.

    Parameters
    ----------
    frame : geopandas.GeoDataFrame
        `PART_COLUMNS` and the geometry.
    folder : Path
        It exists.
    tile : tuple of int
        Row and column of the raster's tile.
    piece : int
        For one of several files of the same tile.

    Raises
    ------
    WriteRefusedError
        When the disk refuses.
    """
    name = f"part-{tile[0]:05d}-{tile[1]:05d}-{piece:03d}.parquet"
    write_parquet(frame[[*PART_COLUMNS, "geometry"]], folder / name)
    own = int((frame["own"] & frame["candidate"]).sum())
    return CandidatePart(name, int(tile[0]), int(tile[1]), own, len(frame))


def seal_parts(folder: Path, parts: Sequence[CandidatePart], about: PartsAbout) -> CandidateParts:
    """Write ``parts.json``, which makes the folder whole, and open it.

    Raises
    ------
    WriteRefusedError
        When the disk refuses.
    """
    parts = sorted(parts, key=lambda part: (part.tile_row, part.tile_col, part.file))
    lat, lon = _middle(folder, parts)
    document = {
        "format": FORMAT,
        "version": VERSION,
        "tile_cells": TILE,
        "reach_m": REACH_M,
        "candidates": sum(part.own for part in parts),
        "middle": None if np.isnan(lat) else [lat, lon],
        **asdict(about),
        "rejected": [asdict(one) for one in about.rejected[:MOST_TOLD]],
        "parts": [asdict(part) for part in parts],
    }
    text = json.dumps(document, ensure_ascii=True, indent=1)
    write_file(folder / INDEX, f"{text}\n", overwrite=True)
    return read_candidate_parts(folder)


def write_candidate_parts(
    candidates: Candidates, grid: Grid, folder: Path, *, digest: str
) -> CandidateParts:
    """Write candidates that fit in memory as a parts folder, made where it is missing.

    Parameters
    ----------
    candidates : Candidates
        As `read_candidates` gives them.
    grid : Grid
        Of the raster that they are ranked on.
    folder : Path
    digest : str
        By which the folder is known again: see `PartsAbout`.

    Raises
    ------
    WriteRefusedError
        When the folder cannot be made or written.
    """
    made_folder(folder)
    things = _things(candidates)
    parts = [write_part(frame, folder, tile=tile) for tile, frame in _by_tile(things, grid)]
    rejected = candidates.rejected
    about = PartsAbout(
        candidates.source, digest, candidates.notes, rejected[:MOST_TOLD], len(rejected)
    )
    return seal_parts(folder, parts, about)


def read_candidate_parts(folder: Path) -> CandidateParts:
    """Open a parts folder; of its files only ``parts.json`` is read.

    Raises
    ------
    DamagedPartError
        When that is missing, or not what was written.
    """
    path = folder / INDEX
    try:
        found: Any = json.loads(path.read_text(encoding="utf-8"))
        if (found["format"], found["version"]) != (FORMAT, VERSION):
            raise damaged(path, "it is of another format or version")
        lat, lon = found["middle"] or (float("nan"), float("nan"))
        about = PartsAbout(
            str(found["source"]),
            str(found["digest"]),
            tuple(map(str, found["notes"])),
            tuple(Rejected(int(one["row"]), str(one["reason"])) for one in found["rejected"]),
            int(found["rejected_count"]),
        )
        parts = tuple(_part(one) for one in found["parts"])
        return CandidateParts(folder, about, parts, float(lat), float(lon))
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as problem:
        raise damaged(path, problem) from problem


def _part(told: Any) -> CandidatePart:
    name = str(told["file"])
    if "/" in name or "\\" in name or not name.endswith(".parquet"):
        message = f"{name[:60]!r} is no name of a part"
        raise ValueError(message)
    return CandidatePart(name, *(int(told[key]) for key in ("tile_row", "tile_col", "own", "rows")))


def _things(candidates: Candidates) -> geopandas.GeoDataFrame:
    """Candidates and whatever else stands, as one table with ``row`` and ``candidate``."""
    import pandas as pd

    many = len(candidates.frame)
    ours = candidates.frame.assign(row=np.arange(many, dtype=np.int64), candidate=True)
    rest = candidates.others.assign(
        row=np.arange(many, many + len(candidates.others), dtype=np.int64), candidate=False
    )
    return pd.concat([ours, rest], ignore_index=True) if len(rest) else ours


def _by_tile(
    things: geopandas.GeoDataFrame, grid: Grid
) -> Iterator[tuple[tuple[int, int], geopandas.GeoDataFrame]]:
    from scipy.spatial import cKDTree

    lat = np.asarray(things.geometry.y, dtype=np.float64)
    lon = np.asarray(things.geometry.x, dtype=np.float64)
    candidate = things["candidate"].to_numpy(dtype=np.bool_)
    spots = sphere_xyz_m(lat=lat, lon=lon)
    tree = cKDTree(spots)
    tiles = tiles_of_places(grid, lat=lat, lon=lon)
    for tile in np.unique(tiles[candidate], axis=0).tolist():
        here = np.flatnonzero((tiles == tile).all(axis=1) & candidate)
        middle = spots[here].mean(axis=0)
        reach = float(np.linalg.norm(spots[here] - middle, axis=1).max()) + REACH_M
        near = np.array(sorted(tree.query_ball_point(middle, reach)), dtype=np.intp)
        away, _ = cKDTree(spots[here]).query(spots[near], distance_upper_bound=REACH_M)
        rows = near[np.isfinite(away)]
        frame = things.iloc[rows].assign(own=np.isin(rows, here))
        yield (tile[0], tile[1]), frame


def _middle(folder: Path, parts: Sequence[CandidatePart]) -> tuple[float, float]:
    """Place of the candidate in the middle of the file; no more than a part is held."""
    count = sum(part.own for part in parts)
    if not count:
        return float("nan"), float("nan")
    spans = [(rows[0], rows[-1] + 1) for _, rows in _own_rows(folder, parts) if len(rows)]
    low, high = min(span[0] for span in spans), max(span[1] for span in spans)
    before = count // 2
    while high - low > 1:
        edges = np.unique(np.linspace(low, high, MIDDLE_BINS + 1).astype(np.int64))
        counts = np.zeros(len(edges) - 1, dtype=np.int64)
        for _, rows in _own_rows(folder, parts):
            counts += np.diff(np.searchsorted(rows, edges))
        ends = np.cumsum(counts)
        held = int(np.searchsorted(ends, before, side="right"))
        before -= int(ends[held] - counts[held])
        low, high = int(edges[held]), int(edges[held + 1])
    found = next(part for part, rows in _own_rows(folder, parts) if low in rows)
    frame = read_parquet(folder / found.file)
    place = frame.geometry[frame["row"] == low].iloc[0]
    return float(place.y), float(place.x)


def _own_rows(
    folder: Path, parts: Sequence[CandidatePart]
) -> Iterator[tuple[CandidatePart, NDArray[np.int64]]]:
    """Rows of the candidates that each part answers for, rising."""
    for part in parts:
        with opened(folder / part.file) as file:
            table = file.read(columns=["row", "own", "candidate"])
        keep = table["own"].to_numpy() & table["candidate"].to_numpy()
        yield part, np.sort(table["row"].to_numpy()[keep])
