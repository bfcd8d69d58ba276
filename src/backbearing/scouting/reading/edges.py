"""Woods and rows of trees as points along their edge: what a frame sees of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.geodesy import metres_per_degree
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Sequence

STEP_M: Final = 30.0
"""Farthest that two neighbours are apart, and the usual width of each (own choice)."""


MOST_POINTS: Final = 20_000
"""Of one wood's edge: 600 km of it. A longer one is no wood but a slip or malice."""


class EdgeTooLongError(ValueError):
    """An edge would take more points than are kept of one wood."""


def spread_along(lines: Sequence[Sequence[tuple[float, float]]]) -> list[tuple[float, float]]:
    """Put points along lines of longitude and latitude, 30 m apart at most.

    Raises
    ------
    EdgeTooLongError
        For more than 20,000 points, or a corner off the globe.
    """
    out: list[tuple[float, float]] = []
    for line in lines:
        corners = np.array(line, dtype=np.float64)
        if not (np.abs(corners) <= [180.0, 90.0]).all():
            message = "its edge has a corner off the globe; write longitude, then latitude"
            raise EdgeTooLongError(message)
        east, north = metres_per_degree(
            np.array([(corners[:, 1].min() + corners[:, 1].max()) / 2.0])
        )
        steps = np.hypot(*(np.diff(corners, axis=0) * [east[0], north[0]]).T)
        along = np.concatenate([[0.0], np.cumsum(steps)])
        count = max(1, int(np.ceil(along[-1] / STEP_M)))
        if len(out) + count > MOST_POINTS:
            message = (
                f"its edge is more than {num(MOST_POINTS * STEP_M / 1000.0, 0)} km long; split it"
            )
            raise EdgeTooLongError(message)
        marks = (np.arange(count) + 0.5) / count * along[-1]
        lon = np.interp(marks, along, corners[:, 0])
        lat = np.interp(marks, along, corners[:, 1])
        out.extend(zip(lon.tolist(), lat.tolist(), strict=True))
    return out
