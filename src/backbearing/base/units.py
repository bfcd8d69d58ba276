"""In which units a person reads lengths: metres, or feet, yards and miles.

JSON and files for machines stay in metres whatever is asked here.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from backbearing.base.errors import OutingError
from backbearing.base.limits import shown
from backbearing.base.numbers import num

FOOT_M: Final = 0.3048
"""The international foot, metres; exact by its definition."""

_YARD_M: Final = 3.0 * FOOT_M
_MILE_M: Final = 5280.0 * FOOT_M

UnitsName = Literal["metric", "imperial"]


@dataclass(frozen=True, slots=True)
class Units:
    """How lengths are said to a person.

    Attributes
    ----------
    name : str
        ``"metric"`` or ``"imperial"``.
    """

    name: UnitsName = "metric"

    def length(self, metres: float) -> str:
        """Write a length: ``8.3 m``, ``420 m``, ``5.2 km``; or ``27.2 ft``, ``459 yd``, ``3.2 mi``.

        ``unknown`` for NaN. Feet go up to 300, yards up to 1760.

        Examples
        --------
        >>> Units().length(35.2), Units("imperial").length(35.2)
        ('35.2 m', '115.5 ft')
        """
        if not math.isfinite(metres):
            return "unknown"
        size = abs(metres)
        if self.name == "metric":
            if size < 1000.0:
                return self.small(metres, 1 if size < 100.0 else 0)
            return f"{num(metres / 1000.0, 1)} km"
        if size < 300.0 * FOOT_M:
            return self.small(metres, 1)
        if size < _MILE_M:
            return f"{num(metres / _YARD_M, 0)} yd"
        return f"{num(metres / _MILE_M, 1)} mi"

    def small(self, metres: float, places: int = 1, *, sign: bool = False) -> str:
        """Write a length in metres or feet, with so many decimals."""
        if not math.isfinite(metres):
            return "unknown"
        if self.name == "metric":
            return f"{num(metres, places, sign=sign)} m"
        return f"{num(metres / FOOT_M, places, sign=sign)} ft"


METRIC: Final = Units()

_WRITTEN: Final = re.compile(r"\s*(\d{1,12}(?:\.\d{1,12})?)\s*(km|m|mi|ft|yd)\s*", re.ASCII | re.I)
_WRITTEN_M: Final = {"km": 1000.0, "m": 1.0, "mi": _MILE_M, "ft": FOOT_M, "yd": _YARD_M}


def read_length_m(text: str) -> float:
    """Read a length with its unit, as a person types it: ``40km``, ``25 mi``, ``40000m``.

    Raises
    ------
    OutingError
        With what to write instead.

    Examples
    --------
    >>> read_length_m("40km"), read_length_m("25 mi")
    (40000.0, 40233.6)
    """
    found = _WRITTEN.fullmatch(text)
    if found is None:
        raise OutingError(
            f"{shown(text)} is no length", hint="write a number and its unit, such as 40km or 25mi"
        )
    return float(found.group(1)) * _WRITTEN_M[found.group(2).lower()]
