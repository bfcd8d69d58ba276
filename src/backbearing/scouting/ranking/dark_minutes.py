"""From margins at hour angles to dark minutes: night by night, lens by lens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import wrap_360_deg
from backbearing.base.constants import SIDEREAL_RATE_DEG_S
from backbearing.scouting.ranking.dark_times import TURN_S_PER_DEG, cell_of
from backbearing.scouting.ranking.hour_angle_grid import NODES
from backbearing.scouting.ranking.task import NODE_STEP_DEG

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.scouting.ranking.dark_times import DarkTimes, NightClock

    Floats = NDArray[np.float64]

ENOUGH_MINUTES: Final = 60.0
"""A night with so many good minutes is as good as a longer one when the best is chosen."""

ROOM_MINUTES: Final = 15.0
"""So far from the ends of the dark a minute is worth its whole, and half of it there."""

MINUTES_PER_NODE: Final = NODE_STEP_DEG / SIDEREAL_RATE_DEG_S / 60.0


@dataclass(frozen=True)
class DarkStretches:
    """Dark stretches of n candidates, in nodes: hour angles, or moments for a moving target.

    Attributes
    ----------
    first : ndarray of int, shape (n + 1,)
        Where each candidate's stretches begin.
    night : ndarray of int32, shape (k,)
    start_s : ndarray, shape (k,)
        Seconds from the night's middle at which the stretch begins there.
    start, end : ndarray, shape (k,)
        In nodes; the start within one turn.
    darkness : ndarray of bool, shape (n,)
        Whether the Sun is ever as deep as asked.
    minutes_per_node : float
        From one node to the next.
    """

    first: NDArray[np.int64]
    night: NDArray[np.int32]
    start_s: Floats
    start: Floats
    end: Floats
    darkness: NDArray[np.bool_]
    minutes_per_node: float = MINUTES_PER_NODE

    def nodes_met(self) -> NDArray[np.bool_]:
        """Nodes at or next to any dark stretch, shape (NODES,)."""
        met = np.zeros(2 * NODES + 2, dtype=np.int64)
        low = np.floor(self.start).astype(np.int64)
        high = np.minimum(np.ceil(self.end).astype(np.int64), low + NODES - 1)
        np.add.at(met, low, 1)
        np.add.at(met, high + 1, -1)
        inside = np.cumsum(met) > 0
        return np.asarray(inside[:NODES] | inside[NODES : 2 * NODES])

    def instants(
        self, clock: NightClock, stretch: NDArray[np.int64], node: Floats
    ) -> NDArray[np.datetime64]:
        """UTC at places in nodes of some stretches; the two have one shape."""
        since = self.start_s[stretch] + (node - self.start[stretch]) * self.minutes_per_node * 60.0
        micro = np.rint(since * 1e6).astype("timedelta64[us]")
        return np.asarray(clock.utc[self.night[stretch]] + micro)


def dark_stretches(
    clock: NightClock, times: Callable[[int, int], DarkTimes], *, lat: Floats, lon: Floats
) -> DarkStretches:
    """Turn the dark times of the cells into hour angles of the target over each candidate."""
    rows, cols = cell_of(lat=lat, lon=lon)
    counts, night, start_s, start, end, darkness = [0], [], [], [], [], []
    for row, col, place in zip(rows.tolist(), cols.tolist(), lon.tolist(), strict=True):
        found = times(row, col)
        begins = found.start_s - (place - found.lon) * TURN_S_PER_DEG
        turn = clock.hour_angle_deg[found.night] + place + SIDEREAL_RATE_DEG_S * begins
        node = wrap_360_deg(turn) / NODE_STEP_DEG
        counts.append(len(begins))
        night.append(found.night)
        start_s.append(begins)
        start.append(node)
        end.append(node + (found.end_s - found.start_s) * SIDEREAL_RATE_DEG_S / NODE_STEP_DEG)
        darkness.append(found.darkness)
    return DarkStretches(
        first=np.cumsum(counts),
        night=np.concatenate(night).astype(np.int32),
        start_s=np.concatenate(start_s),
        start=np.concatenate(start),
        end=np.concatenate(end),
        darkness=np.array(darkness),
    )


def good_part(*margins: Floats) -> tuple[Floats, Floats]:
    """Part of the way from each node to the next on which all margins are at least 0.

    Parameters
    ----------
    *margins : ndarray, shape (..., nodes)
        Taken as linear from node to node; NaN is unknown, and where one end is unknown the
        other holds half of the way.

    Returns
    -------
    low, high : ndarray, shape (..., nodes)
        Shares of the way; none where low >= high.
    """
    low, high = np.zeros(margins[0].shape), np.ones(margins[0].shape)
    for here in margins:
        then = np.roll(here, -1, axis=-1)
        with np.errstate(invalid="ignore", divide="ignore"):
            cross = here / (here - then)
            a = np.where(here >= 0.0, 0.0, np.where(np.isnan(here), 0.5, cross))
            b = np.where(then >= 0.0, 1.0, np.where(np.isnan(then), 0.5, cross))
            none = ~((here >= 0.0) | (then >= 0.0))
        np.maximum(low, np.where(none, 1.0, a), out=low)
        np.minimum(high, np.where(none, 0.0, b), out=high)
    return low, high
