"""Text for people: names made harmless; directions, lengths and nights in words."""

from __future__ import annotations

import datetime as dt
import math
import unicodedata
from typing import Any, Final

from backbearing.base.numbers import num
from backbearing.base.units import METRIC

_COMPASS = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
MONTHS: Final = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)
SHOWN_RISE_DEG: Final = 0.05
"""Less than this is nought to the tenth of a degree."""

_INVISIBLE = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
# Joiners that emoji and many scripts need, and that move nothing on a terminal.
_HARMLESS = {"\u200c", "\u200d"}


def terminal_safe(text: str) -> str:
    """Show text from a file on a terminal without letting it steer the terminal.

    Control, direction-override and other invisible characters become their code
    point in angle brackets; line ends become spaces.
    """
    shown = []
    for character in text:
        if character in "\r\n\t":
            shown.append(" ")
        elif unicodedata.category(character) in _INVISIBLE and character not in _HARMLESS:
            shown.append(f"<U+{ord(character):04X}>")
        else:
            shown.append(character)
    return "".join(shown)


def shortened(text: str, most: int) -> str:
    """Text on one line, cut with an ellipsis where it has more than so many characters."""
    line = " ".join(text.split())
    return line if len(line) <= most else line[: most - 1] + "…"


def compass_point(azimuth_deg: float) -> str:
    """Name the nearest of the sixteen compass points."""
    return _COMPASS[int((azimuth_deg + 11.25) // 22.5) % 16]


def length(metres: float) -> str:
    """Write a length as a person says it: ``8.3 m``, ``420 m``, ``5.2 km``; ``unknown`` for NaN."""
    return METRIC.length(metres)


def crs_name(crs: Any) -> str:
    """Name a coordinate system by its authority's code, or else by its own name."""
    authority = crs.to_authority()
    return ":".join(authority) if authority else str(crs.name)


def degrees(value_deg: float, places: int = 1) -> str:
    """Write an angle with its sign where negative; ``unknown`` for NaN."""
    return f"{num(value_deg, places)}°" if math.isfinite(value_deg) else "unknown"


def rise_words(bias_deg: float) -> str:
    """Say how much higher the true skyline stands on average; empty where it does not show."""
    if not bias_deg >= SHOWN_RISE_DEG:
        return ""
    return f"the true ridge stands {num(bias_deg, 1)}° higher on average"


def night_label(evening: dt.date) -> str:
    """Name a night by both its dates: "12–13 June 2027"."""
    morning = evening + dt.timedelta(days=1)
    first, last = MONTHS[evening.month - 1], MONTHS[morning.month - 1]
    if evening.year != morning.year:
        return f"{evening.day} {first} {evening.year} – {morning.day} {last} {morning.year}"
    if evening.month != morning.month:
        return f"{evening.day} {first} – {morning.day} {last} {morning.year}"
    return f"{evening.day}–{morning.day} {first} {morning.year}"
