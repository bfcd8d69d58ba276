"""Test cells: exact skylines at a few cells of an area, to choose its bearings and to check it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.ridge.trial_cells import TrialCells
from backbearing.alignment.stand.uncertainty import sight_errors
from backbearing.plan.clearance import AreaTrial
from backbearing.sky.directions import direction

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.alignment.ridge.area_cells import Look
    from backbearing.alignment.ridge.moments import DarkMoments
    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.clearance import AreaCells

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]
    Singles = NDArray[np.float32]

CELLS: Final = 128
"""Test cells: every other one chooses the bearings, the rest check the result."""

SURE: Final = 1.2816
"""Nine in ten of a normal distribution lie under so many standard deviations."""

SEED: Final = 20
"""The same area gives the same test cells."""


def trial_cells(
    scene: Scene, look: Look, cells: AreaCells, times: NDArray[np.datetime64]
) -> TrialCells:
    """Solve the skyline below the target at cells spread over the area by chance."""
    rng = np.random.default_rng(SEED)
    rows, cols = cells.shape
    row, col = rng.integers(0, rows, CELLS), rng.integers(0, cols, CELLS)
    here = look.elevation.grid.places(row=cells.row0 + row, col=cells.col0 + col)
    known = np.isfinite(look.elevation.height_at(lat=here.lat, lon=here.lon))
    row, col, lat, lon = row[known], col[known], here.lat[known], here.lon[known]
    if not len(row):
        nothing = np.empty((0, len(times)))
        return TrialCells(row, col, nothing, nothing, np.empty(0))
    azimuth, altitude = direction(
        scene.target,
        lat=lat[:, None],
        lon=lon[:, None],
        height_m=scene.subject_ground_m,
        times=times,
    )
    n, m = azimuth.shape
    below = look.elevation.skylines(
        lat=np.repeat(lat, m),
        lon=np.repeat(lon, m),
        azimuths_deg=azimuth.ravel(),
        eye_height_m=look.eye_height_m,
        max_distance_m=look.reach_m,
        refraction_k=look.refraction_k,
    )
    sigma = _sigma_deg(scene, look, lat, lon, azimuth[:, m // 2])
    return TrialCells(row, col, altitude, below.altitudes_deg.reshape(n, m), sigma)


def _sigma_deg(scene: Scene, look: Look, lat: Floats, lon: Floats, azimuth: Floats) -> Floats:
    """One standard deviation of the skyline on one azimuth from each place, degrees."""
    seen = look.elevation.skylines(
        lat=lat,
        lon=lon,
        azimuths_deg=azimuth,
        eye_height_m=look.eye_height_m,
        max_distance_m=look.reach_m,
        refraction_k=look.refraction_k,
    )
    errors = sight_errors(scene.height_errors, look.elevation, position_sigma_m=0.0)
    return look.elevation.skyline_doubt(seen, errors).sigma_deg


def night_off(
    stretches: DarkMoments,
    trial: TrialCells,
    arrays: tuple[Singles, Singles, Singles, Singles],
    clear_by_deg: float,
) -> tuple[Floats, Floats, int]:
    """Compare a swept night with the test cells: margins, minutes, and cells that disagree."""
    first, last, _, margin = (layer[trial.row, trial.col] for layer in arrays)
    seconds = stretches.instants.astype(np.int64) / 1e6
    exact_first, exact_last, exact_margin = (np.full(len(trial.row), np.nan) for _ in range(3))
    for i, clearance in enumerate(trial.clearance_deg):
        if not np.isfinite(clearance).all():
            continue
        exact_margin[i] = clearance.max()
        clear = np.flatnonzero(clearance >= clear_by_deg)
        if clear.size:
            over = clearance - clear_by_deg
            ends = (
                _crossed(stretches, over, clear[0], -1),
                _crossed(stretches, over, clear[-1], 1),
            )
            exact_first[i], exact_last[i] = (
                (np.interp(end, np.arange(len(seconds)), seconds) - seconds[0]) / 60.0
                for end in ends
            )
    compared = np.isfinite(margin) & np.isfinite(exact_margin)
    late = np.concatenate([(first - exact_first)[compared], (last - exact_last)[compared]])
    wrong = np.isfinite(first) != np.isfinite(exact_first)
    return margin - exact_margin, late, int(wrong[compared].sum())


def _crossed(stretches: DarkMoments, over: Floats, i: int, way: int) -> float:
    """Fractional number of the moment at which a clear stretch begins (way -1) or ends (1)."""
    j = i + way
    if not 0 <= j < len(over) or stretches.stretch[j] != stretches.stretch[i]:
        return float(i)
    return float(i + way * over[i] / (over[i] - over[j]))


def judged(trial: TrialCells, margin_off: Floats, minutes_off: Floats, disagree: int) -> AreaTrial:
    """Sum up how far off a sweep is, beside what its raster is worth."""
    return AreaTrial(
        cells=int(np.isfinite(margin_off).sum()),
        margin_p90_deg=_p90(margin_off),
        minutes_p90=_p90(minutes_off),
        disagree=disagree,
        sigma_median_deg=sigma_median_deg(trial),
    )


def _p90(values: Floats) -> float:
    """Bound that nine in ten of all sizes lie under, nine times in ten, by those of some.

    An order statistic: the share of a sample under the true bound is binomial.
    """
    known = np.sort(np.abs(values[np.isfinite(values)]))
    if not known.size:
        return math.nan
    rank = 0.9 * known.size + SURE * math.sqrt(0.09 * known.size)
    return float(known[min(known.size, math.ceil(rank)) - 1])


def sigma_median_deg(trial: TrialCells) -> float:
    """Median of one standard deviation of the clearances, by the raster's heights and the air."""
    known = trial.sigma_deg[np.isfinite(trial.sigma_deg)]
    return float(np.median(known)) if known.size else math.nan
