"""Lengths as OpenStreetMap writes them, by the conventions of its wiki [OSMUnits]_.

A bare number is metres; a unit follows a space (``4 m``, ``1.5 km``, ``0.6 mi``);
feet and inches are ``14'`` and ``7'4"``. ``ft`` and ``in`` are seen though not asked for, and
units without the space; they are read too. A comma, a range or an estimate is not a length.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np

FOOT_M: Final = 0.3048
"""International foot, exact (1959 agreement)."""

LEVEL_M: Final = 3.0
"""Height of a storey where only ``building:levels`` is known (common practice, no source)."""

_UNITS_M: Final = {
    "": 1.0,
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "km": 1000.0,
    "mi": 1609.344,
    "nmi": 1852.0,
    "ft": FOOT_M,
    "feet": FOOT_M,
    "foot": FOOT_M,
    "in": FOOT_M / 12.0,
    "inch": FOOT_M / 12.0,
}
_PLAIN: Final = re.compile(r"(\d+(?:\.\d+)?|\.\d+)\s*([a-z]*)\.?", re.ASCII)
_FEET: Final = re.compile(
    r"(?:(\d+(?:\.\d+)?)\s*(?:'|ft))?\s*(?:(\d+(?:\.\d+)?)\s*(?:\"|''|in))?", re.ASCII
)
_PRIMES: Final = str.maketrans({"′": "'", "’": "'", "″": '"', "”": '"'})


def length_m(text: str | None) -> float:
    """Read a length in metres; NaN for what is none.

    ``12`` and ``12 m`` give 12.0, ``40'`` and ``40 ft`` 12.192, ``7'4"`` 2.2352.
    """
    if not text or len(text) > 40:
        return float("nan")
    plain = text.strip().lower().translate(_PRIMES)
    found = _PLAIN.fullmatch(plain)
    if found:
        unit = _UNITS_M.get(found.group(2))
        return float(found.group(1)) * unit if unit else float("nan")
    found = _FEET.fullmatch(plain)
    if found and (found.group(1) or found.group(2)):
        return (float(found.group(1) or 0.0) + float(found.group(2) or 0.0) / 12.0) * FOOT_M
    return float("nan")


def height_of(tags: dict[str, str]) -> tuple[float, bool]:
    """Height from base to top in metres by an element's tags, and whether it is a guess.

    ``height`` less ``min_height``; else ``est_height``, or 3 m for each level of a building,
    marked as guesses. NaN where none is there.
    """
    height = length_m(tags.get("height"))
    if np.isfinite(height) and height > 0.0:
        foot = length_m(tags.get("min_height"))
        return (height - foot if 0.0 < foot < height else height), False
    estimate = length_m(tags.get("est_height"))
    if np.isfinite(estimate) and estimate > 0.0:
        return estimate, True
    levels = length_m(tags.get("building:levels"))
    roof = length_m(tags.get("roof:levels"))
    if np.isfinite(levels) and 0.0 < levels < 200.0:
        return (levels + (roof if 0.0 < roof < 20.0 else 0.0)) * LEVEL_M, True
    return float("nan"), False


def width_of(tags: dict[str, str]) -> float:
    """Width in metres by an element's tags; NaN where none is there."""
    for key in ("width", "diameter_crown", "diameter"):
        width = length_m(tags.get(key))
        if np.isfinite(width) and width > 0.0:
            return width
    return float("nan")
