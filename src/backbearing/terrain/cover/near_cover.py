"""Trees near the eye in their own cells, where these are finer than the ground's.

A row of trees at 40 m on ground of 30 m is a wall of whole cells there, or nothing at all. So the
cover near an eye is looked at on a raster of its own: the bare ground between its pixels, and the
cover on it, in parts of the ground's cells. It is read in small pieces about the eyes and is never
whole.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.terrain.grid import Grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.cover.stack import CoverStack
    from backbearing.terrain.reading.sources import Source

    Singles = NDArray[np.float32]

LEAST_FINE_M: Final = 2.0
"""No finer than this is cover looked at: rasters and tripods lie some metres off."""

MAPPED_CELL_M: Final = 4.0
"""Cells in which shapes of a map are laid near the eye: half of a usual crown."""

MOST_PARTS: Final = 50
"""Parts of a ground's cell along each side at most."""

NEAR_GROUND_CELLS: Final = 12.0
"""So many of the ground's cells away one of them is 5 degrees wide, and tops that reach up to a
cell nearer than they are look 9 % too high; beyond, cover is known in those cells alone."""

NEAR_FINE_CELLS: Final = 160.0
"""Farther than so many of its own cells no cover is looked at in them, to bound the work."""

PIECE: Final = 1024
"""Side of the pieces in which the fine raster is read, cells."""

CLOSEST_M: Final = 5.0
"""Nearer cover is left out: neither the tripod nor a raster's trees are known to stand better."""

SUNK_M: Final = 0.05
"""The fine raster's ground lies so much lower where nothing stands on it, so that it never makes
a skyline: that of the bare ground is known exactly."""


@dataclass(frozen=True, eq=False)
class FinerGround:
    """The bare ground in ``parts`` by ``parts`` of each cell, bilinear between its pixels."""

    bare: Source
    parts: int

    @cached_property
    def grid(self) -> Grid:
        """The ground's, in parts of its cells."""
        from affine import Affine

        own = self.bare.grid
        rows, cols = own.shape
        place = own.transform @ Affine.scale(1.0 / self.parts)
        return Grid((rows * self.parts, cols * self.parts), place, own.crs)

    @property
    def name(self) -> str:
        """The ground's."""
        return self.bare.name

    @property
    def tags(self) -> dict[str, str]:
        """The ground's."""
        return dict(self.bare.tags)

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def read(self, rows: slice, cols: slice) -> Singles:
        """Read a window in metres; beyond the outermost pixels these go on."""
        high, wide = self.bare.grid.shape
        (i, k, u), (j, m, v) = self._between(rows, high), self._between(cols, wide)
        top, left = int(i[0]), int(j[0])
        window = slice(top, int(k[-1]) + 1), slice(left, int(m[-1]) + 1)
        z = np.asarray(self.bare.read(*window), dtype=np.float64)
        across = z[:, j - left] * (1.0 - v) + z[:, m - left] * v
        along = u[:, None]
        return np.asarray(across[i - top] * (1.0 - along) + across[k - top] * along, np.float32)

    def _between(
        self, span: slice, count: int
    ) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]:
        """Pixels of the ground before and after parts of cells, and how far between them."""
        at = (np.arange(span.start, span.stop) + 0.5) / self.parts - 0.5
        first = np.clip(np.floor(at).astype(np.int64), 0, max(count - 2, 0))
        return first, np.minimum(first + 1, count - 1), np.clip(at - first, 0.0, 1.0)

    def covered(self, pixels: Any) -> NDArray[np.bool_]:
        """Tell that whatever lies on it was given: the ground itself says what is missing."""
        return np.ones(np.shape(pixels.row), dtype=np.bool_)


def finer_ground(
    bare: Source, stack: CoverStack, least_m: float = LEAST_FINE_M
) -> FinerGround | None:
    """The ground in cells as fine as what is known of its cover; None where that is no finer.

    Never finer than ``least_m``.
    """
    cells = [one.file.grid.cell_size_m for one in (stack.canopy, stack.surface) if one is not None]
    if stack.mapped is not None:
        cells.append(MAPPED_CELL_M)
    own = bare.grid.cell_size_m
    parts = round(own / max(min(cells, default=own), least_m) + 0.2)
    return FinerGround(bare, min(parts, MOST_PARTS)) if parts > 1 else None


def near_reach_m(finer: FinerGround) -> float:
    """How far from an eye the cover is looked at in its own cells, metres."""
    return min(
        NEAR_GROUND_CELLS * finer.bare.grid.cell_size_m, NEAR_FINE_CELLS * finer.grid.cell_size_m
    )
