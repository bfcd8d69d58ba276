"""Exact answers at the test cells of an area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Singles = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class TrialCells:
    """Exact answers at test cells; ``row`` and ``col`` (n,) count cells of the area.

    ``altitude_deg`` and ``skyline_deg`` are (n, m) for the target's direction at m moments,
    ``sigma_deg`` (n,) one standard deviation of the skyline at the middle one.
    """

    row: Ints
    col: Ints
    altitude_deg: Floats
    skyline_deg: Floats
    sigma_deg: Floats

    @property
    def clearance_deg(self) -> Floats:
        """Target less skyline, (n, m)."""
        return self.altitude_deg - self.skyline_deg

    def every_other(self, first: int) -> TrialCells:
        """Half of the cells."""
        some = slice(first, None, 2)
        return TrialCells(
            self.row[some], self.col[some], self.altitude_deg[some], self.skyline_deg[some],
            self.sigma_deg[some],
        )  # fmt: skip
