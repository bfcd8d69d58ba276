"""What heights come from, and the states that ground can be in."""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TYPE_CHECKING, Any, Protocol

import numpy as np

from backbearing.base.errors import Setting, TerrainError
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid, Pixels

    Heights = NDArray[np.floating]

WATER_LEVEL_M = np.float32(-0.0)
"""Height given to open water. The sign of zero marks it, for land can lie at +0.0."""

HIGHEST_LAND_M = 8_849.0
"""Mount Everest, metres (8,848.86 m, announced by China and Nepal on 8 December 2020)."""

DEEPEST_SEA_M = -11_000.0
"""Just under the deepest sea floor known, metres (Challenger Deep, about 10,935 m down)."""


USUAL_VOIDS = (-32768.0, -32767.0, -9999.0, -99999.0, -3.4028234663852886e38)
"""Marks of voids in common use, read as voids with a warning where none is declared."""


class TerrainWarning(UserWarning):
    """Something in a raster was mended or looks wrong, and the answer stands on it.

    Examples
    --------
    >>> import warnings
    >>> import numpy as np
    >>> from affine import Affine
    >>> from backbearing.terrain import Elevation, TerrainWarning
    >>> heights_m = np.array([[312.0, 318.0], [305.0, -9999.0]])
    >>> place = Affine(0.01, 0.0, 8.0, 0.0, -0.01, 47.0)
    >>> with warnings.catch_warnings(record=True) as said:
    ...     warnings.simplefilter("always", TerrainWarning)
    ...     ground = Elevation.from_array(heights_m, place, "EPSG:4326")
    >>> str(said[0].message).split(" and")[0]
    'The array holds 1 cells of -9999'
    """


class Ground(IntEnum):
    """What is known of the ground at a place.

    Examples
    --------
    >>> from backbearing.terrain import Elevation, Ground
    >>> ground = Elevation.open(sample / "sample_srtm_3arcsec.tif")
    >>> [Ground(state).name for state in ground.state_at(lat=[36.37, 50.0], lon=[-84.36, 0.0])]
    ['KNOWN', 'OUTSIDE']
    """

    KNOWN = 0
    OUTSIDE = 1
    """Off the raster, or in its outermost half pixel, where no surface is defined."""
    VOID = 2
    """One of the four pixels around holds no height."""
    MISSING_TILE = 3
    """One of the four pixels around lies in a tile that was not given."""
    SEA = 4
    """Open water by the file's own mark or the user's word; its level counts as 0 m."""


class Source(Protocol):
    """A place where heights come from, one window at a time."""

    @property
    def grid(self) -> Grid:
        """Shape, transform and CRS of the whole."""

    @property
    def name(self) -> str:
        """Path, or ``array``."""

    @property
    def tags(self) -> Mapping[str, str]:
        """What the file says of itself."""

    @property
    def array(self) -> Heights | None:
        """The whole raster where it is in memory already."""

    def read(self, rows: slice, cols: slice) -> Heights:
        """Read a window in metres, NaN where unknown, ``WATER_LEVEL_M`` on open water."""

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell where a tile was given, void or not."""


@dataclass(frozen=True)
class ArraySource:
    """Heights that the caller holds already."""

    grid: Grid
    heights_m: Heights = field(repr=False)
    tags: Mapping[str, str] = field(default_factory=dict)
    name: str = "array"

    def __post_init__(self) -> None:
        if self.heights_m.shape != self.grid.shape:
            raise TerrainError(
                f"The heights have shape {self.heights_m.shape}, the grid {self.grid.shape}",
                hint="give a two-dimensional array of rows by columns",
            )

    @property
    def array(self) -> Heights:
        """The heights themselves."""
        return self.heights_m

    def read(self, rows: slice, cols: slice) -> Heights:
        """View a window."""
        return self.heights_m[rows, cols]

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell that an array has no tiles to miss."""
        return np.ones(np.shape(pixels.row), dtype=np.bool_)


def extremes(values: NDArray[Any]) -> tuple[float, float]:
    """Lowest and highest of all numbers that are some; (inf, -inf) where there are none.

    The plain extremes take a fraction of the time, and are NaN only where some number is.
    """
    if values.size == 0:
        return np.inf, -np.inf
    low, high = values.min(), values.max()
    if np.isnan(low) or np.isnan(high):
        low = np.fmin.reduce(values, axis=None, initial=np.inf)
        high = np.fmax.reduce(values, axis=None, initial=-np.inf)
    return float(low), float(high)


def check_plausible(heights_m: Heights, name: str) -> None:
    """Refuse heights above any land or below any sea floor.

    Raises
    ------
    TerrainError
        When a finite height lies above 8,849 m or below -11,000 m: feet read as metres,
        or a void mark that the file does not declare.
    """
    lowest, highest = extremes(heights_m)
    if highest > HIGHEST_LAND_M or lowest < DEEPEST_SEA_M:
        with np.errstate(invalid="ignore"):
            odd = (heights_m > HIGHEST_LAND_M) | (heights_m < DEEPEST_SEA_M)
        worst = float(heights_m[odd].flat[0])
        raise TerrainError(
            f"{name} holds a height of {worst:,.0f} m, which no land has",
            hint=(
                "if its heights are feet ",
                Setting("vertical_unit", ("foot",)),
                ", if the number marks voids ",
                Setting("voids", stands_for="[that number]"),
            ),
            height_m=worst,
        )


def find_voids(
    raw: NDArray[Any], declared: tuple[float, ...], sea_value: float | None, name: str
) -> NDArray[np.bool_]:
    """Find the cells without a height; warn of usual marks that nobody declared.

    Parameters
    ----------
    raw : ndarray
        Numbers as stored, before scale and unit.
    declared : tuple of float
        Marks of voids that the file or the user names.
    sea_value : float or None
        The number that stands for open water, which is then no void.
    name : str
        The raster, for the warning.
    """
    void = np.zeros(raw.shape, dtype=np.bool_)
    if np.issubdtype(raw.dtype, np.floating):
        void |= ~np.isfinite(raw)
    for mark in declared:
        void |= _equal(raw, mark)
    if raw.size == 0:
        return void
    low, high = extremes(raw)
    for mark in USUAL_VOIDS:
        if mark in declared or mark == sea_value or not low <= mark <= high:
            continue
        hidden = _equal(raw, mark) & ~void
        if hidden.any():
            warnings.warn(
                f"{name} holds {int(hidden.sum())} cells of {num(mark)} and does not declare them "
                f"void; they are taken as voids (pass voids=[{num(mark)}] to say so).",
                TerrainWarning,
                stacklevel=2,
            )
            void |= hidden
    return void


def _equal(raw: NDArray[Any], mark: float) -> NDArray[np.bool_]:
    """Compare with a mark as the raster's own type would store it."""
    if np.isnan(mark):
        return np.zeros(raw.shape, dtype=np.bool_)
    if np.issubdtype(raw.dtype, np.integer):
        span = np.iinfo(raw.dtype)
        if mark != int(mark) or not span.min <= mark <= span.max:
            return np.zeros(raw.shape, dtype=np.bool_)
    with np.errstate(over="ignore"):
        same: NDArray[np.bool_] = raw == raw.dtype.type(mark)
    return same
