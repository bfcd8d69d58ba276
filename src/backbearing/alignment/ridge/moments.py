"""Which bearings to sweep: no more than the skyline's own change between them asks for."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.errors import NothingFoundError
from backbearing.sky.instants import aware, utc_array

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.alignment.ridge.trial_cells import TrialCells
    from backbearing.alignment.stand.night_sky import NightSky

    Floats = NDArray[np.float64]
    Instants = NDArray[np.datetime64]

TOLERANCE_DEG: Final = 0.05
"""Root mean square that clearances between two swept bearings may always be off."""

SHARE_OF_SIGMA: Final = 0.1
"""As above, but this share of what the raster's own heights are off, where that is more."""

LONGEST_STEP: Final = dt.timedelta(minutes=30)

WIDEST_TURN_DEG: Final = 10.0
"""The target turns no more than this between two swept bearings."""

FINEST_TURN_DEG: Final = 0.5
"""Moments lie so near in bearing that what passes between two of them does not matter."""

SHORTEST_GAP: Final = np.timedelta64(1, "s")
"""Moments never lie nearer than this: the target passes close by the zenith."""

SHORTEST_STRETCH: Final = dt.timedelta(seconds=10)


@dataclass(frozen=True, slots=True)
class DarkMoments:
    """Moments of the dark time with the target up, two minutes apart or less.

    ``stretch`` numbers the unbroken stretches that they lie in.
    """

    times: tuple[dt.datetime, ...]
    stretch: NDArray[np.int64]

    @property
    def instants(self) -> NDArray[np.datetime64]:
        """The moments as UTC numbers."""
        return utc_array(self.times)


def dark_stretches(sky: NightSky) -> DarkMoments:
    """Lay out the moments, with the exact ends of the dark windows.

    Raises
    ------
    NothingFoundError
        When the night has no dark time with the target up.
    """
    times: list[dt.datetime] = []
    number: list[int] = []
    near = 1.01 * _spacing(sky.times)
    for window in sky.dark:
        start, end = (t.astimezone(dt.UTC) for t in (window.start, window.end))
        inside = [t for t in sky.times if start <= t <= end]
        for run in _runs(inside, near):
            before = [start] if SHORTEST_STRETCH < run[0] - start <= near else []
            after = [end] if SHORTEST_STRETCH < end - run[-1] <= near else []
            whole = [*before, *run, *after]
            if len(whole) < 2:
                continue
            number += [number[-1] + 1 if number else 0] * len(whole)
            times += whole
    if not times:
        raise NothingFoundError(
            "There is no dark time with the target above the horizontal in this night; "
            "`backbearing stand` says why."
        )
    return DarkMoments(tuple(times), np.array(number, dtype=np.int64))


def _spacing(times: tuple[dt.datetime, ...]) -> dt.timedelta:
    gaps = [b - a for a, b in pairwise(times)]
    return min(gaps, default=dt.timedelta(minutes=2))


def _runs(times: list[dt.datetime], near: dt.timedelta) -> list[list[dt.datetime]]:
    """Moments parted where the target was down in between."""
    runs: list[list[dt.datetime]] = []
    for time in times:
        if runs and time - runs[-1][-1] <= near:
            runs[-1].append(time)
        else:
            runs.append([time])
    return runs


def finer(stretches: DarkMoments, azimuth_at: Callable[[Instants], Floats]) -> DarkMoments:
    """Put moments between those from one to the next of which the target turns far.

    Near the zenith it turns by many degrees in two minutes, and a ridge may come and go.

    Parameters
    ----------
    azimuth_at : callable
        From (n,) instants to azimuths of shape (..., n) at places spread over the area.
    """
    instants, stretch = stretches.instants, stretches.stretch
    while True:
        turn = np.abs(wrap_180_deg(np.diff(azimuth_at(instants), axis=-1)))
        turn = turn.reshape(-1, len(instants) - 1).max(axis=0)
        far = (turn > FINEST_TURN_DEG) & (np.diff(instants) >= 2 * SHORTEST_GAP)
        far &= stretch[1:] == stretch[:-1]
        at = np.flatnonzero(far)
        if not at.size:
            break
        between = instants[at] + (instants[at + 1] - instants[at]) // 2
        instants = np.insert(instants, at + 1, between)
        stretch = np.insert(stretch, at + 1, stretch[at])
    return DarkMoments(tuple(aware(moment) for moment in instants), stretch)


def chosen_moments(
    stretches: DarkMoments, azimuth_deg: Floats, trial: TrialCells, sigma_deg: float
) -> list[int]:
    """Number the moments at which to sweep: each stretch's ends, and few between.

    From one moment to the next as far as the clearance at the test cells runs straight
    within the tolerance, root mean square over cells and the moments passed over, and as
    far as no more than the tolerance is lost of the largest clearances, root mean square
    over the cells that have theirs between. ``sigma_deg`` is one standard deviation of a
    clearance by the raster's heights.
    """
    tolerance = max(TOLERANCE_DEG, SHARE_OF_SIGMA * float(np.nan_to_num(sigma_deg)))
    seconds = stretches.instants.astype(np.int64) / 1e6
    turn = np.degrees(np.unwrap(np.radians(azimuth_deg)))
    clearance = trial.clearance_deg
    kept: list[int] = []
    for number in np.unique(stretches.stretch):
        own = np.flatnonzero(stretches.stretch == number)
        at, last = int(own[0]), int(own[-1])
        kept.append(at)
        while at < last:
            then = at + 1
            while then < last and _step_allowed(seconds, turn, at, then + 1):
                if _off_straight(seconds, clearance, at, then + 1) > tolerance:
                    break
                if _lost(clearance, at, then + 1) > tolerance:
                    break
                then += 1
            kept.append(then)
            at = then
    return kept


def _lost(clearance: Floats, a: int, b: int) -> float:
    """Root mean square of what is lost of the largest clearances that lie between a and b."""
    between = clearance[:, a + 1 : b].max(axis=1)
    own = between >= clearance.max(axis=1)
    lost = (between - np.maximum(clearance[:, a], clearance[:, b]))[own]
    return float(np.sqrt((lost**2).mean())) if lost.size else 0.0


def _step_allowed(seconds: Floats, turn: Floats, a: int, b: int) -> bool:
    """Whether two moments are near enough in time and bearing to be neighbours."""
    return bool(
        seconds[b] - seconds[a] <= LONGEST_STEP.total_seconds()
        and abs(turn[b] - turn[a]) <= WIDEST_TURN_DEG
    )


def _off_straight(seconds: Floats, clearance: Floats, a: int, b: int) -> float:
    """Root mean square between the chord from a to b and what lies between, degrees."""
    share = (seconds[a + 1 : b] - seconds[a]) / (seconds[b] - seconds[a])
    chord = clearance[:, a, None] + share * (clearance[:, b, None] - clearance[:, a, None])
    off = (chord - clearance[:, a + 1 : b]) ** 2
    known = np.isfinite(off)
    return float(np.sqrt(off[known].mean())) if known.any() else 0.0
