"""Sight lines that run along the raster's edge: turned by a hair, so that they stay on it.

Where a sight line lies is known to some millimetres. One that starts on the outermost pixel
centres and runs along them would leave the raster and come back by rounding alone, and what
stands ahead would be missed in silence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.terrain.skyline.chords import STRAY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BESIDE_CELLS: Final = 0.05
"""Eyes no farther inside than this may have rays that run along the edge."""

MOST_TURN: Final = 1e-4
"""Radians by which a ray is turned at most: 0.006 degree, 1 m aside at 10 km."""

KEPT_INSIDE: Final = 2.0 * STRAY
"""Share of its length by which such a ray is kept inside, for its chords stray from it."""

SHARES: Final = np.geomspace(1e-4, 1.0, 41)
"""Shares of a ray's reach at which its way along the edge is looked at."""


def keep_on_raster(rows: Floats, cols: Floats, shape: tuple[int, int]) -> None:
    """Turn rays that graze the raster's edge so that they run along it; in place.

    Parameters
    ----------
    rows, cols : ndarray, shape (n, degree + 1)
        Lines as polynomials of the share of their reach, as in :class:`.ray_bundle.Bundle`.
    shape : tuple of int
        Rows and columns of the raster.
    """
    length = np.hypot(rows[:, 1], cols[:, 1])
    for lines, count in ((rows, shape[0]), (cols, shape[1])):
        for side, edge in ((1.0, 0.0), (-1.0, count - 1.0)):
            inside, leaning = side * (lines[:, 0] - edge), side * lines[:, 1]
            grazing = (inside <= BESIDE_CELLS) & (leaning >= -MOST_TURN * length)
            which = np.flatnonzero(grazing)
            if which.size:
                _keep_beside(lines, which, side, edge, length[which])


def _keep_beside(
    lines: Floats, which: NDArray[np.int64], side: float, edge: float, length: Floats
) -> None:
    """Turn some rays away from one edge; ``length`` is their reach in cells."""
    margins = side * lines[which]
    margins[:, 0] = np.maximum(margins[:, 0] - side * edge, 0.0)
    along = np.zeros((len(which), len(SHARES)))
    for k in range(margins.shape[1] - 1, -1, -1):
        along = along * SHARES + margins[:, k, None]
    lean = along / (SHARES * length[:, None])
    # As far as the ray stays within the turn allowed; beyond that it truly leaves.
    leaves = np.logical_or.accumulate(lean < -MOST_TURN, axis=1)
    least = np.where(leaves, np.inf, lean).min(axis=1)
    turn = np.where(np.isfinite(least), np.maximum(KEPT_INSIDE - least, 0.0), 0.0)
    grazes = turn > 0.0
    lines[which[grazes], 0] = edge + side * margins[grazes, 0]
    lines[which[grazes], 1] += side * turn[grazes] * length[grazes]
