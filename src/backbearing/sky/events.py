"""Instants at which a smooth quantity changes sign: sampled coarsely, polished, grazes kept."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.intervals import closest_that_holds, zeros
from backbearing.sky.grids import EvenGrid

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    When = NDArray[np.datetime64] | EvenGrid
    Margin = Callable[[When], NDArray[np.float64]]

MISSED_GRAZE_S = 10.0
"""A pair of crossings closer together than this may go unseen, seconds."""

_SECANT_STEPS = 6
_TRUSTED_US = 5_000.0
_POLISHED_US = 500.0
_HALVINGS = 24


@dataclass(frozen=True)
class Toggles:
    """Where a condition begins or ends to hold.

    Attributes
    ----------
    utc : (n,) datetime64[us]
        Sorted instants of change.
    holds_at_start : bool
        Whether the condition holds before the first change.
    """

    utc: NDArray[np.datetime64]
    holds_at_start: bool

    def holds(self, when: NDArray[np.datetime64]) -> NDArray[np.bool_]:
        """Whether the condition holds at instants, shape kept."""
        count = np.searchsorted(self.utc, when, side="right")
        return np.asarray((count % 2 == 1) != self.holds_at_start)

    def begins(self) -> NDArray[np.bool_]:
        """For each change, whether the condition begins there."""
        odd = np.arange(self.utc.size) % 2 == 1
        return np.asarray(odd == self.holds_at_start)

    def between(
        self, start: np.datetime64, end: np.datetime64
    ) -> tuple[bool, NDArray[np.datetime64], NDArray[np.bool_]]:
        """State at ``start``, changes in [start, end), and which of them begin it."""
        first, last = np.searchsorted(self.utc, [start, end])
        state = (int(first) % 2 == 1) != self.holds_at_start
        return state, self.utc[first:last], self.begins()[first:last]


def toggles(margin: Margin, samples: When) -> Toggles:
    """Find where ``margin >= 0`` begins and ends over sorted samples.

    NaN counts as not holding. Between samples an extremum that reaches for zero is looked
    at on its own, so that of a smooth margin only grazes under `MISSED_GRAZE_S` go unseen.
    """
    values = margin(samples)
    grid = samples.utc if isinstance(samples, EvenGrid) else samples
    grid, values = _with_extrema(margin, grid, values)
    holds = values >= 0.0
    change = np.flatnonzero(holds[1:] != holds[:-1])
    left, right = grid[change], grid[change + 1]
    smooth = np.isfinite(values[change]) & np.isfinite(values[change + 1])
    when = np.empty(change.size, dtype="datetime64[us]")
    if isinstance(samples, EvenGrid) and smooth.any():
        when, done = _by_interpolation(margin, grid, values, change)
        smooth &= ~done
        rough = ~smooth & ~done
    else:
        rough = ~smooth
    if smooth.any():
        when[smooth] = _zeros(
            margin, left[smooth], right[smooth], values[change][smooth], values[change + 1][smooth]
        )
    if rough.any():
        when[rough] = _edges(margin, left[rough], right[rough], holds[change][rough])
    return Toggles(when, bool(holds[0]))


def _with_extrema(
    margin: Margin, grid: NDArray[np.datetime64], values: NDArray[np.float64]
) -> tuple[NDArray[np.datetime64], NDArray[np.float64]]:
    """Add the vertex of the parabola through three samples wherever it might cross zero."""
    before, here, after = values[:-2], values[1:-1], values[2:]
    one_side = (np.sign(before) == np.sign(here)) & (np.sign(here) == np.sign(after))
    nearest = (np.abs(here) <= np.abs(before)) & (np.abs(here) < np.abs(after))
    steps = np.diff(grid).astype(np.int64)
    even = steps[:-1] == steps[1:]
    pick = np.flatnonzero(one_side & nearest & even)
    if pick.size == 0:
        return grid, values
    bend = before[pick] - 2.0 * here[pick] + after[pick]
    shift = 0.5 * (before[pick] - after[pick]) / bend
    peak = here[pick] - 0.25 * (before[pick] - after[pick]) * shift
    # Twice the drop from sample to vertex is ample room for what the parabola leaves out.
    reaches = np.abs(peak) <= 2.0 * np.abs(here[pick] - peak) + 1e-3
    pick, shift = pick[reaches], shift[reaches]
    extra = grid[pick + 1] + np.rint(shift * steps[pick]).astype("timedelta64[us]")
    where = np.searchsorted(grid, extra)
    return np.insert(grid, where, extra), np.insert(values, where, margin(extra))


def _by_interpolation(
    margin: Margin,
    grid: NDArray[np.datetime64],
    values: NDArray[np.float64],
    change: NDArray[np.intp],
) -> tuple[NDArray[np.datetime64], NDArray[np.bool_]]:
    """Roots from the six samples about each bracket, proven by one look at the margin itself.

    Where the interpolated root and Newton's step from it lie more than 5 ms apart,
    or the samples are not even, the bracket is left for a slower rule: ``done`` is False.
    """
    when = grid[change].copy()
    around = change[:, None] + np.arange(-2, 4)
    inside = (around[:, 0] >= 0) & (around[:, -1] < grid.size)
    around = np.where(inside[:, None], around, np.arange(6))
    micro = grid[around].astype(np.int64)
    gaps, samples = np.diff(micro, axis=1), values[around]
    even = inside & (gaps == gaps[:, :1]).all(axis=1) & np.isfinite(samples).all(axis=1)
    pick = np.flatnonzero(even)
    if pick.size == 0:
        return when, even
    root, slope = _root_of_six(samples[pick])
    step_us = gaps[pick, 0].astype(np.float64)
    first = grid[change[pick]] + np.rint(root * step_us).astype("timedelta64[us]")
    with np.errstate(divide="ignore", invalid="ignore"):
        off_us = margin(first) / slope * step_us
    trusted = np.abs(off_us) <= _TRUSTED_US
    when[pick] = first - np.rint(np.where(trusted, off_us, 0.0)).astype("timedelta64[us]")
    done = even.copy()
    done[pick] = trusted
    return when, done


def _root_of_six(
    samples: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Root in [0, 1] of the quintic through samples (n, 6) at -2 .. 3, and the slope there."""
    power = samples @ _QUINTIC.T
    low, high = np.zeros(len(samples)), np.ones(len(samples))
    x = samples[:, 2] / (samples[:, 2] - samples[:, 3])
    slope = samples[:, 3] - samples[:, 2]
    for _ in range(_SECANT_STEPS):
        value = power[:, 5]
        slope = np.zeros(len(samples))
        for k in range(4, -1, -1):
            slope = slope * x + value
            value = value * x + power[:, k]
        below = (value >= 0.0) == (samples[:, 2] >= 0.0)
        low, high = np.where(below, x, low), np.where(below, high, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            newton = x - value / slope
        x = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
    return x, slope


_QUINTIC = np.linalg.inv(np.vander(np.arange(-2.0, 4.0), 6, increasing=True))


def _zeros(
    margin: Margin,
    left: NDArray[np.datetime64],
    right: NDArray[np.datetime64],
    f_left: NDArray[np.float64],
    f_right: NDArray[np.float64],
) -> NDArray[np.datetime64]:
    """Instants at which a smooth margin is zero, to half a millisecond."""
    width = (right - left).astype(np.float64)

    def at(share: NDArray[np.float64]) -> NDArray[np.datetime64]:
        return np.asarray(left + np.rint(share * width).astype("timedelta64[us]"))

    ends = np.zeros(left.size), np.ones(left.size)
    share = zeros(lambda x: margin(at(x)), *ends, f_left, f_right, near=_POLISHED_US / width)
    return at(share)


def _edges(
    margin: Margin,
    left: NDArray[np.datetime64],
    right: NDArray[np.datetime64],
    left_holds: NDArray[np.bool_],
) -> NDArray[np.datetime64]:
    """Where an unknown value stands on one side: the last instant on the known side."""
    return closest_that_holds(
        lambda when: margin(when) >= 0.0,
        np.where(left_holds, left, right),
        np.where(left_holds, right, left),
        halvings=_HALVINGS,
    )
