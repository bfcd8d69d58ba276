"""In which units a person reads lengths: metres, or feet, yards and miles.

JSON and files for machines stay in metres whatever is asked here. Feet go up to 1000, yards from
there to a mile, heights above the sea are feet however high; paces are paces.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

from backbearing.base.errors import OutingError
from backbearing.base.limits import shown
from backbearing.base.numbers import num

FOOT_M: Final = 0.3048
"""The international foot, metres; exact by its definition."""

MOST_FEET: Final = 1000.0
"""A person reads longer ways in yards."""

_YARD_M: Final = 3.0 * FOOT_M
_MILE_M: Final = 5280.0 * FOOT_M

if TYPE_CHECKING:
    from collections.abc import Collection

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

        ``unknown`` for NaN. Feet go up to 1000, with a decimal up to 300, yards up to 1760.

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
        if size < MOST_FEET * FOOT_M:
            return self.small(metres, 1 if size < 300.0 * FOOT_M else 0)
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

    def height(self, metres: float) -> str:
        """Write a height above the sea, in whole metres or feet."""
        return self.small(metres, 0)

    def round_length(self, most_m: float) -> tuple[float, str]:
        """Metres and words of the longest round length up to so many: ``50 ft``, ``0.5 mi``.

        A 1, 2 or 5 with noughts, as for a scale bar.
        """
        unit, name = self._of_round(most_m)
        step = 10.0 ** math.floor(math.log10(most_m / unit))
        number = next(step * k for k in (5.0, 2.0, 1.0) if step * k <= most_m / unit)
        return unit * number, f"{num(number)} {name}"

    def _of_round(self, metres: float) -> tuple[float, str]:
        if self.name == "metric":
            return (1000.0, "km") if metres >= 1000.0 else (1.0, "m")
        if metres < MOST_FEET * FOOT_M:
            return FOOT_M, "ft"
        return (_YARD_M, "yd") if metres < _MILE_M else (_MILE_M, "mi")

    def sentence(
        self, text: str, keep: Collection[str] = (), exact_m: Collection[float] = ()
    ) -> str:
        """Write the lengths within a sentence of ours in these units.

        A sentence is made in metres, and stays so in JSON. Its numbers are turned as they are
        shown, to as many decimals, so that they say no more than they did.

        Parameters
        ----------
        text : str
            A sentence such as ``"Lay 35.2 m of tape that way."``.
        keep : collection of str
            Names from files: whatever stands in them is left alone.
        exact_m : collection of float
            Lengths of which the sentence may tell: one that is shown so in metres is turned
            from all of its digits, as it is elsewhere.

        Examples
        --------
        >>> Units("imperial").sentence("Lay 35.2 m of tape, from Mast 2 m.", ["Mast 2 m"])
        'Lay 115.5 ft of tape, from Mast 2 m.'
        """
        if self.name == "metric":
            return text
        parts = re.split(_names(frozenset(keep)), text) if keep else [text]
        # Every second part is a name.
        return "".join(part if i % 2 else _turned(part, exact_m) for i, part in enumerate(parts))


_LENGTH: Final = re.compile(
    r"(?<![\w.,])(?P<more>(?:[+-]?\d+(?:\.\d+)?(?: ?[\u00d7\u2013] ?| to | or ))*)"
    r"(?P<number>[+-]?\d+(?:\.\d+)?)[ \u00a0](?P<unit>km|cm|m)\b(?![/\u00b2\u00b3])"
    r"(?P<tall> (?:up|down|high|tall|deep)\b)?"
)
_NUMBER: Final = re.compile(r"\d+(?:\.\d+)?")
_WORDS: Final = {
    "half a metre": "1.6 ft",
    "within a metre": "within 3.3 ft",
    "a metre": "3.3 ft",
    "many metres": "many yards",
    "some metres": "some yards",
    "metres": "yards",
}
"""Lengths that a sentence says without a figure."""


def _turned(text: str, exact_m: Collection[float]) -> str:
    for metric, imperial in _WORDS.items():
        text = text.replace(metric, imperial)
    return _LENGTH.sub(lambda found: _imperial(found, exact_m), text)


def _imperial(found: re.Match[str], exact_m: Collection[float]) -> str:
    """Turn one length, or several before one unit, to as many decimals as they have."""
    metres = {"km": 1000.0, "cm": 0.01, "m": 1.0}[found["unit"]]
    shown = found["number"]
    size = abs(float(shown)) * metres
    places = len(shown.partition(".")[2]) + (found["unit"] == "cm")
    # A height stands in brackets, or beside its word.
    before = found.string[max(0, found.start() - 8) : found.start()]
    beside = bool(found["tall"]) or before.endswith(("(", "Ground ", " above ", " says "))
    high = found["unit"] == "m" and beside
    if found["unit"] == "km" or (size >= _MILE_M and not high):
        unit, name, places = _MILE_M, "mi", max(places, 1)
    elif size < MOST_FEET * FOOT_M or high:
        unit, name = FOOT_M, "ft"
    else:
        unit, name, places = _YARD_M, "yd", 0

    def turn(number: re.Match[str]) -> str:
        written = number.group()
        decimals = len(written.partition(".")[2])
        known = (abs(one) for one in exact_m if num(abs(one) / metres, decimals) == written)
        return num(next(known, float(written) * metres) / unit, places)

    return f"{_NUMBER.sub(turn, found['more'] + shown)} {name}{found['tall'] or ''}"


@lru_cache(maxsize=64)
def _names(keep: frozenset[str]) -> re.Pattern[str]:
    """What matches any of these names, the longest first, as one group."""
    names = sorted((name for name in keep if name.strip()), key=len, reverse=True)
    return re.compile(f"({'|'.join(map(re.escape, names))})" if names else r"(?!)()")


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
