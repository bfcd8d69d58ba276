"""Only the piece of ground that is needed, joined of its tiles into one small GeoTIFF.

Tiles that are here are read from their files, others by range requests. Where tiles differ in
width, as they do on both sides of some parallels, the wider columns are interpolated between pixel
centres onto the narrower ones, which is what the bilinear surface between them says anyway.
"""

from __future__ import annotations

import math
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.constants import LEAST_M_PER_LAT_DEG
from backbearing.base.errors import FetchError
from backbearing.base.files import check_free
from backbearing.base.geodesy import metres_per_degree
from backbearing.base.numbers import num
from backbearing.fetching.download import Manner
from backbearing.fetching.fetch import TileState
from backbearing.fetching.sea_tile import SEA, write_raster
from backbearing.fetching.tile_reader import Nothing, Sea, TileReader, of_file, of_server
from backbearing.fetching.tile_scheme import Corner

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager
    from pathlib import Path

    from backbearing.fetching.fetch import TileFound
    from backbearing.fetching.report import GroundReport
    from backbearing.terrain.reading.sources import Heights

MOST_CELLS: Final = 150_000_000


class Piece(NamedTuple):
    """What was written, and of which tiles nothing was found."""

    path: Path
    rows: int
    cols: int
    missing: tuple[Corner, ...]


@dataclass(frozen=True)
class _Frame:
    """Rows and columns wanted, counted from 90 N and from a whole degree in the west."""

    rows_a_degree: int
    cols_a_degree: int
    first_lon: int
    rows: range
    cols: range


def window_name(report: GroundReport) -> str:
    """Name the piece after its place and reach."""
    lat, lon = report.lat, report.lon
    north, east = "S" if lat < 0 else "N", "W" if lon < 0 else "E"
    reach = f"{num(report.within_m / 1000.0)}km"
    return f"ground_{num(abs(lat), 4)}{north}_{num(abs(lon), 4)}{east}_{reach}.tif"


def write_window(
    report: GroundReport,
    path: Path,
    *,
    from_server: bool,
    overwrite: bool = False,
    told: Callable[[int, int], None] = lambda done, of: None,
    manner: Manner | None = None,
) -> Piece:
    """Write the ground within reach of the report's place.

    Parameters
    ----------
    report : GroundReport
    path : Path
        Written aside, then renamed.
    from_server : bool
        Whether tiles that are not here may be asked for.
    overwrite : bool, optional
        Whether a file in the way may be replaced.
    told : callable, optional
        Is told how many tiles are done, and of how many.
    manner : Manner, optional
        How servers are treated.

    Raises
    ------
    FetchError
        When a tile cannot be had, or the piece has too many cells.
    WriteRefusedError
        When a file is in the way.
    """
    check_free(path, overwrite=overwrite)
    if not report.source.scheme.rows:
        raise FetchError(
            f"A piece of {report.source.name} cannot be cut out: its scheme leaves open how large "
            "tiles are",
            hint="leave --window out",
        )
    frame = _frame(report)
    opened = partial(_reader, report=report, manner=manner or Manner(), from_server=from_server)
    heights, missing = _joined(report, frame, opened, told)
    _write(heights, frame, report, path)
    rows, cols = heights.shape
    return Piece(path, rows, cols, missing)


def _joined(
    report: GroundReport,
    frame: _Frame,
    opened: Callable[[TileFound], AbstractContextManager[TileReader]],
    told: Callable[[int, int], None],
) -> tuple[Heights, tuple[Corner, ...]]:
    """Join the tiles, those between two parallels at a time; give those that are missing too."""
    heights = np.full((len(frame.rows), len(frame.cols)), np.nan, np.float32)
    missing: list[Corner] = []
    done, land = 0, 0
    for lat in sorted({one.corner.lat for one in report.tiles}, reverse=True):
        tiles = [one for one in report.tiles if one.corner.lat == lat]
        with ExitStack() as held:
            readers = {one.corner: held.enter_context(opened(one)) for one in tiles}
            missing += [corner for corner, reader in readers.items() if isinstance(reader, Nothing)]
            land += sum(not isinstance(reader, Nothing | Sea) for reader in readers.values())
            strip = {corner.lon: reader for corner, reader in readers.items()}
            _fill(heights, lat, strip, report, frame)
        done += len(tiles)
        told(done, len(report.tiles))
    if not land:
        raise FetchError(
            "No tile of land was found within reach",
            hint="look at the place, and at the source's template",
        )
    return heights, tuple(missing)


def _frame(report: GroundReport) -> _Frame:
    """Which rows and columns lie within reach, in the finest step of the tiles."""
    scheme = report.source.scheme
    cols = max(scheme.cols(one.corner) for one in report.tiles)
    high = report.within_m / LEAST_M_PER_LAT_DEG
    south, north = max(report.lat - high, -90.0), min(report.lat + high, 90.0)
    narrowest = float(metres_per_degree(max(abs(south), abs(north)))[0])
    wide = report.within_m / narrowest if narrowest > 1.0 else 360.0
    if wide > 90.0:
        raise FetchError("So near a pole no piece is cut out", hint="leave --window out")
    first_lon = math.floor(report.lon - wide) - 1
    a_degree = scheme.rows
    rows = range(math.floor((90.0 - north) * a_degree), math.ceil((90.0 - south) * a_degree) + 1)
    wanted = range(
        math.floor((report.lon - wide - first_lon) * cols),
        math.ceil((report.lon + wide - first_lon) * cols) + 1,
    )
    if len(rows) * len(wanted) > MOST_CELLS:
        raise FetchError(
            f"Within {num(report.within_m / 1000.0)} km lie {len(rows) * len(wanted):,} cells, "
            f"more than the {MOST_CELLS:,} of one piece",
            hint="ask for fewer kilometres, or leave --window out",
        )
    return _Frame(a_degree, cols, first_lon, rows, wanted)


@contextmanager
def _reader(
    one: TileFound, report: GroundReport, manner: Manner, *, from_server: bool
) -> Iterator[TileReader]:
    """Open a tile where it is: in its file, on the server, or nowhere."""
    source = report.source
    if one.path is not None:
        yield Sea() if one.state is TileState.SEA else of_file(one.path)
    elif one.state is TileState.MISSING:
        yield Nothing()
    elif not from_server:
        raise FetchError(f"The tile {one.corner.name} is not here", hint="add --fetch, or --from")
    elif not source.template:
        raise FetchError(f"Tiles of {source.name} are only taken by hand", hint="add --from")
    else:
        with of_server(source, one.corner, manner) as reader:
            yield reader


def _fill(
    heights: Heights,
    lat: int,
    readers: dict[int, TileReader],
    report: GroundReport,
    frame: _Frame,
) -> None:
    """Put the tiles between two parallels into the piece."""
    a_degree = frame.rows_a_degree
    top = (89 - lat) * a_degree
    rows = range(max(frame.rows.start, top), min(frame.rows.stop, top + a_degree))
    if not rows:
        return
    cols = report.source.scheme.cols(Corner(lat, 0))
    # In the tiles' own columns, one more on either side to interpolate from.
    scale = cols / frame.cols_a_degree
    first = math.floor(frame.cols.start * scale) - 1
    own = range(max(first, 0), math.ceil(frame.cols.stop * scale) + 2)
    strip = np.full((len(rows), len(own)), np.nan, np.float32)
    for lon, reader in readers.items():
        start = ((lon - frame.first_lon) % 360) * cols
        part = range(max(own.start, start), min(own.stop, start + cols))
        if part:
            strip[:, part.start - own.start : part.stop - own.start] = reader.read(
                slice(rows.start - top, rows.stop - top),
                slice(part.start - start, part.stop - start),
            )
    at = np.asarray(frame.cols, dtype=np.float64) * scale - own.start
    down = rows.start - frame.rows.start
    heights[down : down + len(rows)] = _at_columns(strip, at)


def _at_columns(strip: Heights, at: np.ndarray) -> Heights:
    """Heights between columns; open sea stays sea where the nearer column is."""
    left = np.clip(np.floor(at + 1e-9).astype(np.intp), 0, strip.shape[1] - 2)
    share = (at - left).astype(np.float32)
    share[np.abs(share) < 1e-6] = 0.0
    if not share.any():
        return strip[:, left]
    one, two = strip[:, left], strip[:, left + 1]
    between = np.where(share == 0.0, one, one + (two - one) * share)
    nearer = np.where(share < 0.5, one, two)
    sea = (nearer == 0.0) & np.signbit(nearer)
    return np.where(sea, np.float32(-0.0), np.where(between == 0.0, np.float32(0.0), between))


def _write(heights: Heights, frame: _Frame, report: GroundReport, path: Path) -> None:
    """Write the piece aside, then in its place."""
    from affine import Affine

    step_lat, step_lon = 1.0 / frame.rows_a_degree, 1.0 / frame.cols_a_degree
    west = frame.first_lon + (frame.cols.start - 0.5) * step_lon
    north = 90.0 - (frame.rows.start - 0.5) * step_lat
    transform = Affine(step_lon, 0.0, west, 0.0, -step_lat, north)
    sea = (heights == 0.0) & np.signbit(heights)
    heights[sea] = SEA
    write_raster(path, heights, transform, report.source.licence, sea=bool(sea.any()))
