"""What the whole night has in common for every lens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.wall_clock import hm
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.sky.darkness import Searched
    from backbearing.sky.windows import DarkWindow

    Moments = Sequence[dt.datetime] | NDArray[np.datetime64]
    Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class NightSky:
    """What the whole night has in common for every lens.

    ``times`` are the moments of the arcs, UTC; ``zone`` is the zone to show. ``dark`` are the
    windows of Sun and Moon alone; ``sunless`` of the Sun alone. ``searched`` is how the dark ones
    were found, to ask for others under the same Sun and Moon.
    """

    zone: str
    times: tuple[dt.datetime, ...]
    dark: tuple[DarkWindow, ...]
    sunless: tuple[DarkWindow, ...]
    clear_by_deg: float
    searched: Searched | None = None

    def clock(self, time: dt.datetime) -> str:
        """Write a moment as local wall time, ``"23:40"``; see :func:`.wall_clock.hm`."""
        return hm(time, self.zone)

    def is_dark(self, time: dt.datetime) -> bool:
        """Whether Sun and Moon both leave the sky as dark as asked."""
        return any(window.start <= time <= window.end for window in self.dark)

    def sunless_at(self, times: Moments) -> Flags:
        """Whether the Sun is as far down as asked at each moment, shape (n,)."""
        return _within(self.sunless, times)

    def dark_at(self, times: Moments) -> Flags:
        """Whether Sun and Moon both leave the sky as dark as asked, shape (n,)."""
        return _within(self.dark, times)


def _within(windows: Sequence[DarkWindow], times: Moments) -> Flags:
    utc = utc_array(times)
    inside = np.zeros(utc.shape, dtype=np.bool_)
    for window in windows:
        start, end = utc_array([window.start, window.end])
        inside |= (start <= utc) & (utc <= end)
    return inside
