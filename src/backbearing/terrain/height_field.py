"""What slopes, surroundings and sweeps need of an elevation model, without knowing it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.grid import Grid
    from backbearing.terrain.reading.sources import Heights


class HeightField(Protocol):
    """Heights on a grid, metres; NaN where unknown. :class:`Elevation` is one."""

    @property
    def grid(self) -> Grid:
        """Where the pixels lie on the ground."""

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""

    @property
    def source(self) -> str:
        """Name of the file or array, for sentences."""

    @property
    def cell_size_m(self) -> float:
        """Side of a pixel, metres."""

    @property
    def heights_m(self) -> Heights:
        """Every height, shape (rows, cols)."""

    def window_m(self, rows: slice, cols: slice) -> Heights:
        """Heights of a window."""

    def local_steps_m(self, *, lat: float, lon: float) -> tuple[float, float]:
        """Step of a row and of a column at a place, metres."""

    def height_at(self, *, lat: ArrayLike, lon: ArrayLike) -> NDArray[np.float64]:
        """Height at places, bilinear; NaN where unknown."""
