"""What to give up when a framing cannot be met: the nearest one that can."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from backbearing.alignment.scene import settle
from backbearing.errors import CameraError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.scene import Scene, Settled
    from backbearing.camera import Lens

    Flags = NDArray[np.bool_]

Given = Literal["minute", "share", "base_margin", "tilt", "orientation", "lens", "placement"]

MOMENTS: Final = 40
"""So many moments of the night are tried, evenly spread."""

SMALLEST_SHARE: Final = 0.02
HALVINGS: Final = 12


@dataclass(frozen=True, slots=True)
class Compromise:
    """One thing to give up, and the nearest framing that is then reachable.

    Attributes
    ----------
    give_up : str
        ``"minute"``, ``"share"``, ``"base_margin"``, ``"tilt"``, ``"orientation"``,
        ``"lens"`` or ``"placement"``.
    value : float
        The nearest reachable value: a fraction for share and margin, millimetres for the
        lens, degrees for a placement; NaN where the sentence alone says it.
    time : datetime
        A moment at which it is reached, UTC.
    sentence : str
        The same for people, with its numbers.
    """

    give_up: Given
    value: float
    time: dt.datetime
    sentence: str


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
        trial.smaller_share(),
        trial.smaller_margin(),
        trial.tilted(),
        trial.turned(),
        trial.shorter_lens(),
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
        try:
            settled = settle(scene, lens, self.times, skyline=False)
        except CameraError:
            return np.zeros(len(self.times), dtype=bool)
        whole = (settled.base_margin > -1e-9) & (settled.base_margin + settled.share < 1.0 + 1e-9)
        return np.asarray(settled.in_frame & whole & np.isfinite(settled.places.lat))

    def _largest(
        self, low: float, high: float, vary: Callable[[float], tuple[Scene, Lens]]
    ) -> tuple[float, dt.datetime] | None:
        """Largest value between the two at which some moment holds, and that moment."""
        ladder = np.linspace(high, low, 17)[1:]
        best = None
        for value in ladder:
            holds = self._holds(*vary(float(value)))
            if holds.any():
                best = float(value), self.times[int(np.flatnonzero(holds)[0])]
                break
        if best is None:
            return None
        good, bad = best[0], best[0] + (high - low) / 16.0
        for _ in range(HALVINGS):
            middle = (good + bad) / 2.0
            holds = self._holds(*vary(middle))
            if holds.any():
                good, best = middle, (middle, self.times[int(np.flatnonzero(holds)[0])])
            else:
                bad = middle
        return best

    def _with(self, **framing: object) -> Scene:
        changed = replace(self.scene.framing, **framing)  # type: ignore[arg-type]
        return replace(self.scene, framing=changed)

    def smaller_share(self) -> Compromise | None:
        asked = self.scene.framing.share
        found = self._largest(SMALLEST_SHARE, asked, lambda v: (self._with(share=v), self.lens))
        if found is None:
            return None
        share = np.floor(found[0] * 1e3) / 1e3
        return Compromise(
            "share",
            share,
            found[1],
            f"The largest share that fits is {share:.3g} of the frame's "
            f"{self.scene.framing.share_of} instead of {asked:g} ({self.clock(found[1])}).",
        )

    def smaller_margin(self) -> Compromise | None:
        asked = self.scene.framing.base_margin
        if self.scene.framing.level or asked <= 0.0:
            return None
        found = self._largest(0.0, asked, lambda v: (self._with(base_margin=v), self.lens))
        if found is None:
            return None
        margin = np.floor(found[0] * 1e3) / 1e3
        return Compromise(
            "base_margin",
            margin,
            found[1],
            f"A base margin of at most {margin:.3g} instead of {asked:g} fits "
            f"({self.clock(found[1])}).",
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

    def shorter_lens(self) -> Compromise | None:
        focal = self.lens.focal_length_mm

        def vary(value: float) -> tuple[Scene, Lens]:
            return self.scene, replace(self.lens, focal_length_mm=value)

        found = self._largest(focal / 6.0, focal, vary)
        if found is None:
            return None
        longest = np.floor(found[0] * 10.0) / 10.0
        return Compromise(
            "lens",
            longest,
            found[1],
            f"The longest lens that holds both at this share is {longest:g} mm "
            f"({self.clock(found[1])}).",
        )

    def nearest_place(self) -> Compromise | None:
        """The moment at which the target misses its place by least, kept as it is."""
        settled = settle(self.scene, self.lens, self.times, skyline=False)
        framing = self.scene.framing
        if framing.above_top_deg is not None:
            above = settled.target_altitude_deg - settled.places.top_altitude_deg
            return self._nearest_above(above, framing.above_top_deg)
        miss = _outside_by(self.scene, settled)
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
            f"{settled.target_x[i]:.0%} from the left and {settled.target_y[i]:.0%} from the "
            f"bottom, outside by {miss[i]:.0%} of the frame.",
        )

    def _nearest_above(self, above: NDArray[np.float64], asked_deg: float) -> Compromise | None:
        if not np.isfinite(above).any():
            return None
        i = int(np.nanargmin(np.abs(above - asked_deg)))
        return Compromise(
            "placement",
            float(above[i]),
            self.times[i],
            f"As asked, the target comes nearest to {asked_deg:g}° over the top at "
            f"{self.clock(self.times[i])}, where it stands {above[i]:.1f}° over it.",
        )


def _outside_by(scene: Scene, settled: Settled) -> NDArray[np.float64]:
    """How far the target lies outside where it should be, the larger of x and y, fractions."""
    edge = scene.framing.edge_margin
    left, bottom, right, top = scene.framing.target_box or (0.0, 0.0, 1.0, 1.0)
    x, y = settled.target_x, settled.target_y
    across = np.maximum(max(edge, left) - x, x - min(1.0 - edge, right))
    along = np.maximum(max(edge, bottom) - y, y - min(1.0 - edge, top))
    return np.asarray(np.maximum(across, along))
