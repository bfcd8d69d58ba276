"""The step from one stand to another, in numbers and words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.geodesy import line_between
from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from backbearing.base.units import Units

LEAST_STEP_M = 0.05
"""Steps shorter than this are not worth a word."""


def step_between(
    *, lat1: float, lon1: float, bearing_deg: float, lat2: float, lon2: float
) -> tuple[float, float]:
    """Step from one place to another, as one faces ``bearing_deg`` at the first.

    Returns
    -------
    left_m, back_m : float
        Metres; negative is right, and forward. NaN where a place is.
    """
    if not all(map(math.isfinite, (lat1, lon1, lat2, lon2))):
        return math.nan, math.nan
    line = line_between(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2)
    turn = math.radians(float(line.azimuth_deg) - bearing_deg)
    distance = float(line.distance_m)
    return -distance * math.sin(turn), -distance * math.cos(turn)


def step_words(left_m: float, back_m: float, units: Units = METRIC) -> str:
    """Put a step into words: ``"step 1.3 m left and 0.2 m back, facing the subject"``."""
    parts = []
    for metres, (positive, negative) in (
        (left_m, ("left", "right")),
        (back_m, ("back", "forward")),
    ):
        if abs(metres) >= LEAST_STEP_M:
            parts.append(f"{units.small(abs(metres))} {positive if metres > 0.0 else negative}")
    if not (math.isfinite(left_m) and math.isfinite(back_m)):
        return "no stand"
    if not parts:
        return "stay where you are"
    return f"step {' and '.join(parts)}, facing the subject"
