"""What a forecast says of cloud at one moment, beside a plan and never in it."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CloudFigures:
    """Cloud of a forecast; NaN, and no words, without one.

    Attributes
    ----------
    site, towards : float
        Share of the sky covered, 0 to 1, over the place, and where the line of sight to the
        target passes the layers of low, middle and high cloud; NaN where unknown.
    words : str
        The same as a sentence, with the forecast's age, or why it is unknown.
    """

    site: float = math.nan
    towards: float = math.nan
    words: str = ""
