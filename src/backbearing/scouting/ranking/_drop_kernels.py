"""Compiled: falls between neighbouring pixels near many places."""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from backbearing.base.kept_code import kept

_compiled = kept(njit, nogil=True, error_model="numpy")


@_compiled
def falls_and_levels(z: Any, row: Any, col: Any, rows_m: float, cols_m: float, reach_m: float,
                     least_slope: float, fall: Any, over: Any, level: Any) -> None:  # fmt: skip
    """Largest fall between neighbouring pixels near places, and how many lie dead level.

    Of the falls with at least a slope (rise over run); ``fall`` and ``over`` are metres;
    ``level`` counts the pixels within reach that have the height of the nearest one. NaN where
    there is no such fall, -1 where nothing is known.
    """
    down, across = int(reach_m / rows_m) + 1, int(reach_m / cols_m) + 1
    for i in range(len(row)):
        fall[i] = over[i] = math.nan
        level[i] = -1
        if not (math.isfinite(row[i]) and math.isfinite(col[i])):
            continue
        r, c = round(row[i]), round(col[i])
        top, bottom = max(r - down, 0), min(r + down, z.shape[0] - 1)
        left, right = max(c - across, 0), min(c + across, z.shape[1] - 1)
        if not (0 <= r < z.shape[0] and 0 <= c < z.shape[1]):
            continue
        level[i] = 0
        for a in range(top, bottom + 1):
            for b in range(left, right + 1):
                if z[a, b] == z[r, c]:
                    level[i] += 1
                for k in range(4):
                    p, q = a + (1 if k else 0), b + (1 if k % 2 == 0 else 0) - (k == 3)
                    if p > bottom or q > right or q < left:
                        continue
                    drop = abs(float(z[a, b]) - float(z[p, q]))
                    run = math.hypot((p - a) * rows_m, (q - b) * cols_m)
                    if drop >= least_slope * run and not drop <= fall[i]:
                        fall[i] = drop
                        over[i] = run
