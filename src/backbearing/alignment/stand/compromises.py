"""What to give up when a framing cannot be met: the nearest one that can."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.stand.settled_stands import LensTimes, settle, settle_all
from backbearing.alignment.stand.target_place import PlaceInFrame
from backbearing.base.errors import CameraError
from backbearing.base.intervals import closest_that_holds
from backbearing.base.numbers import num, per_cent
from backbearing.plan.compromise import Compromise, Given

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Settled
    from backbearing.camera.bodies_and_lenses import Lens

    Flags = NDArray[np.bool_]
    Floats = NDArray[np.float64]


MOMENTS: Final = 40
"""So many moments of the night are tried, evenly spread."""

SMALLEST_SHARE: Final = 0.02
LARGEST_SHARE: Final = 0.95
SHORTEST_LENS_MM: Final = 5.0
LONGER: Final = 6.0
"""How far a share or a lens is varied: to lenses so many times longer than asked."""

HALVINGS: Final = 12

RUNGS: Final = 16
"""Steps in which a range is looked through for the first value that holds."""

AT_ONCE: Final = 8
"""Rungs asked about together: a question costs more than a few rows in it."""


def compromises(
    scene: Scene, lens: Lens, times: Sequence[dt.datetime], clock: Callable[[dt.datetime], str]
) -> tuple[Compromise, ...]:
    """Find what each of the things one can give up would bring, the others kept.

    Parameters
    ----------
    scene : Scene
        With the framing that cannot be met.
    lens : Lens
    times : sequence of datetime
        The moments that the sky leaves, UTC; thinned to `MOMENTS`.
    clock : callable
        From a moment to the local wall time to print.

    Returns
    -------
    tuple of Compromise
        Nothing where nothing helps.
    """
    if not times:
        return ()
    step = max(1, len(times) // MOMENTS)
    moments = tuple(times[::step])
    trial = _Trial(scene, lens, moments, clock)
    found = (
        trial.other_share(),
        trial.other_margin(),
        trial.tilted(),
        trial.turned(),
        trial.other_lens(),
        trial.nearest_place(),
    )
    return tuple(one for one in found if one is not None)


@dataclass(frozen=True, slots=True)
class _Trial:
    scene: Scene
    lens: Lens
    times: tuple[dt.datetime, ...]
    clock: Callable[[dt.datetime], str]

    def _holds(self, scene: Scene, lens: Lens) -> Flags:
        return np.asarray(self._each_holds([(scene, lens)])[0])

    def _each_holds(self, tried: Sequence[tuple[Scene, Lens]]) -> Flags:
        """At which moments each of some framings holds, all asked at once; (framings, moments)."""
        try:
            found = settle_all([LensTimes(*one, self.times) for one in tried], skyline=False)
        except CameraError:
            # One of them cannot be framed at all: the others in halves.
            if len(tried) == 1:
                return np.zeros((1, len(self.times)), dtype=bool)
            half = len(tried) // 2
            return np.concatenate([self._each_holds(tried[:half]), self._each_holds(tried[half:])])
        return np.stack([_whole(settled) for settled in found])

    def _largest(
        self, low: float, high: float, vary: Callable[[float], tuple[Scene, Lens]]
    ) -> tuple[float, dt.datetime] | None:
        """Largest value between the two at which some moment holds, and that moment."""

        def holds(values: Floats) -> Flags:
            return np.asarray(self._each_holds([vary(float(v)) for v in values]).any(axis=1))

        ladder = np.linspace(high, low, RUNGS + 1)
        for first in range(1, len(ladder), AT_ONCE):
            good = np.flatnonzero(holds(ladder[first : first + AT_ONCE]))
            if not good.size:
                continue
            i = first + int(good[0])
            value = float(
                closest_that_holds(
                    holds, ladder[i, None], ladder[i - 1, None], halvings=HALVINGS, at_once=2
                )[0]
            )
            return value, self.times[int(np.flatnonzero(self._holds(*vary(value)))[0])]
        return None

    def _with(self, **framing: object) -> Scene:
        changed = replace(self.scene.framing, **framing)  # type: ignore[arg-type]
        return replace(self.scene, framing=changed)

    def _nearest(
        self, low: float, asked: float, high: float, vary: Callable[[float], tuple[Scene, Lens]]
    ) -> tuple[float, dt.datetime, bool] | None:
        """Nearest value that holds, its moment, and whether it is larger; smaller ones first."""
        less = self._largest(low, asked, vary) if low < asked else None
        if less is not None:
            return *less, False
        more = self._largest(-high, -asked, lambda v: vary(-v)) if high > asked else None
        return None if more is None else (-more[0], more[1], True)

    def other_share(self) -> Compromise | None:
        framing = self.scene.framing
        most = LARGEST_SHARE - (0.0 if framing.share_of == "width" else framing.base_margin)
        found = self._nearest(
            SMALLEST_SHARE, framing.share, most, lambda v: (self._with(share=v), self.lens)
        )
        if found is None:
            return None
        share, bound = _rounded(found[0], 1e3, up=found[2]), "smallest" if found[2] else "largest"
        return Compromise(
            "share",
            share,
            found[1],
            f"The {bound} share that fits is {num(share, digits=3)} of the frame's "
            f"{framing.share_of} instead of {num(framing.share)} ({self.clock(found[1])}).",
        )

    def other_margin(self) -> Compromise | None:
        framing = self.scene.framing
        if framing.level:
            return None
        most = 1.0 - (0.0 if framing.share_of == "width" else framing.share)
        found = self._nearest(
            0.0, framing.base_margin, most, lambda v: (self._with(base_margin=v), self.lens)
        )
        if found is None:
            return None
        margin, bound = _rounded(found[0], 1e3, up=found[2]), "least" if found[2] else "most"
        return Compromise(
            "base_margin",
            margin,
            found[1],
            f"A base margin of at {bound} {num(margin, digits=3)} instead of "
            f"{num(framing.base_margin)} fits ({self.clock(found[1])}).",
        )

    def tilted(self) -> Compromise | None:
        if not self.scene.framing.level:
            return None
        return self._switched(
            "tilt", self._with(level=False), "A tilted camera (level = false) holds both"
        )

    def turned(self) -> Compromise | None:
        if self.scene.camera.orientation == "portrait":
            return None
        upright = replace(self.scene, camera=self.scene.camera.held("portrait"))
        return self._switched("orientation", upright, "Held in portrait the same share fits")

    def _switched(self, give_up: Given, scene: Scene, words: str) -> Compromise | None:
        holds = np.flatnonzero(self._holds(scene, self.lens))
        if not holds.size:
            return None
        first, last = self.times[int(holds[0])], self.times[int(holds[-1])]
        when = (
            f"at {self.clock(first)}"
            if first == last
            else f"between {self.clock(first)} and {self.clock(last)}"
        )
        return Compromise(give_up, float("nan"), first, f"{words} {when}.")

    def other_lens(self) -> Compromise | None:
        focal = self.lens.focal_length_mm

        def vary(log_mm: float) -> tuple[Scene, Lens]:
            return self.scene, replace(self.lens, focal_length_mm=math.exp(log_mm))

        # By ratios: what a lens sees goes with the inverse of its focal length.
        least, asked = math.log(min(SHORTEST_LENS_MM, focal)), math.log(focal)
        found = self._nearest(least, asked, asked + math.log(LONGER), vary)
        if found is None:
            return None
        focal_mm = math.exp(found[0])
        best, bound = _rounded(focal_mm, 10.0, up=found[2]), "shortest" if found[2] else "longest"
        return Compromise(
            "lens",
            best,
            found[1],
            f"The {bound} lens that holds both at this share is {num(best)} mm "
            f"({self.clock(found[1])}).",
        )

    def nearest_place(self) -> Compromise | None:
        """The moment at which the target misses its place by least, kept as it is."""
        settled = settle(self.scene, self.lens, self.times, skyline=False)
        framing = self.scene.framing
        if framing.above_top_deg is not None:
            above = settled.target_altitude_deg - settled.places.top_altitude_deg
            return self._nearest_above(above, framing.above_top_deg)
        place = PlaceInFrame.asked_by(framing)
        miss = -place.room(settled.target_x, settled.target_y)
        if not np.isfinite(miss).any():
            return None
        i = int(np.nanargmin(miss))
        if miss[i] <= 0.0:
            return None
        return Compromise(
            "placement",
            float(miss[i]),
            self.times[i],
            f"As asked, the target comes nearest to its place at {self.clock(self.times[i])}: "
            f"{per_cent(settled.target_x[i])} from the left and {per_cent(settled.target_y[i])} "
            f"from the bottom, outside by {per_cent(miss[i])} of the frame.",
        )

    def _nearest_above(self, above: NDArray[np.float64], asked_deg: float) -> Compromise | None:
        if not np.isfinite(above).any():
            return None
        i = int(np.nanargmin(np.abs(above - asked_deg)))
        return Compromise(
            "placement",
            float(above[i]),
            self.times[i],
            f"As asked, the target comes nearest to {num(asked_deg)}° over the top at "
            f"{self.clock(self.times[i])}, where it stands {num(above[i], 1)}° over it.",
        )


def _whole(settled: Settled) -> Flags:
    """At which moments the target stands in its place, in sight, and the whole subject in frame."""
    whole = (settled.base_margin > -1e-9) & (settled.base_margin + settled.share < 1.0 + 1e-9)
    shown = whole & ~settled.spoilt_behind
    return np.asarray(settled.in_frame & shown & np.isfinite(settled.places.lat))


def _rounded(value: float, parts: float, *, up: bool) -> float:
    """Round to a part of one, to the side that still holds."""
    return float((np.ceil if up else np.floor)(value * parts) / parts)
