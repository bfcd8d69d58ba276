"""Woods and rows of trees as points along their edge: what a frame sees of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.geodesy import metres_per_degree

if TYPE_CHECKING:
    from collections.abc import Sequence

STEP_M: Final = 30.0
"""Farthest that two neighbours are apart, and the usual width of each (own choice)."""


def spread_along(lines: Sequence[Sequence[tuple[float, float]]]) -> list[tuple[float, float]]:
    """Put points along lines of longitude and latitude, 30 m apart at most."""
    out: list[tuple[float, float]] = []
    for line in lines:
        corners = np.array(line, dtype=np.float64)
        east, north = metres_per_degree(
            np.array([(corners[:, 1].min() + corners[:, 1].max()) / 2.0])
        )
        steps = np.hypot(*(np.diff(corners, axis=0) * [east[0], north[0]]).T)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        count = max(1, int(np.ceil(along[-1] / STEP_M)))
        marks = (np.arange(count) + 0.5) / count * along[-1]
        lon = np.interp(marks, along, corners[:, 0])
        lat = np.interp(marks, along, corners[:, 1])
        out.extend(zip(lon.tolist(), lat.tolist(), strict=True))
    return out
