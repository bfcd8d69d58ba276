"""The straight pieces that stand for a ray on the raster."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


STRAY: Final = 5e-6
"""How far a chord may stray from a sight line, as a share of the distance from the eye."""


class Chords(NamedTuple):
    """Straight pieces of n rays, m to each: ``s_m`` of shape (n, m + 1), the others (n, m).

    Rows and columns are given at both ends; two chords do not quite meet. Rays that need
    fewer chords have empty ones at their end.
    """

    s_m: Floats
    row_near: Floats
    row_far: Floats
    col_near: Floats
    col_far: Floats
