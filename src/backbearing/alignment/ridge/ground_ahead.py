"""The ground that an area's sweeps look over: how much of it is held, for which bearings."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.ridge.area_cells import AreaPart, corner_of
from backbearing.base.geodesy import point_along
from backbearing.terrain.chunks import SQUARE, STRIP
from backbearing.terrain.grid import Grid
from backbearing.terrain.reading.sources import extremes
from backbearing.terrain.skyline.sweep import ground_crossed, horizon_map

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.ridge.area_cells import Look
    from backbearing.plan.clearance import AreaCells
    from backbearing.terrain.elevation import Elevation

    Rectangle = tuple[slice, slice]
    Singles = NDArray[np.float32]
    Squares = NDArray[np.bool_]

BESIDE_CELLS: Final = 16
"""Cells to either side of an area that its near ground may reach into."""

MOST_HELD: Final = 48_000_000
"""Cells of a large raster read for several bearings together: 192 MB in single precision."""

LARGEST_BOX: Final = 130_000_000
"""Cells of the rectangle round them: more ground on it is swept than the bearings need."""


@dataclass(frozen=True, slots=True)
class GroundGroup:
    """Ground that is looked over on a few bearings in turn, as one raster.

    Attributes
    ----------
    first, past : int
        Numbers of the first of them, and past the last.
    rows, cols : slice
        The rectangle of the whole raster.
    in_squares : bool
        Whether only the squares of it that are seen are read.
    highest_m : float or None
        Highest ground of what all of the area sees there; None where that is still to be found
        in what is read.
    """

    first: int
    past: int
    rows: slice
    cols: slice
    in_squares: bool
    highest_m: float | None = None


def ground_groups(
    cells: AreaCells, look: Look, bearings_deg: Sequence[float]
) -> Iterator[GroundGroup]:
    """Tell on what ground an area's bearings are swept; it hangs on the whole area alone."""
    needed = [
        _with_ground_ahead(cells, look.elevation, bearing, look.reach_m) for bearing in bearings_deg
    ]
    past = 0
    while past < len(needed):
        first, box = past, needed[past]
        past = first + 1
        while past < len(needed):
            joint = _joint(box, needed[past])
            if _count(joint) > LARGEST_BOX:
                break
            box, past = joint, past + 1
        in_squares = look.elevation.in_pieces and not _is_whole(box, look.elevation)
        if in_squares:
            rows, cols = (slice(one.start // STRIP * STRIP, one.stop) for one in box)
            box = rows, cols
            past = _fitting(cells, look.elevation, box, bearings_deg, first, past)
        yield GroundGroup(first, past, *box, in_squares)


def with_highest(
    groups: Iterable[GroundGroup], cells: AreaCells, look: Look, bearings_deg: Sequence[float]
) -> tuple[GroundGroup, ...]:
    """Find each group's highest ground, reading what the whole area sees, one group at a time.

    Those who read less of a group, for a part of the area, take their heights from the same
    level then, and see what the others see to the last bit.
    """
    everything = AreaPart.whole(cells)
    return tuple(
        replace(group, highest_m=_read(cells, look, bearings_deg, group, everything).highest_m)
        if group.in_squares
        else group
        for group in groups
    )


class GroundAhead:
    """What an area's sweeps look over: read once for as many bearings in turn as it serves.

    Parameters
    ----------
    cells : AreaCells
    look : Look
    bearings_deg : sequence of float
        Those that will be asked for, in order.
    part : AreaPart, optional
        Only these cells are answered; all when left out.
    groups : sequence of GroundGroup, optional
        As `with_highest` gives them, for a part.
    """

    def __init__(
        self,
        cells: AreaCells,
        look: Look,
        bearings_deg: Sequence[float],
        part: AreaPart | None = None,
        groups: Sequence[GroundGroup] | None = None,
    ) -> None:
        self._cells, self._look = cells, look
        self._part = AreaPart.whole(cells) if part is None else part
        self._bearings, self._next = tuple(bearings_deg), 0
        self._groups = iter(
            ground_groups(cells, look, self._bearings) if groups is None else groups
        )
        self._held: _Held | None = None
        self._past = 0

    def skyline(self) -> Singles:
        """Sweep the next bearing; shape as the part, float32 degrees, NaN where unknown.

        Only the ground that the part can see on it, and on those after it, is looked at.
        """
        number, self._next = self._next, self._next + 1
        if self._held is None or number >= self._past:
            # What is held goes before more is read.
            self._held = None
            group = next(self._groups)
            self._held = _read(self._cells, self._look, self._bearings, group, self._part)
            self._past = group.past
        held, look = self._held, self._look
        return horizon_map(
            held.ground,
            self._bearings[number],
            eye_height_m=look.eye_height_m,
            refraction_k=look.refraction_k,
            max_distance_m=look.reach_m,
            window=_place_in(self._part.of_raster(self._cells), held.rows, held.cols),
            highest_m=held.highest_m,
        )


class _Held(NamedTuple):
    """Ground that is held, and where it lies in the raster."""

    ground: Elevation
    rows: slice
    cols: slice
    highest_m: float | None


def _read(
    cells: AreaCells,
    look: Look,
    bearings_deg: Sequence[float],
    group: GroundGroup,
    part: AreaPart,
) -> _Held:
    """Read the ground that a part sees on a group's bearings."""
    whole, rows, cols = look.elevation, group.rows, group.cols
    if not group.in_squares:
        all_of_it = _is_whole((rows, cols), whole)
        return _Held(whole if all_of_it else whole.part(rows, cols), rows, cols, None)
    window = _place_in(part.of_raster(cells), rows, cols)
    grid = _grid(whole, rows, cols)
    wanted = ground_crossed(grid, bearings_deg[group.first], window, SQUARE)
    for bearing in bearings_deg[group.first + 1 : group.past]:
        wanted = wanted | ground_crossed(grid, bearing, window, SQUARE)
    ground = whole.part(rows, cols, wanted)
    highest = _highest_m(ground, wanted) if group.highest_m is None else group.highest_m
    return _Held(ground, rows, cols, highest)


def _fitting(
    cells: AreaCells,
    elevation: Elevation,
    box: Rectangle,
    bearings_deg: Sequence[float],
    first: int,
    past: int,
) -> int:
    """Past the last of the bearings whose ground on a box can be held together."""
    window = _place_in(AreaPart.whole(cells).of_raster(cells), *box)
    grid = _grid(elevation, *box)
    found: Squares | None = None
    for number in range(first, past):
        crossed = ground_crossed(grid, bearings_deg[number], window, SQUARE)
        joint = crossed if found is None else found | crossed
        if found is not None and joint.sum() * SQUARE**2 > MOST_HELD:
            return number
        found = joint
    return past


def _grid(elevation: Elevation, rows: slice, cols: slice) -> Grid:
    shape = rows.stop - rows.start, cols.stop - cols.start
    return Grid(shape, corner_of(elevation, rows, cols), elevation.crs)


def _is_whole(box: Rectangle, elevation: Elevation) -> bool:
    rows, cols = box
    return (rows.stop - rows.start, cols.stop - cols.start) == elevation.shape


def _place_in(part: Rectangle, rows: slice, cols: slice) -> Rectangle:
    """Rows and columns of a raster's rectangle in another that holds it."""
    down, across = part
    return (
        slice(down.start - rows.start, down.stop - rows.start),
        slice(across.start - cols.start, across.stop - cols.start),
    )


def _highest_m(ground: Elevation, wanted: Squares) -> float:
    """Highest ground of the squares that were read; NaN where nothing is known."""
    heights, highest = ground.heights_m, -math.inf
    for down, across in np.argwhere(wanted).tolist():
        square = heights[
            down * SQUARE : (down + 1) * SQUARE, across * SQUARE : (across + 1) * SQUARE
        ]
        highest = max(highest, extremes(square)[1])
    return highest if math.isfinite(highest) else math.nan


def _joint(one: Rectangle, two: Rectangle) -> Rectangle:
    rows, cols = (
        slice(min(a.start, b.start), max(a.stop, b.stop)) for a, b in zip(one, two, strict=True)
    )
    return rows, cols


def _count(one: Rectangle) -> int:
    rows, cols = one
    return int((rows.stop - rows.start) * (cols.stop - cols.start))


def _with_ground_ahead(
    cells: AreaCells, elevation: Elevation, azimuth_deg: float, reach_m: float
) -> tuple[slice, slice]:
    """Rows and columns that also hold the ground ahead, out to the reach."""
    rows, cols = elevation.shape
    whole = slice(0, rows), slice(0, cols)
    if cells.shape == (rows, cols):
        return whole
    grid = elevation.grid
    row = np.array([cells.row0, cells.row0, cells.row1 - 1, cells.row1 - 1], dtype=np.float64)
    col = np.array([cells.col0, cells.col1 - 1] * 2, dtype=np.float64)
    here = grid.places(row=row, col=col)
    ways = np.linspace(0.0, reach_m, 5)[1:, None]
    end = point_along(lat=here.lat, lon=here.lon, azimuth_deg=azimuth_deg, distance_m=ways)
    there = grid.pixels(lat=end.lat, lon=end.lon)
    row = np.concatenate([row, np.ravel(there.row)])
    col = np.concatenate([col, np.ravel(there.col)])
    if not (np.isfinite(row).all() and np.isfinite(col).all()):
        return whole
    return (
        slice(
            max(0, math.floor(row.min()) - BESIDE_CELLS),
            min(rows, math.ceil(row.max()) + BESIDE_CELLS + 1),
        ),
        slice(
            max(0, math.floor(col.min()) - BESIDE_CELLS),
            min(cols, math.ceil(col.max()) + BESIDE_CELLS + 1),
        ),
    )
