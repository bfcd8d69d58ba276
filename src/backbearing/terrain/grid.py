"""Where the pixels of a raster lie: between latitude, longitude and rows, columns.

Row and column here are *centre* coordinates: ``(0.0, 0.0)`` is the centre of the
first pixel, so that the surface spans ``0 <= row <= rows - 1``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.datum_shift import is_wgs84, one_shift
from backbearing.base.errors import TerrainError
from backbearing.base.geodesy import line_between

if TYPE_CHECKING:
    from affine import Affine
    from numpy.typing import ArrayLike, NDArray
    from pyproj import CRS, Transformer

    from backbearing.base.datum_shift import DatumShift

EDGE_SNAP = 1e-6
"""Rounding, in cells, allowed at the outermost pixel centres."""


def shifted(transform: Affine, *, rows: float, cols: float) -> Affine:
    """Move a transform's origin by so many rows and columns."""
    from affine import Affine

    a, b, c, d, e, f = tuple(transform)[:6]
    return Affine(a, b, c + a * cols + b * rows, d, e, f + d * cols + e * rows)


class Bounds(NamedTuple):
    """Latitudes and longitudes between which the raster's pixels lie, degrees.

    ``east`` exceeds 180 where the raster crosses the antimeridian.

    Examples
    --------
    >>> from backbearing.terrain import Elevation
    >>> ground = Elevation.open(sample / "sample_srtm_3arcsec.tif")
    >>> bounds = ground.bounds
    >>> f"{bounds.south:.2f} to {bounds.north:.2f} degrees of latitude"
    '36.16 to 36.45 degrees of latitude'
    """

    south: float
    west: float
    north: float
    east: float


class Pixels(NamedTuple):
    """Fractional rows and columns counted from the centre of the first pixel."""

    row: NDArray[np.float64]
    col: NDArray[np.float64]


class Places(NamedTuple):
    """Latitudes and longitudes, degrees."""

    lat: NDArray[np.float64]
    lon: NDArray[np.float64]


@dataclass(frozen=True)
class Grid:
    """A raster's shape and its place on the Earth.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns.
    transform : affine.Affine
        From (column, row) counted at pixel *corners* to the CRS, as rasterio gives it.
    crs : pyproj.CRS
        Horizontal reference system, geographic or projected.

    Raises
    ------
    TerrainError
        For a transform without area, or a CRS that is neither geographic nor projected.

    Examples
    --------
    >>> from affine import Affine
    >>> from pyproj import CRS
    >>> from backbearing.terrain import Grid
    >>> from_corner = Affine(1 / 1200, 0.0, -85.0, 0.0, -1 / 1200, 37.0)
    >>> grid = Grid((1200, 1200), from_corner, CRS("EPSG:4326"))
    >>> f"{grid.cell_size_m:.0f} m"
    '84 m'
    """

    shape: tuple[int, int]
    transform: Affine
    crs: CRS = field(repr=False)

    def __post_init__(self) -> None:
        if not (np.all(np.isfinite(tuple(self.transform)[:6])) and self.transform.determinant):
            raise TerrainError(
                "The raster's geotransform has no area or is not finite",
                hint="georeference it anew",
                transform=tuple(self.transform)[:6],
            )
        if not (self.crs.is_geographic or self.crs.is_projected):
            raise TerrainError(
                f"The raster's reference system {self.crs.name!r} is neither geographic nor "
                "projected",
                hint="warp it to one that is, such as EPSG:4326",
                crs=self.crs.name,
            )

    @cached_property
    def datum_shift(self) -> DatumShift | None:
        """The one operation that ties all of the raster to WGS84; None where it is WGS84."""
        if is_wgs84(self.crs):
            return None
        rows, cols = self.shape
        t = np.linspace(0.0, 1.0, 5)
        col, row = (v.ravel() for v in np.meshgrid(t * cols, t * rows))
        a, b, c, d, e, f = tuple(self.transform)[:6]
        return one_shift(self.crs, a * col + b * row + c, d * col + e * row + f)

    @property
    def placed_within_m(self) -> float:
        """Published accuracy of the raster's tie to WGS84, metres; NaN where there is none."""
        return 0.0 if self.datum_shift is None else self.datum_shift.accuracy_m

    @property
    def _from_wgs84(self) -> Transformer | None:
        return None if self.datum_shift is None else self.datum_shift.transformer

    @cached_property
    def _corner_to_pixel(self) -> tuple[float, ...]:
        return tuple(~self.transform)[:6]

    @cached_property
    def _turn(self) -> float | None:
        """Size of a full turn of longitude in the CRS's own unit; None when projected."""
        if not self.crs.is_geographic:
            return None
        radians_per_unit = float(self.crs.axis_info[0].unit_conversion_factor)
        return float(round(2.0 * np.pi / radians_per_unit, 9))

    @property
    def turn_cols(self) -> float | None:
        """Columns to a full turn of longitude; None when projected or rotated."""
        if self._turn is None or self.transform.b or self.transform.d:
            return None
        return self._turn / abs(self.transform.a)

    @cached_property
    def _middle_x(self) -> float:
        rows, cols = self.shape
        a, b, c = tuple(self.transform)[:3]
        return float(a * cols / 2 + b * rows / 2 + c)

    def pixels(self, *, lat: ArrayLike, lon: ArrayLike) -> Pixels:
        """Turn places into fractional rows and columns, unclipped; NaN where undefined."""
        x, y = np.broadcast_arrays(
            np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
        )
        if self._from_wgs84 is not None:
            x, y = (
                np.asarray(v, dtype=np.float64)
                for v in self._from_wgs84.transform(x, y, errcheck=False)
            )
        if self._turn is not None:
            x = x - self._turn * np.round((x - self._middle_x) / self._turn)
        a, b, c, d, e, f = self._corner_to_pixel
        with np.errstate(invalid="ignore"):
            col = a * x + b * y + (c - 0.5)
            row = d * x + e * y + (f - 0.5)
        bad = ~(np.isfinite(row) & np.isfinite(col))
        return Pixels(np.where(bad, np.nan, row), np.where(bad, np.nan, col))

    def places(self, *, row: ArrayLike, col: ArrayLike) -> Places:
        """Turn fractional rows and columns into latitudes and longitudes, in degrees."""
        r, q = np.broadcast_arrays(
            np.asarray(row, dtype=np.float64) + 0.5, np.asarray(col, dtype=np.float64) + 0.5
        )
        a, b, c, d, e, f = tuple(self.transform)[:6]
        x, y = a * q + b * r + c, d * q + e * r + f
        if self._from_wgs84 is None:
            return Places(y, wrap_180_deg(x))
        lon, lat = self._from_wgs84.transform(x, y, direction="INVERSE", errcheck=False)
        lat, lon = np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)
        bad = ~(np.isfinite(lat) & np.isfinite(lon))
        return Places(np.where(bad, np.nan, lat), np.where(bad, np.nan, lon))

    def holds(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell which of the pixels lie between the outermost pixel centres."""
        rows, cols = self.shape
        inside: NDArray[np.bool_] = (
            (pixels.row >= -EDGE_SNAP)
            & (pixels.row <= rows - 1 + EDGE_SNAP)
            & (pixels.col >= -EDGE_SNAP)
            & (pixels.col <= cols - 1 + EDGE_SNAP)
        )
        return inside

    @cached_property
    def rim(self) -> Places:
        """Places around the raster's outer edge (pixel corners), 33 to a side."""
        rows, cols = self.shape
        t = np.linspace(0.0, 1.0, 33)
        zero, one = np.zeros_like(t), np.ones_like(t)
        row = np.concatenate([zero, t, one, 1 - t]) * rows - 0.5
        col = np.concatenate([t, one, 1 - t, zero]) * cols - 0.5
        return self.places(row=row, col=col)

    @cached_property
    def bounds(self) -> Bounds:
        """Latitudes and longitudes that hold every pixel."""
        lat, lon = self.rim
        rows, cols = self.shape
        middle = self.places(row=(rows - 1) / 2, col=(cols - 1) / 2)
        around = lon - 360.0 * np.round((lon - middle.lon) / 360.0)
        if self._turn is not None and cols * abs(self.transform.a) > 0.999 * self._turn:
            around = np.array([middle.lon - 180.0, middle.lon + 180.0])
        west, east = float(np.nanmin(around)), float(np.nanmax(around))
        shift = 360.0 * float(np.floor((west + 180.0) / 360.0))
        return Bounds(float(np.nanmin(lat)), west - shift, float(np.nanmax(lat)), east - shift)

    def steps_at(self, row: ArrayLike, col: ArrayLike) -> tuple[float, float]:
        """Metres from row to row and from column to column at one pixel."""
        r, c = float(np.asarray(row)), float(np.asarray(col))
        here = self.places(row=[r - 0.5, r], col=[c, c - 0.5])
        there = self.places(row=[r + 0.5, r], col=[c, c + 0.5])
        line = line_between(lat1=here.lat, lon1=here.lon, lat2=there.lat, lon2=there.lon)
        return float(line.distance_m[0]), float(line.distance_m[1])

    @cached_property
    def steps_m(self) -> tuple[float, float]:
        """Metres from row to row and from column to column at the raster's middle."""
        return self.steps_at((self.shape[0] - 1) / 2, (self.shape[1] - 1) / 2)

    @property
    def cell_size_m(self) -> float:
        """Mean of the two steps at the raster's middle, metres."""
        return sum(self.steps_m) / 2.0
