"""The cells of an area: which part of a raster they are, and what the target does over them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.base.errors import TerrainError
from backbearing.plan.clearance import AreaCells
from backbearing.sky.directions import direction
from backbearing.sky.hour_angles import azimuth_passages
from backbearing.sky.instants import aware

if TYPE_CHECKING:
    from affine import Affine
    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.subject import Subject
    from backbearing.sky.targets import Target
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]
    Instants = NDArray[np.datetime64]

NODE_SPACING_M: Final = 20_000.0
"""The target's direction is solved this often and carried between, bilinear: 0.0001 degree."""

MOST_CELLS: Final = 25_000_000
"""Cells up to which an area is swept, at about 80 bytes each."""

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
        corner_of(elevation, rows, cols), elevation.crs.to_wkt(),
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


def corner_of(elevation: Elevation, rows: slice, cols: slice) -> Affine:
    """From column and row, counted from a rectangle's own corner, to the raster's system."""
    from affine import Affine

    return elevation.transform @ Affine.translation(cols.start, rows.start)


class AreaPart(NamedTuple):
    """A rectangle of an area's cells, rows and columns counted from the area's own corner."""

    row0: int
    row1: int
    col0: int
    col1: int

    @classmethod
    def whole(cls, cells: AreaCells) -> AreaPart:
        """All of an area."""
        return cls(0, cells.shape[0], 0, cells.shape[1])

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.row1 - self.row0, self.col1 - self.col0

    @property
    def window(self) -> tuple[slice, slice]:
        """Its rows and columns of the area's arrays."""
        return slice(self.row0, self.row1), slice(self.col0, self.col1)

    def of_raster(self, cells: AreaCells) -> tuple[slice, slice]:
        """Its rows and columns of the raster."""
        rows, cols = self.window
        return (
            slice(cells.row0 + rows.start, cells.row0 + rows.stop),
            slice(cells.col0 + cols.start, cells.col0 + cols.stop),
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
