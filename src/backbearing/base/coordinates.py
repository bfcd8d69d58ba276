"""Coordinates as people have them: decimal degrees, or degrees, minutes and seconds."""

from __future__ import annotations

import re
from typing import Final, Literal

Axis = Literal["lat", "lon"]

_LETTERS: Final = {"lat": ("N", "S"), "lon": ("E", "W")}
_MOST_DEG: Final = {"lat": 90.0, "lon": 180.0}
_EXAMPLES: Final = {
    "lat": '-30.99986, or in quotes "30 59 59.5 S"',
    "lon": '149.2667, or in quotes "149 16 00 E"',
}
_NUMBER: Final = r"(\d{1,3}(?:\.\d{1,12})?)"
_SHAPE: Final = re.compile(
    rf"(?P<before>[NSEW])?\s*{_NUMBER}\s*[°:]?\s*"
    rf"(?:{_NUMBER}\s*['′:]?\s*)?"
    rf"(?:{_NUMBER}\s*(?:\"|″|'')?\s*)?"
    r"(?P<after>[NSEW])?"
)


def read_coordinate(text: str, axis: Axis) -> float:
    """Read a latitude or a longitude that is written as text.

    Degrees, minutes and seconds may be parted by spaces, colons or their signs. A capital for
    the hemisphere must stand before or after, so that none is guessed, and no sign beside it;
    letters for units are not read, since an s could be either.

    Parameters
    ----------
    text : str
        Such as ``31 00 36 S``, ``31°00'36"S`` or ``S 31 0.6``.
    axis : {"lat", "lon"}
        Which letters are meant, N and S or E and W.

    Returns
    -------
    float
        Degrees, south and west negative.

    Raises
    ------
    ValueError
        With what to write instead.

    Examples
    --------
    >>> read_coordinate("31 00 36 S", "lat"), read_coordinate("149°16'E", "lon")
    (-31.01, 149.26666666666668)
    """
    found = _SHAPE.fullmatch(text.strip()[:60].replace(",", "."))
    wrong = f"write degrees such as {_EXAMPLES[axis]}"
    if found is None:
        raise ValueError(wrong)
    before, after = found["before"], found["after"]
    north, south = _LETTERS[axis]
    if bool(before) == bool(after) or (before or after) not in (north, south):
        raise ValueError(f"{wrong}: with one letter, {north} or {south}")
    letter = before or after
    parts = [part for part in found.group(2, 3, 4) if part is not None]
    if any("." in part for part in parts[:-1]):
        raise ValueError(f"{wrong}: only the last part has decimals")
    degrees, minutes, seconds = (*(float(part) for part in parts), 0.0, 0.0)[:3]
    if minutes >= 60.0 or seconds >= 60.0:
        raise ValueError(f"{wrong}: minutes and seconds stay below 60")
    value = degrees + (minutes + seconds / 60.0) / 60.0
    if value > _MOST_DEG[axis]:
        raise ValueError(f"{wrong}, up to {_MOST_DEG[axis]:.0f}")
    return -value if letter == south else value
