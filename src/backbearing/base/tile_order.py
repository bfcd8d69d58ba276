"""An order of the squares of a grid in which neighbours follow one another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def place_on_curve(row: ArrayLike, col: ArrayLike) -> NDArray[np.int64]:
    """Give the place of squares on a Hilbert curve, from 0.

    Each square of the curve touches the one before; of every four squares that make up one of
    twice the side (and so on upwards) all are visited before the next.

    Parameters
    ----------
    row, col : array_like of int, shape (n,)
        From -1,000,000 to 1,000,000.

    Examples
    --------
    >>> from backbearing.base.tile_order import place_on_curve
    >>> first = place_on_curve([0, 1, 0, 1], [0, 0, 1, 1])
    >>> sorted(first - first.min())
    [0, 1, 2, 3]
    """
    y, x = (np.asarray(v, dtype=np.int64) + 2**20 for v in (row, col))
    place = np.zeros(np.broadcast(y, x).shape, dtype=np.int64)
    for bit in range(20, -1, -1):
        side = np.int64(1) << bit
        right, down = (x & side) > 0, (y & side) > 0
        place += side * side * ((3 * right) ^ down)
        # The quarters above and at the end are turned, so that their ends meet.
        x, y = np.where(~down & right, side - 1 - x, x), np.where(~down & right, side - 1 - y, y)
        x, y = np.where(down, x, y), np.where(down, y, x)
        x, y = x & (side - 1), y & (side - 1)
    return place
