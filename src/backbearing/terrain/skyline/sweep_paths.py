"""A raster turned so that a bearing runs up its rows, and the paths that strips take on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import point_along
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid

    Floats = NDArray[np.float64]

ROWS_A_PIECE: Final = 200
"""Rows between places where the bearing's direction on the grid is worked out."""
STRAIGHT: Final = 1e-9
"""Columns a row below which a path counts as running straight down the rows."""
LEAST_WIDTH: Final = 8
LEAST_BEND: Final = 1e-14
"""Lanes a square metre that come to less than a thousandth of one within 300 km."""
STEEPEST: Final = 2.0
"""Columns a row that a path may run at most; at the raster's middle it is 1 or less."""


@dataclass(frozen=True)
class Frame:
    """The raster as the bearing sees it.

    Cell (x, y) of the turned raster, x towards the bearing, is number
    ``first + x * ahead + y * aside`` of the flattened one.
    """

    first: int
    ahead: int
    aside: int
    lanes: int
    rows: int
    swap: bool
    flip: bool


@dataclass(frozen=True)
class Paths:
    """Paths of constant true bearing over the turned raster, in knots ``spacing`` rows apart.

    ``knots`` (paths, 4, n): lane, lanes a row, metres along, metres a row. ``bends`` (paths,):
    how far a geodesic that sets out on the bearing leaves the path, lanes a square metre.
    """

    spacing: float
    knots: Floats
    bends: Floats

    def rows_between(self, number: int, frame: Frame, beside: int) -> tuple[int, int]:
        """First row and number of rows where a strip comes within so many lanes of the raster."""
        x = self.spacing * np.arange(self.knots.shape[2])
        row = np.arange(frame.rows)
        low, high = (np.interp(row, x, self.knots[number + k, 0]) for k in (0, 1))
        touched = np.flatnonzero((high > -beside) & (low < frame.lanes + beside))
        return (int(touched[0]), int(touched[-1] - touched[0]) + 1) if touched.size else (0, 0)

    def passes(self, number: int, first: int, past: int, low: int, high: int) -> bool:
        """Whether a strip answers for some cell in rows first to past, lanes low to high."""
        x = self.spacing * np.arange(self.knots.shape[2])
        row = np.arange(first, past)
        one, two = (np.interp(row, x, self.knots[number + k, 0]) for k in (0, 1))
        return bool(((two > low - 2.0) & (one < high + 1.0)).any())


def turn(grid: Grid, azimuth_deg: float) -> Frame:
    """Choose the side of the raster that the bearing runs to at its middle."""
    rows, cols = grid.shape
    down, across = _direction(grid, (rows - 1) / 2.0, (cols - 1) / 2.0, azimuth_deg)
    swap = bool(abs(across) > abs(down))
    flip = bool((across if swap else down) < 0.0)
    n, lanes, ahead, aside = (cols, rows, 1, cols) if swap else (rows, cols, cols, 1)
    first = (n - 1) * ahead if flip else 0
    return Frame(first, -ahead if flip else ahead, aside, lanes, n, swap, flip)


def lay_paths(grid: Grid, frame: Frame, azimuth_deg: float, width: int) -> Paths:
    """Lay paths over the raster, nowhere more than ``width`` lanes apart.

    Raises
    ------
    TerrainError
        Where the bearing's direction on the grid turns too far for one sweep.
    """
    pieces = int(np.clip(frame.rows // ROWS_A_PIECE, 8, 64)) & ~1
    x = np.linspace(0.0, frame.rows, pieces + 1)
    y = np.linspace(0.0, frame.lanes - 1.0, pieces + 1)
    slope, step = _field(grid, frame, azimuth_deg, x, y)
    spacing = frame.rows / pieces
    apart = width
    while apart >= LEAST_WIDTH:
        lanes = _follow(slope, y, spacing, apart, frame.lanes)
        widest = float(np.diff(lanes, axis=0).max())
        if widest <= width:
            break
        apart = min(apart - 1, int(apart * width / widest))
    else:
        raise _turns_too_far(azimuth_deg)
    along = np.stack(
        [[np.interp(lanes[:, k], y, v[k]) for k in range(pieces + 1)] for v in (slope, step)]
    )
    slopes, steps = along[0].T, along[1].T
    metres = np.zeros_like(steps)
    metres[:, 1:] = np.cumsum(0.5 * spacing * (steps[:, 1:] + steps[:, :-1]), axis=1)
    knots = np.ascontiguousarray(np.stack([lanes, slopes, metres, steps], axis=1))
    middle = np.clip(lanes[:, pieces // 2], 0.0, frame.lanes - 1.0)
    return Paths(spacing, knots, _bends(grid, frame, azimuth_deg, middle))


def _bends(grid: Grid, frame: Frame, azimuth_deg: float, lanes: Floats) -> Floats:
    """Lanes a square metre by which geodesics leave a constant bearing, at the middle row.

    A geodesic's azimuth turns by ``tan(lat) sin(azimuth) / R`` a metre, to first order in its
    length (Clairaut's ``cos(lat) sin(azimuth)``, which keeps still, differentiated), so that it
    is ``s^2 / 2`` times that to the right.
    """
    own = np.full(len(lanes), (frame.rows - 1) / 2.0)
    place: tuple[Any, Any] = (lanes, own) if frame.swap else (own, lanes)
    lat = np.radians(np.asarray(grid.places(row=place[0], col=place[1]).lat, dtype=np.float64))
    right_m = np.tan(lat) * np.sin(np.radians(azimuth_deg)) / (2.0 * MEAN_EARTH_RADIUS_M)
    moves = []
    for azimuth in (azimuth_deg, azimuth_deg + 90.0):
        down, across = _direction(grid, *place, azimuth)
        ahead, aside = (across, down) if frame.swap else (down, across)
        moves.append((-ahead if frame.flip else ahead, aside))
    (ahead, aside), (right_ahead, right_aside) = moves
    # Back along the bearing to the row that the sample is on.
    bends: Floats = right_m * (right_aside - right_ahead * aside / ahead)
    return np.where(np.abs(bends) > LEAST_BEND, bends, 0.0)


def _follow(slope: Floats, y: Floats, spacing: float, apart: int, lanes: int) -> Floats:
    """Follow paths both ways from half way along, where they are evenly apart (Heun's rule)."""
    last = len(slope) - 1
    half = last // 2
    beyond = float(np.abs(slope).max()) * spacing * (last - half) + 2.0 * apart
    start = np.arange(-np.ceil(beyond / apart), np.ceil((lanes + beyond) / apart) + 1.0) * apart
    path = np.empty((len(start), last + 1))
    path[:, half] = start
    for sense in (1, -1):
        for k in range(half, last if sense > 0 else 0, sense):
            here = np.interp(path[:, k], y, slope[k])
            guess = path[:, k] + sense * spacing * here
            there = np.interp(guess, y, slope[k + sense])
            path[:, k + sense] = path[:, k] + sense * spacing * 0.5 * (here + there)
    return path


def _field(
    grid: Grid, frame: Frame, azimuth_deg: float, x: Floats, y: Floats
) -> tuple[Floats, Floats]:
    """Lanes a row and metres a row on the bearing, at places of the turned raster."""
    own = (frame.rows - 1) - x if frame.flip else x
    own, other = np.meshgrid(own, y, indexing="ij")
    down, across = _direction(grid, *((other, own) if frame.swap else (own, other)), azimuth_deg)
    ahead, aside = (across, down) if frame.swap else (down, across)
    ahead = -ahead if frame.flip else ahead
    with np.errstate(divide="ignore", invalid="ignore"):
        slope, step = aside / ahead, 1.0 / ahead
    if not ((ahead > 0.0) & (np.abs(slope) <= STEEPEST)).all():
        raise _turns_too_far(azimuth_deg)
    slope[np.abs(slope) < STRAIGHT] = 0.0
    return slope, step


def _turns_too_far(azimuth_deg: float) -> TerrainError:
    return TerrainError(
        f"The grid turns too far under the bearing {num(azimuth_deg)} to sweep the raster at once",
        hint="cut the raster into smaller ones, or project it to a grid that runs with north",
        key="azimuth_deg",
    )


def _direction(grid: Grid, row: Any, col: Any, azimuth_deg: float) -> tuple[Any, Any]:
    """Rows and columns a metre on a true bearing at places of the grid."""
    here = grid.places(row=row, col=col)
    length = float(min(grid.steps_m))
    ends = [
        point_along(lat=here.lat, lon=here.lon, azimuth_deg=azimuth_deg + turn, distance_m=length)
        for turn in (0.0, 180.0)
    ]
    one, two = (grid.pixels(lat=end.lat, lon=end.lon) for end in ends)
    return (one.row - two.row) / (2.0 * length), (one.col - two.col) / (2.0 * length)
