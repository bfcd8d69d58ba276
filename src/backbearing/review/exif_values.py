"""Single EXIF values, which may be of any type and hold anything."""

from __future__ import annotations

import math
from typing import Any, Final

LONGEST_TEXT: Final = 80


def number(value: Any) -> float:
    """A finite number, or NaN for anything else, a fraction over zero included."""
    if isinstance(value, list | tuple) and len(value) >= 1:
        value = value[0]
    if isinstance(value, bool | str | bytes) or value is None:
        return math.nan
    if getattr(value, "denominator", 1) == 0:
        return math.nan
    try:
        found = float(value)
    except (TypeError, ValueError, OverflowError, ZeroDivisionError):
        return math.nan
    return found if math.isfinite(found) else math.nan


def positive(value: Any) -> float:
    """A finite number above zero, or NaN: cameras write 0 for what they do not know."""
    found = number(value)
    return found if found > 0.0 else math.nan


def text(value: Any) -> str:
    """Text without what trails it, at most 80 characters; empty for anything else."""
    if isinstance(value, bytes):
        value = value[: 4 * LONGEST_TEXT].decode("utf-8", "replace")
    if not isinstance(value, str):
        return ""
    shown = value.split("\x00", 1)[0].strip()
    return shown if len(shown) <= LONGEST_TEXT else shown[: LONGEST_TEXT - 3] + "..."
