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

    def retold(self, sentence: str) -> str:
        """Give a sentence that was written in metres with its lengths in these units.

        For sentences of our own making, which are kept in metres so that files for machines
        stay the same. Centimetres become feet; heights stay in feet, however large.

        Examples
        --------
        >>> Units("imperial").retold("Step 1.3 m left and 0.2 m back; the car is 420 m off.")
        'Step 4.3 ft left and 0.7 ft back; the car is 459 yd off.'
        >>> Units().retold("within 0.8 × 1.3 m")
        'within 0.8 × 1.3 m'
        """
        if self.name == "metric":
            return sentence
        return _LENGTH.sub(self._retold, sentence)

    def _retold(self, found: re.Match[str]) -> str:
        numbers, unit = (found["first"], found["second"]), found["unit"]
        to_m = {"km": 1000.0, "m": 1.0, "cm": 0.01}[unit]
        metres = [float(number) * to_m for number in numbers if number]
        places = 1 if unit == "cm" else max(len(n.partition(".")[2]) for n in numbers if n)
        height = found["height"] or found.string[: found.start()].endswith("highest (")
        if unit == "km" or (max(metres) >= 300.0 * FOOT_M and not height):
            said = [self.length(one) for one in metres]
        else:
            said = [self.small(one, places) for one in metres]
        if len(said) == 2 and said[0].split(" ")[1] == said[1].split(" ")[1]:
            said[0] = said[0].split(" ")[0]
        return (found["joint"] or "").join(said) + (found["height"] or "")


_LENGTH: Final = re.compile(
    r"(?<![\w.,])(?P<first>\d+(?:\.\d+)?)(?:(?P<joint> ?[×–] ?| to )(?P<second>\d+(?:\.\d+)?))?"
    r"[ \u00a0](?P<unit>km|cm|m)\b(?P<height> (?:up|down|high|tall|deep)\b)?"
)
"""A length, or two that share a unit, in a sentence of ours."""

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
