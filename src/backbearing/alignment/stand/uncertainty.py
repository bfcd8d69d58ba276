"""How far a clearance may be off, and what may be said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.terrain.height_errors import SightErrors

if TYPE_CHECKING:
    from backbearing.alignment.stand.scene import Scene
    from backbearing.plan.stand import Verdict
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.height_errors import StatedErrors


REFRACTION_K_SIGMA: Final = 0.03
"""One standard deviation of k about 0.13; its usual range 0.07 to 0.20 is two of them."""

EYE_HEIGHT_SIGMA_M: Final = 0.1
"""How well a tripod's height is known (common practice, no source)."""

CLEARS_SIGMAS: Final = 2.5
"""Standard deviations that a clearance must have left over, its bias taken off, to clear.

The highest of many points has a long tail upwards: at this threshold drawn rasters hide the
target in 1.2 to 3.2 of 100 trials on average over places, in more than 5 at one place of twenty
and in 15 at the worst of some seven hundred (docs/doubt.md)."""

WRONG_SHARE: Final = 0.05
"""How often, over places, a clearance that just "clears" proves hidden at most."""

HIDDEN_SIGMAS: Final = 2.0
"""The same below nought, where the tail is short, to be called hidden."""

NEAR_GROUND_M: Final = 100.0
"""A skyline nearer than this is made by things that no raster knows."""


def sight_errors(
    stated: StatedErrors, elevation: Elevation, *, position_sigma_m: float
) -> SightErrors:
    """What makes skylines over a raster doubtful, with the errors of eye and air."""
    return SightErrors(
        heights=stated.over(elevation.cell_size_m),
        eye_height_m=EYE_HEIGHT_SIGMA_M,
        position_m=position_sigma_m,
        refraction_k=REFRACTION_K_SIGMA,
    )


def errors_of(scene: Scene, elevation: Elevation) -> SightErrors:
    """What makes a scene's skylines doubtful.

    The sky's own direction is thousands of times better known.
    """
    return sight_errors(scene.height_errors, elevation, position_sigma_m=scene.position_sigma_m)


def verdict(clearance_deg: float, sigma_deg: float, bias_deg: float) -> Verdict:
    """Grade a clearance, less its bias, against its standard deviation."""
    if not (np.isfinite(clearance_deg) and np.isfinite(sigma_deg) and np.isfinite(bias_deg)):
        return "unknown"
    left = clearance_deg - bias_deg
    if left > CLEARS_SIGMAS * sigma_deg:
        return "clears"
    return "hidden" if left < -HIDDEN_SIGMAS * sigma_deg else "too close to call"
