"""The cells of an area: which part of a raster they are, and what the target does over them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import point_along
from backbearing.plan.clearance import AreaCells
from backbearing.sky.directions import direction
from backbearing.sky.hour_angles import azimuth_passages
from backbearing.sky.instants import aware
from backbearing.terrain.chunks import SQUARE, STRIP
from backbearing.terrain.grid import Grid
from backbearing.terrain.reading.sources import extremes
from backbearing.terrain.skyline.sweep import ground_crossed, horizon_map

if TYPE_CHECKING:
    from collections.abc import Sequence

    from affine import Affine
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.subject import Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]
    Instants = NDArray[np.datetime64]
    Rectangle = tuple[slice, slice]
    Squares = NDArray[np.bool_]

NODE_SPACING_M: Final = 20_000.0
"""The target's direction is solved this often and carried between, bilinear: 0.0001 degree."""

MOST_CELLS: Final = 25_000_000
"""Cells up to which an area is swept, at about 80 bytes each."""

BESIDE_CELLS: Final = 16
"""Cells to either side of an area that its near ground may reach into."""

MOST_HELD: Final = 48_000_000
"""Cells of a large raster read for several bearings together: 192 MB in single precision."""

LARGEST_BOX: Final = 130_000_000
"""Cells of the rectangle round them: more ground on it is swept than the bearings need."""

LONGEST_SHIFT: Final = np.timedelta64(15 * 60, "s")
"""Beyond this a node never stands on the bearing, or lingers on it: its own moment serves."""


@dataclass(frozen=True, slots=True)
class Look:
    """How to look over a raster: from how high, through which air, how far."""

    elevation: Elevation
    eye_height_m: float
    refraction_k: float
    reach_m: float

    @classmethod
    def of(cls, scene: Scene) -> Look:
        """As a scene looks.

        Raises
        ------
        TerrainError
            When the scene has no raster.
        """
        if scene.elevation is None:
            raise TerrainError("An area needs an elevation raster", hint="name one under [ground]")
        return cls(scene.elevation, scene.framing.eye_height_m, scene.refraction_k, scene.reach_m)


def area_cells(elevation: Elevation, subject: Subject, within_m: float | None) -> AreaCells:
    """The whole raster, or the cells so far north, south, east and west of the subject.

    Raises
    ------
    TerrainError
        For a distance that is not positive, or too many cells.
    """
    rows, cols = (slice(0, n) for n in elevation.shape)
    if within_m is not None:
        if not (math.isfinite(within_m) and within_m > 0.0):
            raise TerrainError(
                f"The area's half side is {within_m:g} m",
                hint="write a distance above 0",
                within_m=within_m,
            )
        rows, cols = _about(elevation, subject, within_m)
    cells = (rows.stop - rows.start) * (cols.stop - cols.start)
    if cells > MOST_CELLS:
        raise TerrainError(
            f"The area has {cells:,} cells, more than {MOST_CELLS:,}",
            hint="ask for less ground round the subject (`--within KM`), or thin out the raster",
            cells=cells,
        )
    return AreaCells(
        rows.start, rows.stop, cols.start, cols.stop,
        _corner(elevation, rows, cols), elevation.crs.to_wkt(),
    )  # fmt: skip


def _about(elevation: Elevation, subject: Subject, within_m: float) -> tuple[slice, slice]:
    """Rows and columns so far from the subject, within the raster."""
    middle = elevation.grid.pixels(lat=subject.lat, lon=subject.lon)
    steps = elevation.local_steps_m(lat=subject.lat, lon=subject.lon)
    found = []
    for at, step, most in zip(middle, steps, elevation.shape, strict=True):
        here, far = round(float(at)), max(1, math.ceil(within_m / step))
        found.append(slice(max(0, here - far), min(most, here + far + 1)))
    return found[0], found[1]


def _corner(elevation: Elevation, rows: slice, cols: slice) -> Affine:
    """From column and row, counted from a rectangle's own corner, to the raster's system."""
    from affine import Affine

    return elevation.transform @ Affine.translation(cols.start, rows.start)


class GroundAhead:
    """What an area's sweeps look over: read once for as many bearings in turn as it serves.

    Parameters
    ----------
    cells : AreaCells
    look : Look
    bearings_deg : sequence of float
        Those that will be asked for, in order.
    """

    def __init__(self, cells: AreaCells, look: Look, bearings_deg: Sequence[float]) -> None:
        self._cells, self._look = cells, look
        self._bearings, self._next = tuple(bearings_deg), 0
        self._needed = [
            _with_ground_ahead(cells, look.elevation, bearing, look.reach_m)
            for bearing in self._bearings
        ]
        self._held: _Held | None = None

    def skyline(self) -> Singles:
        """Sweep the next bearing; shape as the area, float32 degrees, NaN where unknown.

        Only the ground that the area can see on it, and on those after it, is looked at.
        """
        number, self._next = self._next, self._next + 1
        if self._held is None or number >= self._held.past:
            # What is held goes before more is read.
            self._held = None
            self._held = self._read(number)
        held, look = self._held, self._look
        return horizon_map(
            held.ground,
            self._bearings[number],
            eye_height_m=look.eye_height_m,
            refraction_k=look.refraction_k,
            max_distance_m=look.reach_m,
            window=_place_in(self._cells, held.rows, held.cols),
            highest_m=held.highest_m,
        )

    def _read(self, number: int) -> _Held:
        """Read the ground of a bearing, and of as many of the next as it may be held for."""
        whole = self._look.elevation
        box, past = self._needed[number], number + 1
        while past < len(self._needed):
            joint = _joint(box, self._needed[past])
            if _count(joint) > LARGEST_BOX:
                break
            box, past = joint, past + 1
        rows, cols = box
        if (rows.stop - rows.start, cols.stop - cols.start) == whole.shape:
            return _Held(whole, rows, cols, None, past)
        if not whole.in_pieces:
            return _Held(whole.part(rows, cols), rows, cols, None, past)
        rows, cols = (slice(one.start // STRIP * STRIP, one.stop) for one in box)
        wanted, past = self._wanted(rows, cols, number, past)
        ground = whole.part(rows, cols, wanted)
        return _Held(ground, rows, cols, _highest_m(ground, wanted), past)

    def _wanted(self, rows: slice, cols: slice, first: int, past: int) -> tuple[Squares, int]:
        """The squares of a box that some bearings cross, and past the last of those that fit in."""
        corner = _corner(self._look.elevation, rows, cols)
        shape = rows.stop - rows.start, cols.stop - cols.start
        grid = Grid(shape, corner, self._look.elevation.crs)
        window = _place_in(self._cells, rows, cols)
        found: Squares | None = None
        for number in range(first, past):
            crossed = ground_crossed(grid, self._bearings[number], window, SQUARE)
            joint = crossed if found is None else found | crossed
            if found is not None and joint.sum() * SQUARE**2 > MOST_HELD:
                return found, number
            found = joint
        assert found is not None  # noqa: S101  # one bearing at least is asked for
        return found, past


class _Held(NamedTuple):
    """Ground that is held, where it lies in the raster, and past the last bearing it serves."""

    ground: Elevation
    rows: slice
    cols: slice
    highest_m: float | None
    past: int


def _place_in(cells: AreaCells, rows: slice, cols: slice) -> Rectangle:
    """Rows and columns of an area in a rectangle that holds it."""
    return (
        slice(cells.row0 - rows.start, cells.row1 - rows.start),
        slice(cells.col0 - cols.start, cells.col1 - cols.start),
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


@dataclass(frozen=True, slots=True)
class Nodes:
    """A few places of an area, between which the target's direction is carried.

    ``rows`` (n,) and ``cols`` (m,) count cells of the area; ``lat``, ``lon`` are (n, m).
    """

    rows: Floats
    cols: Floats
    lat: Floats
    lon: Floats
    height_m: float

    @classmethod
    def of(cls, elevation: Elevation, cells: AreaCells, height_m: float) -> Nodes:
        """Spread nodes over an area, corners included."""
        rows, cols = (
            np.linspace(0.0, max(n - 1, 1), 2 + int((n - 1) * step / NODE_SPACING_M))
            for n, step in zip(cells.shape, elevation.grid.steps_m, strict=True)
        )
        places = elevation.grid.places(
            row=cells.row0 + rows[:, None], col=cells.col0 + cols[None, :]
        )
        return cls(rows, cols, places.lat, places.lon, height_m)

    def direction(self, target: Target, times: Any) -> tuple[Floats, Floats]:
        """Azimuth and altitude at every node, degrees."""
        return direction(target, lat=self.lat, lon=self.lon, height_m=self.height_m, times=times)

    def directions(self, target: Target, instants: Instants) -> tuple[Floats, Floats]:
        """Azimuth and altitude at every node and each of k instants, shape (n, m, k)."""
        return direction(
            target,
            lat=self.lat[..., None],
            lon=self.lon[..., None],
            height_m=self.height_m,
            times=instants,
        )

    def on_bearings(self, target: Target, bearings_deg: Floats, moments: Instants) -> Instants:
        """When the target stands on each bearing at every node, shape (bearings, n, m).

        ``moments`` is when it stands there at the subject: the passage nearest to it
        counts. A node that has none near (the target turns back before it) takes the
        moment itself; its bearing is then off by less than the nodes' difference.
        """
        found = azimuth_passages(
            target,
            lat=self.lat[..., None],
            lon=self.lon[..., None],
            height_m=self.height_m,
            azimuth_deg=bearings_deg,
            start=aware(moments.min() - 2 * LONGEST_SHIFT),
            end=aware(moments.max() + 2 * LONGEST_SHIFT),
        )
        here = np.broadcast_to(moments, (*self.lat.shape, len(moments)))
        if found.shape[-1] == 0:
            return np.moveaxis(here, -1, 0).copy()
        away = np.abs((found - here[..., None]).astype("timedelta64[us]").astype(np.float64))
        away[np.isnat(found)] = np.inf
        best = away.argmin(axis=-1)[..., None]
        chosen = np.take_along_axis(found, best, axis=-1)[..., 0]
        near = np.take_along_axis(away, best, axis=-1)[..., 0] <= LONGEST_SHIFT.astype(
            "timedelta64[us]"
        ).astype(np.float64)
        return np.moveaxis(np.where(near, chosen, here), -1, 0).copy()
