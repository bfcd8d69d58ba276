"""What all readings of one instrument have wrong alike: its tilt, and the turn of its compass.

Bare ground is the least that a reading can show: trees and sheds stand over it and nothing
stands below it. A reading less tilt, less the raster's skyline on the azimuth less the turn, is
therefore either noise alone, or noise and something above nought. The two kinds are mixed in
unknown shares, as in the treatment of outliers by [Hogg2010]_ (section 3); what stands over the
ground is taken to be exponential, so that with the noise it is an exponentially modified Gaussian
[Grushka1972]_. Tilt and turn are the mean of the posterior over a grid, with shares and heights
summed out, and their doubt its standard deviation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MOST_TILT_DEG: Final = 6.0
MOST_TURN_DEG: Final = 15.0
"""Errors up to this are looked for; a reading that is off by more is no reading."""

TILT_KNOWN_DEG: Final = 0.75
TURN_KNOWN_DEG: Final = 2.0
"""Less sure than this, one standard deviation, an error is not told."""

SURE_SIGMAS: Final = 2.0
"""An error is said to be one from so many of its standard deviations on."""

FEWEST: Final = 4
"""Readings that two errors and a share of trees need at least."""

OVER_SHARES: Final = (0.05, 0.2, 0.4, 0.6, 0.8)
"""Shares of readings over something that stands on the ground, all as likely."""

OVER_DEG: Final = (0.7, 2.0, 6.0)
"""Mean heights of what stands there, degrees, all as likely."""

MOST_READINGS: Final = 90
"""So many are enough; of more, every so many counts."""

NODES: Final = 41
MOST_LEVELS: Final = 6


@dataclass(frozen=True, slots=True)
class ReadingErrors:
    """Tilt and turn that readings have in common, with one standard deviation each, degrees.

    A reading's altitude is ``tilt_deg`` too high, its azimuth ``turn_deg`` too large. NaN where
    they cannot be told, and ``why`` says so in words.
    """

    tilt_deg: float
    tilt_sigma_deg: float
    turn_deg: float
    turn_sigma_deg: float
    why: str = ""

    @property
    def tilted(self) -> bool:
        """Whether the tilt is told and beyond its doubt."""
        return abs(self.tilt_deg) > SURE_SIGMAS * self.tilt_sigma_deg

    @property
    def turned(self) -> bool:
        """Whether the turn is told and beyond its doubt."""
        return abs(self.turn_deg) > SURE_SIGMAS * self.turn_sigma_deg


class Readings(NamedTuple):
    """Azimuths, altitudes and one standard deviation of what is compared, degrees, (n,)."""

    azimuths_deg: Floats
    altitudes_deg: Floats
    sigmas_deg: Floats


class _Moments(NamedTuple):
    """Mean and standard deviation of turn and tilt."""

    turn: float
    turn_sigma: float
    tilt: float
    tilt_sigma: float


def fit_reading_errors(
    readings: Readings, skyline: Callable[[Floats], Floats], *, common_sigma_deg: float = 0.0
) -> ReadingErrors:
    """Find the tilt and the turn of readings against the bare raster's skyline.

    Parameters
    ----------
    readings : Readings
        n of them, from one eye.
    skyline : callable
        The raster's skyline from there: altitudes by azimuths, any shape, degrees.
    common_sigma_deg : float
        One standard deviation of what the raster has wrong alike on all azimuths; it looks like a
        tilt, and goes into the tilt's doubt.
    """
    readings = _some(readings, skyline)
    n = len(readings.azimuths_deg)
    if n < FEWEST:
        return ReadingErrors(*(math.nan,) * 4, f"fewer than {FEWEST} readings over known ground")
    found = _narrowed(readings, skyline)
    tilt, tilt_sigma = found.tilt, math.hypot(found.tilt_sigma, common_sigma_deg)
    turn, turn_sigma = found.turn, found.turn_sigma
    why = []
    if tilt_sigma > TILT_KNOWN_DEG:
        tilt = tilt_sigma = math.nan
        why.append("too few readings show bare ground to tell a tilt")
    if turn_sigma > TURN_KNOWN_DEG:
        turn = turn_sigma = math.nan
        why.append("the skyline they show is too flat, or they are too few, to tell a turn")
    return ReadingErrors(tilt, tilt_sigma, turn, turn_sigma, "; ".join(why))


def _some(readings: Readings, skyline: Callable[[Floats], Floats]) -> Readings:
    """Readings over known ground, thinned to what is enough."""
    known = np.flatnonzero(np.isfinite(skyline(readings.azimuths_deg)))
    if len(known) > MOST_READINGS:
        known = known[np.linspace(0, len(known) - 1, MOST_READINGS).round().astype(np.int64)]
    return Readings(*(column[known] for column in readings))


def _narrowed(readings: Readings, skyline: Callable[[Floats], Floats]) -> _Moments:
    """Moments of the posterior, on grids that close in on it.

    While the steps of a grid are coarser than the posterior is wide, noise is taken to be as
    large as the steps, so that no peak falls between them.
    """
    low = np.array([-MOST_TURN_DEG, -MOST_TILT_DEG])
    high = -low
    widest = high - low
    found = _Moments(0.0, MOST_TURN_DEG, 0.0, MOST_TILT_DEG)
    for _ in range(MOST_LEVELS):
        turns, tilts = (np.linspace(a, b, NODES) for a, b in zip(low, high, strict=True))
        step = (high - low) / (NODES - 1)
        least = float(step[1]) * math.sqrt(len(readings.azimuths_deg)) * 0.7
        least += float(step[0]) * _slope(readings, skyline)
        softened = readings._replace(sigmas_deg=np.fmax(readings.sigmas_deg, least))
        found = _posterior(softened, skyline, turns, tilts)
        sigma = np.array([found.turn_sigma, found.tilt_sigma])
        middle = np.array([found.turn, found.tilt])
        if least <= readings.sigmas_deg.min() and (sigma > 1.2 * step).all():
            break
        reach = np.maximum(6.0 * sigma, 4.0 * step)
        low = np.maximum(middle - reach, -widest / 2.0)
        high = np.minimum(middle + reach, widest / 2.0)
    return found


def _slope(readings: Readings, skyline: Callable[[Floats], Floats]) -> float:
    """How steeply the raster's skyline runs about the readings, in the mean."""
    around = skyline(readings.azimuths_deg[None, :] + np.array([[-0.5], [0.5]]))
    rise = np.abs(np.diff(around, axis=0))
    return float(np.nan_to_num(np.nanmean(rise))) if np.isfinite(rise).any() else 0.0


def _posterior(
    readings: Readings, skyline: Callable[[Floats], Floats], turns: Floats, tilts: Floats
) -> _Moments:
    """Mean and standard deviation over a grid of turns and tilts, all as likely before."""
    azimuth = readings.azimuths_deg[None, :] - turns[:, None]
    ground = skyline(azimuth)
    rest = readings.altitudes_deg - ground
    log = _log_likelihood(rest[:, None, :] - tilts[None, :, None], readings.sigmas_deg)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    by_turn, by_tilt = weight.sum(axis=1), weight.sum(axis=0)
    turn, tilt = float(by_turn @ turns), float(by_tilt @ tilts)
    return _Moments(
        turn,
        math.sqrt(float(by_turn @ (turns - turn) ** 2)),
        tilt,
        math.sqrt(float(by_tilt @ (tilts - tilt) ** 2)),
    )


def _log_likelihood(rest: Floats, sigma: Floats) -> Floats:
    """Log likelihood of remainders, (turns, tilts, n), with trees summed out; (turns, tilts)."""
    from scipy.special import log_ndtr, logsumexp

    # Unknown ground says nothing of the errors.
    known = np.isfinite(rest)
    rest = np.where(known, rest, 0.0)
    u = rest / sigma
    ground = -0.5 * u * u - np.log(sigma) - 0.5 * math.log(2.0 * math.pi)
    each = []
    for mean in OVER_DEG:
        ratio = sigma / mean
        over = -math.log(mean) + 0.5 * ratio * ratio - rest / mean + log_ndtr(u - ratio)
        for share in OVER_SHARES:
            mixed = np.logaddexp(math.log1p(-share) + ground, math.log(share) + over)
            each.append(np.where(known, mixed, UNKNOWN).sum(axis=-1))
    return np.asarray(logsumexp(np.stack(each), axis=0))


UNKNOWN: Final = math.log(1e-6)
"""What a reading counts where a turn would lay it over unknown ground."""
