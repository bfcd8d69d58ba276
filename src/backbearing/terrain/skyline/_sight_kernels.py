"""Sight lines from many eyes in one tile, compiled; the same as ``SightTile.rays`` for each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numba import njit

from backbearing.base.kept_code import inner, kept

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]
    Ints: TypeAlias = NDArray[np.int64]

_compiled = kept(njit, nogil=True, error_model="numpy")
_inner = inner(njit, nogil=True, error_model="numpy")


@_inner
def _weights(u: float, v: float, weights: Floats) -> None:
    """Fill in the weights of a tile's nine eyes."""
    down = (0.5 * u * (u - 1.0), 1.0 - u * u, 0.5 * u * (u + 1.0))
    across = (0.5 * v * (v - 1.0), 1.0 - v * v, 0.5 * v * (v + 1.0))
    for k in range(3):
        for m in range(3):
            weights[3 * k + m] = down[k] * across[m]


@_compiled
def trace_each(
    table: Floats,
    degree: int,
    middle: tuple[float, float],
    half: tuple[float, float],
    which: Ints,
    eye_rows: Floats,
    eye_cols: Floats,
    azimuths: Floats,
    rows: Floats,
    cols: Floats,
) -> None:
    """Write the polynomials of some rays into ``rows`` and ``cols``; azimuths in radians."""
    weights = np.empty(9)
    east, north = np.ones(degree + 1), np.ones(degree + 1)
    for n in which:
        _weights((eye_rows[n] - middle[0]) / half[0], (eye_cols[n] - middle[1]) / half[1], weights)
        for k in range(1, degree + 1):
            east[k] = east[k - 1] * math.sin(azimuths[n])
            north[k] = north[k - 1] * math.cos(azimuths[n])
        rows[n, 0], cols[n, 0] = eye_rows[n], eye_cols[n]
        term = 0
        for k in range(1, degree + 1):
            row, col = 0.0, 0.0
            for i in range(k + 1):
                turn = east[i] * north[k - i]
                for m in range(9):
                    row += turn * weights[m] * table[m, 0, term]
                    col += turn * weights[m] * table[m, 1, term]
                term += 1
            rows[n, k], cols[n, k] = row, col
