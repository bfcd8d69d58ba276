"""The kinds of value that an outing file holds: what each key's text or number must be."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, FiniteFloat, StrictInt, StrictStr

from backbearing.base.coordinates import Axis, read_coordinate
from backbearing.base.errors import PlaceError
from backbearing.base.input_files import path_trouble
from backbearing.base.limits import LONGEST_NAME, LONGEST_TEXT, float_or_inf, shown
from backbearing.base.place_notation import PlaceRead, read_place_fully


def _number(value: Any) -> Any:
    """Refuse true and quoted numbers, which pydantic would take for numbers."""
    if isinstance(value, bool | str):
        message = "write a number without quotes"
        raise ValueError(message)  # noqa: TRY004  # pydantic gathers ValueErrors only
    return float_or_inf(value) if isinstance(value, int) else value


def _count(value: Any) -> Any:
    """Refuse whole numbers that no double holds before anything is reckoned with them."""
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**15:
        message = "write a number that can be counted"
        raise ValueError(message)
    return value


def _plain_date(value: Any) -> Any:
    if type(value) is not dt.date:
        message = "write the date of the evening without quotes or time, such as 2027-06-05"
        raise ValueError(message)
    return value


_CLOCK = r"([01]\d|2[0-3]):[0-5]\d( (first|second|[A-Z]{2,5}|[+-]\d{2,4}))?"
"""Hours and minutes, and which of two where the clocks go back; see `sky.zones.at_clock`."""


def _clock(value: Any) -> Any:
    if isinstance(value, dt.time):
        return value.strftime("%H:%M")
    if value is not None and not (isinstance(value, str) and re.fullmatch(_CLOCK, value)):
        message = (
            'write a local wall time in quotes, such as "23:40", or "01:30 first" and '
            '"01:30 second" where the clocks go back over it'
        )
        raise ValueError(message)
    return value


def one_or_more(value: Any) -> Any:
    """Take a lone text for a list of one."""
    return [value] if isinstance(value, str) else value


def _path(value: str | None) -> str | None:
    trouble = "" if value is None else path_trouble(value)
    if trouble:
        message = f"write the path of a file ({trouble})"
        raise ValueError(message)
    return value


def _degrees_of(axis: Axis) -> Any:
    """Take degrees as a number, or as text with minutes, seconds and a hemisphere letter."""

    def take(value: Any) -> Any:
        return read_coordinate(value, axis) if isinstance(value, str) else _number(value)

    return take


def _place(value: Any) -> Any:
    """Take a place in any notation."""
    if not isinstance(value, str):
        message = 'write a place in quotes, such as "31 30 00 S 148 12 00 E"'
        raise ValueError(message)  # noqa: TRY004  # pydantic gathers ValueErrors only
    try:
        return read_place_fully(value)
    except PlaceError as problem:
        message = f"it {problem.what.removeprefix(shown(value)).strip()}; {problem.hint}"
        raise ValueError(message) from problem


def _text(longest: int) -> Any:
    """Refuse text that no sheet holds, and what steers a terminal."""

    def take(value: str) -> str:
        if len(value) > longest:
            message = f"write at most {longest} letters"
            raise ValueError(message)
        if any(ord(letter) < 32 and letter not in "\n\t" for letter in value):
            message = "write it without control characters"
            raise ValueError(message)
        return value

    return take


def moon_accepted(value: Any) -> Any:
    """Hold what is accepted of the Moon to its words, or to a share from 0 to 1."""
    if value in ("down", "any"):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= 1:
        return float(value)
    message = (
        'write "down", "any", or the largest lit fraction of the Moon that you accept, from 0 to 1'
    )
    raise ValueError(message)


Number = Annotated[FiniteFloat, BeforeValidator(_number)]
Count = Annotated[StrictInt, BeforeValidator(_count)]
Latitude = Annotated[FiniteFloat, BeforeValidator(_degrees_of("lat"))]
Longitude = Annotated[FiniteFloat, BeforeValidator(_degrees_of("lon"))]
AnyPlace = Annotated[PlaceRead, BeforeValidator(_place)]
PathText = Annotated[StrictStr, AfterValidator(_path)]
Name = Annotated[StrictStr, AfterValidator(_text(LONGEST_NAME))]
Text = Annotated[StrictStr, AfterValidator(_text(LONGEST_TEXT))]
Minutes = Annotated[Number, Field(ge=0, le=600)]
Clock = Annotated[str | None, BeforeValidator(_clock)]
Evening = Annotated[dt.date, BeforeValidator(_plain_date)]
