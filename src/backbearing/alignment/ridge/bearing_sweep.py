"""The sweep of an area: one pass over its cells for each bearing, and the check of the result."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.ridge.accuracy import judged, night_off, sigma_median_deg, trial_cells
from backbearing.alignment.ridge.area_cells import GroundAhead, Look
from backbearing.alignment.ridge.moments import chosen_moments, finer
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from backbearing.alignment.ridge.area_cells import Nodes
    from backbearing.alignment.ridge.moments import DarkMoments
    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.clearance import AreaCells, AreaTrial
    from backbearing.sky.targets import Target

    Singles = NDArray[np.float32]
    Floats = NDArray[np.float64]

MINUTE_US: Final = 60_000_000

WIDEST_STEP_DEG: Final = 1.0
"""At one minute, bearings lie at most this far apart over the area."""


@dataclass(frozen=True, slots=True)
class Swept:
    """What the passes leave: minutes count from ``start``."""

    first: Singles
    last: Singles
    minutes: Singles
    margin: Singles
    bearings_deg: tuple[float, ...]
    start: dt.datetime
    end: dt.datetime
    trial: AreaTrial

    @classmethod
    def empty(cls, shape: tuple[int, int]) -> tuple[Singles, Singles, Singles, Singles]:
        """Arrays for first, last and total minutes and the margin, nothing in them yet."""
        first, last, margin = (np.full(shape, np.nan, dtype=np.float32) for _ in range(3))
        return first, last, np.zeros(shape, dtype=np.float32), margin


def sweep_night(
    scene: Scene, cells: AreaCells, nodes: Nodes, stretches: DarkMoments, clear_by_deg: float
) -> Swept:
    """Sweep the chosen bearings of a night's stretches, in order of time."""
    from backbearing.alignment.ridge._kernels import take_sample

    stretches = finer(stretches, lambda when: nodes.directions(scene.target, when)[0])
    instants = stretches.instants
    azimuth, _ = direction(
        scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=instants
    )
    look = Look.of(scene)
    trial = trial_cells(scene, look, cells, instants)
    sigma_deg = sigma_median_deg(trial)
    kept = chosen_moments(stretches, azimuth, trial.every_other(0), sigma_deg)
    passages = nodes.on_bearings(scene.target, azimuth[kept], instants[kept])
    minutes = (passages - instants[0]) / np.timedelta64(MINUTE_US, "us")
    arrays = Swept.empty(cells.shape)
    was = np.empty(cells.shape, dtype=np.float32)
    ground = GroundAhead(cells, look, azimuth[kept].tolist())
    for i, at in enumerate(kept):
        _, altitude = nodes.direction(scene.target, passages[i])
        fresh = i == 0 or stretches.stretch[at] != stretches.stretch[kept[i - 1]]
        take_sample(
            ground.skyline(),
            altitude, minutes[i], minutes[max(i - 1, 0)], fresh, clear_by_deg,
            nodes.rows, nodes.cols, was, *arrays,
        )  # fmt: skip
    off = night_off(stretches, trial.every_other(1), arrays, clear_by_deg)
    return Swept(
        *arrays,
        bearings_deg=tuple(azimuth[kept].tolist()),
        start=stretches.times[0],
        end=stretches.times[-1],
        trial=judged(trial.every_other(1), *off),
    )


def sweep_minute(
    scene: Scene, cells: AreaCells, nodes: Nodes, moment: dt.datetime, clear_by_deg: float
) -> Swept:
    """The clearance at one moment: each cell's skyline on its own azimuth to the target."""
    instants = utc_array([moment])
    middle, _ = direction(
        scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=instants[0]
    )
    look = Look.of(scene)
    margin, bearings = margin_at(look, cells, nodes, scene.target, float(middle), instants[0])
    first, last, minutes, _ = Swept.empty(cells.shape)
    clear = margin >= np.float32(clear_by_deg)
    first[clear] = last[clear] = 0.0
    trial = trial_cells(scene, look, cells, instants)
    off = margin[trial.row, trial.col] - trial.clearance_deg[:, 0]
    wrong = clear[trial.row, trial.col] != (trial.clearance_deg[:, 0] >= clear_by_deg)
    return Swept(
        first, last, minutes, margin,
        bearings_deg=bearings,
        start=moment,
        end=moment,
        trial=judged(trial, off, np.empty(0), int(wrong[np.isfinite(off)].sum())),
    )  # fmt: skip


def margin_at(
    look: Look,
    cells: AreaCells,
    nodes: Nodes,
    target: Target,
    middle_deg: float,
    instant: np.datetime64,
) -> tuple[Singles, tuple[float, ...]]:
    """Clearance of every cell at an instant, degrees, and the bearings swept for it.

    ``middle_deg`` is the target's azimuth at the subject, from which the cells' differ.
    """
    from backbearing.alignment.ridge._kernels import add_bearing, spread

    azimuth, altitude = nodes.direction(target, instant)
    aside = wrap_180_deg(azimuth - middle_deg)
    bearings = _across(float(aside.min()), float(aside.max()))
    step = float(bearings[1] - bearings[0]) if len(bearings) > 1 else math.inf
    below = np.zeros(cells.shape, dtype=np.float32)
    true = tuple(wrap_360_deg(float(middle_deg + bearing)) for bearing in bearings)
    ground = GroundAhead(cells, look, true)
    for bearing in bearings.tolist():
        skyline = ground.skyline()
        add_bearing(skyline, aside, bearing, step, nodes.rows, nodes.cols, below)
    margin = np.empty(cells.shape, dtype=np.float32)
    spread(altitude, nodes.rows, nodes.cols, margin)
    return margin - below, true


def _across(low_deg: float, high_deg: float) -> Floats:
    """Bearings from one to the other, no more than a step apart; one where they nearly agree."""
    if high_deg - low_deg <= WIDEST_STEP_DEG:
        return np.array([(low_deg + high_deg) / 2.0])
    return np.linspace(low_deg, high_deg, 1 + math.ceil((high_deg - low_deg) / WIDEST_STEP_DEG))
