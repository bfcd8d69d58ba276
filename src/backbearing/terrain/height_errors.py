"""How a raster's heights err, and over what distance their errors hold together.

Heights near one another err alike: a radar's or a camera's noise is smoothed over some
cells, and a scene that lies too high lies too high for kilometres. The field's practice is a
sum of two variograms fitted on stable ground, Gaussian at short range and spherical at long
range [Rolstad2009]_ [Hugonnet2022]_. Here

``cov(h) = local^2 exp(-4 h^2 / local_range^2) + wide^2 (1 - 1.5 x + 0.5 x^3)``

with ``x = h / wide_range`` up to 1. Two heights far apart err by ``sqrt(2)`` of the absolute
error against one another, two in one cell hardly at all. A Gaussian has no cusp at nought,
so the angle to ground beside the eye stays known; an exponential variogram has one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LOCAL_RANGE_CELLS: Final = 5.0
"""Cells over which errors hold together: the worked example of the xDEM documentation finds
some 100 m on a 20 m grid, and gives 20 to 200 m as usual, "close to the resolution"."""

WIDE_RANGE_M: Final = 5_000.0
"""The longer range where no relative error is published: the same document gives 1 to 50 km."""

DEGREE_M: Final = 111_000.0
"""The longer range where one is: it is stated between points of one square degree."""

LOCAL_SHARE: Final = 0.5
"""Share of the variance that counts as local where no relative error is published: then the
difference of two heights nearby errs as much as one height. An assumption; published relative
errors of radar models come to 0.12 to 0.3."""

STEEP_SLOPE: Final = 0.2
"""Slope (rise over run) above which a product's error for steep ground holds [CopernicusDEM]_."""


@dataclass(frozen=True, slots=True)
class StatedErrors:
    """What a maker or a user states of a raster's heights, one standard deviation each.

    Only the first must be known.

    Attributes
    ----------
    sigma_m : float
        Of a height, metres.
    relative_sigma_m : float
        Of the difference of two heights within some kilometres; NaN where not stated.
    steep_relative_sigma_m : float
        The same where the ground is steeper than 20 %; NaN where nothing else is stated.
    range_m : float
        Distance over which the local part of the errors holds together; NaN for five cells.
    least_range_m : float
        The least that five cells may come to, where the errors are those of coarser rasters.
    """

    sigma_m: float
    relative_sigma_m: float = math.nan
    steep_relative_sigma_m: float = math.nan
    range_m: float = math.nan
    least_range_m: float = 0.0

    def over(self, cell_m: float) -> HeightErrors:
        """Model the errors on a raster of such cells.

        Half of a relative error's variance is each height's own, local part; the rest of the
        absolute error's is what the two have in common.
        """
        stated = math.isfinite(self.relative_sigma_m)
        local = self.relative_sigma_m**2 / 2.0 if stated else LOCAL_SHARE * self.sigma_m**2
        local = min(local, self.sigma_m**2)
        steep = self.steep_relative_sigma_m**2 / 2.0
        five_cells = max(LOCAL_RANGE_CELLS * cell_m, self.least_range_m)
        return HeightErrors(
            local_sigma_m=math.sqrt(local),
            wide_sigma_m=math.sqrt(self.sigma_m**2 - local),
            local_range_m=five_cells if math.isnan(self.range_m) else self.range_m,
            wide_range_m=DEGREE_M if stated else WIDE_RANGE_M,
            steep_local_sigma_m=math.sqrt(steep if math.isfinite(steep) else local),
            cell_m=cell_m,
        )


@dataclass(frozen=True)
class HeightErrors:
    """Errors of heights on a raster: a local part and a wide one, Gaussian and independent.

    Attributes
    ----------
    local_sigma_m, wide_sigma_m : float
        One standard deviation of either part, metres.
    local_range_m, wide_range_m : float
        Distances beyond which they no longer hold together, metres.
    steep_local_sigma_m : float
        The local part where the ground is steeper than 20 %.
    cell_m : float
        Between two heights of the raster; what lies between is interpolated, and so are
        the errors.
    """

    local_sigma_m: float
    wide_sigma_m: float
    local_range_m: float
    wide_range_m: float
    steep_local_sigma_m: float
    cell_m: float

    @property
    def sigma_m(self) -> float:
        """One standard deviation of a height, metres."""
        return math.hypot(self.local_sigma_m, self.wide_sigma_m)

    @cached_property
    def between_cells(self) -> tuple[Interpolated, Interpolated]:
        """Local and wide correlation of the surface between heights, for any two points."""
        cell = self.cell_m
        return (
            _interpolated(True, self.local_range_m / cell, cell),
            _interpolated(False, self.wide_range_m / cell, cell),
        )

    @cached_property
    def difference_scale(self) -> tuple[Floats, Floats]:
        """Distances, and the standard deviation of differences so far apart, to interpolate."""
        distance = np.concatenate([[0.0], np.geomspace(0.02 * self.cell_m, 1.2e6, 200)])
        return distance, self.difference_sigma_m(distance)

    def local_sigmas_m(self, slope: ArrayLike) -> Floats:
        """Standard deviation of the local part on ground of such slopes (rise over run)."""
        steep = np.asarray(slope, dtype=np.float64) > STEEP_SLOPE
        return np.where(steep, self.steep_local_sigma_m, self.local_sigma_m)

    def difference_sigma_m(self, distance_m: ArrayLike, slope: ArrayLike = 0.0) -> Floats:
        """Standard deviation of the difference of two points of the surface so far apart.

        On ground of such a slope, rise over run.
        """
        h = np.asarray(distance_m, dtype=np.float64)
        local, wide = self.between_cells
        own = self.local_sigmas_m(slope) ** 2 * (local.highest - local(h))
        common = self.wide_sigma_m**2 * (wide.highest - wide(h))
        return np.sqrt(np.maximum(2.0 * (own + common), 0.0))


def _gaussian(h: Floats, range_m: float) -> Floats:
    return np.asarray(np.exp(-4.0 * (h / range_m) ** 2))


def _spherical(h: Floats, range_m: float) -> Floats:
    x = np.minimum(np.abs(h) / range_m, 1.0)
    return np.asarray(1.0 - 1.5 * x + 0.5 * x**3)


STEPS_A_CELL: Final = 32
TABLE_CELLS: Final = 12


class Interpolated:
    """Correlation of a bilinear surface, averaged over where in their cells two points lie.

    Near nought from a table of steps of a 32nd of a cell, farther the raster's own.
    """

    __slots__ = ("_far", "_from_m", "_scale", "_table", "highest")

    def __init__(self, table: Floats, cell_m: float, far: tuple[bool, float]) -> None:
        self._table = table
        self.highest = float(table[0])
        self._scale = STEPS_A_CELL / cell_m
        self._from_m = (len(table) - 2) / self._scale
        self._far = far

    def __call__(self, distance_m: Floats) -> Floats:
        """Give the correlation at distances, metres."""
        local, range_m = self._far
        at = np.minimum(distance_m, self._from_m) * self._scale
        k = at.astype(np.int64)
        here = self._table[k]
        near = here + (self._table[k + 1] - here) * (at - k)
        far = distance_m >= self._from_m
        if not far.any():
            return np.asarray(near)
        beyond = (_gaussian if local else _spherical)(distance_m, range_m)
        return np.where(far, beyond, near)


@lru_cache(maxsize=16)
def _interpolated(local: bool, range_cells: float, cell_m: float) -> Interpolated:
    """Average the correlation of bilinear surfaces over phases and directions.

    Between heights a cell apart with weights ``1 - |u|``, two points at random in their cells
    share, along each axis, the correlations of heights k cells apart by a cubic B-spline
    centred on their distance: the triangle convolved with itself.
    """
    law = _gaussian if local else _spherical
    cells = TABLE_CELLS if not local else max(TABLE_CELLS, math.ceil(2.0 * range_cells))
    cells = min(cells, 64)
    h = np.arange(cells * STEPS_A_CELL + 2) / STEPS_A_CELL
    lattice = np.arange(-2, cells + 4)
    at = law(np.hypot(lattice[:, None], lattice[None, :]), range_cells)
    turns = np.radians([3.75, 11.25, 18.75, 26.25, 33.75, 41.25])
    table = np.mean(
        [
            np.einsum(
                "ni,ij,nj->n",
                _b_spline(h[:, None] * np.cos(turn) - lattice),
                at,
                _b_spline(h[:, None] * np.sin(turn) - lattice),
            )
            for turn in turns
        ],
        axis=0,
    )
    return Interpolated(table, cell_m, (local, range_cells * cell_m))


def _b_spline(x: Floats) -> Floats:
    x = np.abs(x)
    inner = 2.0 / 3.0 - x**2 + x**3 / 2.0
    outer = np.maximum(2.0 - x, 0.0) ** 3 / 6.0
    return np.where(x < 1.0, inner, outer)


@dataclass(frozen=True, slots=True)
class SightErrors:
    """What makes a skyline doubtful, one standard deviation each.

    Attributes
    ----------
    heights : HeightErrors
        Of the raster.
    eye_height_m : float
        Of the eye over its own ground, metres.
    position_m : float
        Of the eye's place, along and across, metres.
    refraction_k : float
        Of the terrestrial refraction coefficient.
    """

    heights: HeightErrors
    eye_height_m: float
    position_m: float
    refraction_k: float
