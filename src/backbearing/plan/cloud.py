"""What a forecast says of cloud at one moment, beside a plan and never in it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from backbearing.base.numbers import num, per_cent


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
    age_h : float
        Hours from the forecast's run to the moment; NaN where the run is unknown.
    """

    site: float = math.nan
    towards: float = math.nan
    words: str = ""
    age_h: float = math.nan


def short_cloud_words(cloud: CloudFigures) -> str:
    """The same in a few words, for a table or a pocket; empty without a forecast."""
    if not cloud.words:
        return ""
    if math.isfinite(cloud.towards):
        said = f"{per_cent(cloud.towards)} towards it"
    elif math.isfinite(cloud.site):
        said = f"{per_cent(cloud.site)} overhead, unknown towards it"
    else:
        return "Cloud unknown: no forecast for it."
    old = f"{num(cloud.age_h, 0)} h old" if cloud.age_h >= 0.0 else "of unknown age"
    return f"Cloud {said}, by a forecast {old}."
