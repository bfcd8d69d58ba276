"""What the whole night has in common for every lens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.sky.windows import DarkWindow


@dataclass(frozen=True, slots=True)
class NightSky:
    """What the whole night has in common for every lens.

    ``times`` are the moments of the arcs, UTC; ``zone`` is the zone to show. ``dark`` are the
    windows of Sun and Moon alone; ``sunless`` of the Sun alone.
    """

    zone: str
    times: tuple[dt.datetime, ...]
    dark: tuple[DarkWindow, ...]
    sunless: tuple[DarkWindow, ...]
    clear_by_deg: float

    def clock(self, time: dt.datetime) -> str:
        """Write a moment as local wall time, ``"23:40"``; see :func:`.wall_clock.hm`."""
        return hm(time, self.zone)

    def is_sunless(self, time: dt.datetime) -> bool:
        """Whether the Sun is as far down as asked."""
        return any(window.start <= time <= window.end for window in self.sunless)

    def is_dark(self, time: dt.datetime) -> bool:
        """Whether Sun and Moon both leave the sky as dark as asked."""
        return any(window.start <= time <= window.end for window in self.dark)
