"""The sweep of an area: one pass over its cells for each bearing, and the check of the result.

What every cell's passes take (bearings, and what the target does over the area on each) is
settled once for the whole area; then the cells may be swept all together or part by part, and
come out alike to the last bit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple, Protocol

import numpy as np

from backbearing.alignment.ridge.accuracy import judged, night_off, sigma_median_deg, trial_cells
from backbearing.alignment.ridge.area_cells import AreaPart, Look
from backbearing.alignment.ridge.ground_ahead import GroundAhead
from backbearing.alignment.ridge.moments import chosen_moments, finer
from backbearing.base.angles import wrap_180_deg, wrap_360_deg
from backbearing.sky.directions import direction
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from backbearing.alignment.ridge.area_cells import Nodes
    from backbearing.alignment.ridge.moments import DarkMoments
    from backbearing.alignment.ridge.trial_cells import TrialCells
    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.clearance import AreaCells, AreaTrial
    from backbearing.sky.targets import Target

    Singles = NDArray[np.float32]
    Floats = NDArray[np.float64]

MINUTE_US: Final = 60_000_000

WIDEST_STEP_DEG: Final = 1.0
"""At one minute, bearings lie at most this far apart over the area."""


class Layers(NamedTuple):
    """What the passes leave of some cells: first, last and all clear minutes, and the margin."""

    first: Singles
    last: Singles
    minutes: Singles
    margin: Singles

    @classmethod
    def empty(cls, shape: tuple[int, int]) -> Layers:
        """Nothing in them yet."""
        first, last, margin = (np.full(shape, np.nan, dtype=np.float32) for _ in range(3))
        return cls(first, last, np.zeros(shape, dtype=np.float32), margin)

    def put(self, part: AreaPart, found: Layers) -> None:
        """Write a part's cells into the whole's."""
        for mine, theirs in zip(self, found, strict=True):
            mine[part.window] = theirs


@dataclass(frozen=True, slots=True)
class Swept:
    """What the passes leave: minutes count from ``start``."""

    layers: Layers
    bearings_deg: tuple[float, ...]
    start: dt.datetime
    end: dt.datetime
    trial: AreaTrial


class Passes(Protocol):
    """What every cell's passes take, whichever cells they are."""

    @property
    def bearings_deg(self) -> tuple[float, ...]:
        """True bearings, in the order in which they are swept."""

    def values(self) -> tuple[object, ...]:
        """All that they are made of."""

    def over(self, ground: GroundAhead, nodes: Nodes, part: AreaPart) -> Layers:
        """Sweep a part's cells."""


class Settled(Protocol):
    """An area's passes and what its result is held against."""

    @property
    def passes(self) -> Passes:
        """What is swept."""

    def swept(self, layers: Layers) -> Swept:
        """Check the layers of the whole area."""


@dataclass(frozen=True, slots=True)
class NightPasses:
    """Passes of a night: b bearings, n by m nodes.

    Attributes
    ----------
    bearings_deg : tuple of float
    altitude_deg, minutes : ndarray, shape (b, n, m)
        Of the target on each bearing, and when it stands there.
    fresh : tuple of bool
        Whether a bearing is the first of its stretch.
    clear_by_deg : float
    """

    bearings_deg: tuple[float, ...]
    altitude_deg: Floats
    minutes: Floats
    fresh: tuple[bool, ...]
    clear_by_deg: float

    def values(self) -> tuple[object, ...]:
        """All that they are made of."""
        return (
            self.bearings_deg, self.altitude_deg, self.minutes, self.fresh, self.clear_by_deg,
        )  # fmt: skip

    def over(self, ground: GroundAhead, nodes: Nodes, part: AreaPart) -> Layers:
        """Sweep the bearings in order of time over a part's cells."""
        from backbearing.alignment.ridge._kernels import take_sample

        layers = Layers.empty(part.shape)
        was = np.empty(part.shape, dtype=np.float32)
        for i, fresh in enumerate(self.fresh):
            take_sample(
                ground.skyline(),
                self.altitude_deg[i], self.minutes[i], self.minutes[max(i - 1, 0)],
                fresh, self.clear_by_deg,
                nodes.rows, nodes.cols, part.row0, part.col0, was, *layers,
            )  # fmt: skip
        return layers


@dataclass(frozen=True, slots=True)
class SettledNight:
    """A night's passes, and the test cells that chose and check them."""

    passes: NightPasses
    stretches: DarkMoments
    trial: TrialCells

    def swept(self, layers: Layers) -> Swept:
        """Check the layers against the test cells that chose no bearing."""
        checked = self.trial.every_other(1)
        off = night_off(self.stretches, checked, layers, self.passes.clear_by_deg)
        times = self.stretches.times
        return Swept(layers, self.passes.bearings_deg, times[0], times[-1], judged(checked, *off))


def settle_night(
    scene: Scene, cells: AreaCells, nodes: Nodes, stretches: DarkMoments, clear_by_deg: float
) -> SettledNight:
    """Choose the bearings of a night's stretches, and what the target does on them."""
    stretches = finer(stretches, lambda when: nodes.directions(scene.target, when)[0])
    instants = stretches.instants
    azimuth, _ = direction(
        scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=instants
    )
    trial = trial_cells(scene, Look.of(scene), cells, instants)
    sigma_deg = sigma_median_deg(trial)
    kept = chosen_moments(stretches, azimuth, trial.every_other(0), sigma_deg)
    passages = nodes.on_bearings(scene.target, azimuth[kept], instants[kept])
    passes = NightPasses(
        bearings_deg=tuple(azimuth[kept].tolist()),
        altitude_deg=np.array([nodes.direction(scene.target, when)[1] for when in passages]),
        minutes=(passages - instants[0]) / np.timedelta64(MINUTE_US, "us"),
        fresh=tuple(
            i == 0 or bool(stretches.stretch[at] != stretches.stretch[kept[i - 1]])
            for i, at in enumerate(kept)
        ),
        clear_by_deg=clear_by_deg,
    )
    return SettledNight(passes, stretches, trial)


@dataclass(frozen=True, slots=True)
class MinutePasses:
    """Passes of one minute: each cell's skyline on its own azimuth, shared among bearings.

    Attributes
    ----------
    bearings_deg : tuple of float
        True.
    aside_deg : tuple of float
        The same, from the target's azimuth at the subject.
    azimuth_deg, altitude_deg : ndarray, shape (n, m)
        Of the target at the nodes; the azimuth from that at the subject too.
    clear_by_deg : float
    """

    bearings_deg: tuple[float, ...]
    aside_deg: tuple[float, ...]
    azimuth_deg: Floats
    altitude_deg: Floats
    clear_by_deg: float

    @classmethod
    def of(
        cls,
        nodes: Nodes,
        target: Target,
        middle_deg: float,
        instant: np.datetime64,
        clear_by_deg: float,
    ) -> MinutePasses:
        """Lay the bearings; ``middle_deg`` is the target's azimuth at the subject."""
        azimuth, altitude = nodes.direction(target, instant)
        aside = wrap_180_deg(azimuth - middle_deg)
        bearings = _across(float(aside.min()), float(aside.max()))
        true = tuple(wrap_360_deg(float(middle_deg + bearing)) for bearing in bearings)
        return cls(true, tuple(bearings.tolist()), aside, altitude, clear_by_deg)

    def values(self) -> tuple[object, ...]:
        """All that they are made of."""
        return (
            self.bearings_deg, self.aside_deg, self.azimuth_deg, self.altitude_deg,
            self.clear_by_deg,
        )  # fmt: skip

    def over(self, ground: GroundAhead, nodes: Nodes, part: AreaPart) -> Layers:
        """Sweep the bearings and take the margin of a part's cells."""
        margin = self.margin(ground, nodes, part)
        first, last, minutes, _ = Layers.empty(part.shape)
        clear = margin >= np.float32(self.clear_by_deg)
        first[clear] = last[clear] = 0.0
        return Layers(first, last, minutes, margin)

    def margin(self, ground: GroundAhead, nodes: Nodes, part: AreaPart) -> Singles:
        """Clearance of a part's cells, degrees."""
        from backbearing.alignment.ridge._kernels import add_bearing, spread

        aside, place = self.aside_deg, (nodes.rows, nodes.cols, part.row0, part.col0)
        step = float(aside[1] - aside[0]) if len(aside) > 1 else math.inf
        below = np.zeros(part.shape, dtype=np.float32)
        for bearing in aside:
            add_bearing(ground.skyline(), self.azimuth_deg, bearing, step, *place, below)
        margin = np.empty(part.shape, dtype=np.float32)
        spread(self.altitude_deg, *place, margin)
        return margin - below


@dataclass(frozen=True, slots=True)
class SettledMinute:
    """A minute's passes, and the test cells that check them."""

    passes: MinutePasses
    moment: dt.datetime
    trial: TrialCells

    def swept(self, layers: Layers) -> Swept:
        """Check the layers against the test cells."""
        trial, margin = self.trial, layers.margin
        exact = trial.clearance_deg[:, 0]
        off = margin[trial.row, trial.col] - exact
        clear = margin >= np.float32(self.passes.clear_by_deg)
        wrong = clear[trial.row, trial.col] != (exact >= self.passes.clear_by_deg)
        told = judged(trial, off, np.empty(0), int(wrong[np.isfinite(off)].sum()))
        return Swept(layers, self.passes.bearings_deg, self.moment, self.moment, told)


def settle_minute(
    scene: Scene, cells: AreaCells, nodes: Nodes, moment: dt.datetime, clear_by_deg: float
) -> SettledMinute:
    """Lay the bearings of one moment."""
    instants = utc_array([moment])
    middle, _ = direction(
        scene.target, lat=scene.subject.lat, lon=scene.subject.lon, times=instants[0]
    )
    passes = MinutePasses.of(nodes, scene.target, float(middle), instants[0], clear_by_deg)
    return SettledMinute(passes, moment, trial_cells(scene, Look.of(scene), cells, instants))


def swept_whole(passes: Passes, look: Look, cells: AreaCells, nodes: Nodes) -> Layers:
    """Sweep all cells of an area together."""
    ground = GroundAhead(cells, look, passes.bearings_deg)
    return passes.over(ground, nodes, AreaPart.whole(cells))


def _across(low_deg: float, high_deg: float) -> Floats:
    """Bearings from one to the other, no more than a step apart; one where they nearly agree."""
    if high_deg - low_deg <= WIDEST_STEP_DEG:
        return np.array([(low_deg + high_deg) / 2.0])
    return np.linspace(low_deg, high_deg, 1 + math.ceil((high_deg - low_deg) / WIDEST_STEP_DEG))
