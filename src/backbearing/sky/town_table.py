"""A town's light on the sky, tabled once for a site's air, so that many directions cost little."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from backbearing.sky.town_light import FARTHEST_M, LOWEST_DEG, NEAREST_M, SiteAir, cd_m2_a_lumen

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

_AROUND: Final = 3
"""Nodes beyond each end, where a spline is not yet itself."""
_NEAR_OFF_DEG: Final = 5.0
_STEPS: Final = (0.35, 0.25, 0.25)
"""Of the nodes in log distance, in log tan(altitude / 2), and in arsinh(off / 5 degrees)."""


class TownTable(NamedTuple):
    """The logarithm of `cd_m2_a_lumen` as a cubic spline; made by `town_table`.

    Within 1.5 per cent of the integral (held by a test), which is far below its doubt.
    """

    spline: Floats
    first: tuple[float, float]
    step: tuple[float, float, float]

    def cd_m2_a_lumen(
        self, *, distance_m: ArrayLike, altitude_deg: ArrayLike, off_deg: ArrayLike
    ) -> Floats:
        """Candela a square metre for each lumen of a town's lamps; the inputs broadcast.

        Nearer than 1 km counts as 1 km. NaN below `LOWEST_DEG` and above 90 degrees; 0 beyond
        `FARTHEST_M`.
        """
        from scipy.ndimage import map_coordinates

        d, alt, off = np.broadcast_arrays(
            *(np.asarray(v, dtype=np.float64) for v in (distance_m, altitude_deg, off_deg))
        )
        with np.errstate(invalid="ignore"):
            known = (alt >= LOWEST_DEG) & (alt <= 90.0) & np.isfinite(d + off)
        aside = np.abs((np.where(known, off, 0.0) + 180.0) % 360.0 - 180.0)
        axes = (
            np.log(np.clip(np.where(known, d, NEAREST_M), NEAREST_M, FARTHEST_M)) - self.first[0],
            np.log(np.tan(np.radians(np.where(known, alt, 90.0)) / 2.0)) - self.first[1],
            np.arcsinh(aside / _NEAR_OFF_DEG),
        )
        at = np.array([(axis / step).ravel() for axis, step in zip(axes, self.step, strict=True)])
        log = map_coordinates(self.spline, at, order=3, mode="mirror", prefilter=False)
        light = np.where(d <= FARTHEST_M, np.exp(np.asarray(log).reshape(d.shape)), 0.0)
        return np.asarray(np.where(known, light, np.nan))


@lru_cache(maxsize=64)
def town_table(air: SiteAir) -> TownTable:
    """Table a town's light for the air of a site; kept for the next call."""
    from scipy.ndimage import spline_filter

    distance, step_d = _nodes(math.log(NEAREST_M), math.log(FARTHEST_M), _STEPS[0])
    half_low = math.log(math.tan(math.radians(LOWEST_DEG) / 2.0))
    half, step_a = _nodes(half_low, 0.0, _STEPS[1])
    # The other side of the zenith is sky as well, and goes on as evenly.
    beyond = step_a * np.arange(1, _AROUND + 1)
    altitude = np.degrees(2.0 * np.arctan(np.exp(np.concatenate([half, beyond]))))
    # Even about both ends, so that a mirrored spline needs nothing beyond them.
    off, step_o = _nodes(0.0, math.asinh(180.0 / _NEAR_OFF_DEG), _STEPS[2])
    axes: tuple[Any, ...] = np.meshgrid(
        np.exp(distance), altitude, _NEAR_OFF_DEG * np.sinh(off), indexing="ij"
    )
    light = cd_m2_a_lumen(distance_m=axes[0], altitude_deg=axes[1], off_deg=axes[2], air=air)
    # Far away and turned from the town nothing may be left of the line of sight.
    log = np.log(np.maximum(light, 1e-40))
    log = np.pad(
        log, ((_AROUND, _AROUND), (_AROUND, 0), (0, 0)), mode="reflect", reflect_type="odd"
    )
    return TownTable(
        np.asarray(spline_filter(log, order=3, mode="mirror")),
        (float(distance[0]) - _AROUND * step_d, half_low - _AROUND * step_a),
        (step_d, step_a, step_o),
    )


def _nodes(low: float, high: float, step: float) -> tuple[Floats, float]:
    count = round((high - low) / step)
    return np.linspace(low, high, count + 1), (high - low) / count
