"""A place in degrees as people type it: decimal, or with minutes and seconds, in any order.

Which number is the latitude is told by hemisphere letters, by the words lat and lon, or, where
neither stands there, by the custom that latitude comes first.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, NamedTuple

from backbearing.base.errors import PlaceError
from backbearing.base.limits import shown
from backbearing.base.numbers import num

EXAMPLE: Final = '"-31.5, 148.2" or "31 30 00 S 148 12 00 E"'

_WORDS: Final[dict[str, str]] = {
    **dict.fromkeys(("n", "north"), "N"),
    **dict.fromkeys(("s", "south"), "S"),
    **dict.fromkeys(("e", "east"), "E"),
    **dict.fromkeys(("w", "west"), "W"),
    **dict.fromkeys(("d", "deg", "degs", "degree", "degrees"), "°"),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes"), "'"),
    **dict.fromkeys(("sec", "secs", "second", "seconds"), '"'),
    **dict.fromkeys(("lat", "latitude"), "lat"),
    **dict.fromkeys(("lon", "lng", "long", "longitude"), "lon"),
}
_TOKEN: Final = re.compile(
    r"(?P<number>[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
    r"|(?P<sign>[-+])|(?P<mark>[°'\":])|(?P<parting>[,;])"
    rf"|(?P<word>{'|'.join(sorted(_WORDS, key=len, reverse=True))})|(?P<gap>[\s=]+)",
    re.I,
)
_TWO_NUMBERS: Final = re.compile(
    r"[-+]?\d+(?P<first>,\d+)?(?:\s*;\s*|,\s+|(?P<gap>\s+))[-+]?\d+(?P<second>,\d+)?"
)
_AXIS: Final = {"N": "lat", "S": "lat", "E": "lon", "W": "lon"}
_MARKS: Final = ("°:", "':", '"')
"""What may stand behind degrees, minutes and seconds."""


class _Token(NamedTuple):
    kind: str
    text: str


@dataclass(frozen=True, slots=True)
class _Angle:
    """One coordinate: degrees without its hemisphere's sign, and what tells the axis."""

    degrees: float
    letter: str = ""
    label: str = ""

    @property
    def axis(self) -> str:
        return _AXIS.get(self.letter, self.label)

    @property
    def value_deg(self) -> float:
        return -self.degrees if self.letter in ("S", "W") else self.degrees


def read_degrees(text: str) -> tuple[float, float]:
    """Read latitude and longitude, degrees, from text whose signs are already plain.

    Parameters
    ----------
    text : str
        With ``°``, ``'``, ``"`` and ``-`` for whatever stood for them.

    Raises
    ------
    PlaceError
        With what to write instead.
    """
    tokens = _tokens(_with_points(text), text)
    first, second = (_angle(group, text) for group in _halves(tokens, text))
    _refuse_half_told(first, second, text)
    if first.axis == "lon" or second.axis == "lat":
        first, second = second, first
    lat, lon = first.value_deg, second.value_deg
    if not first.axis and abs(lat) > 90.0 >= abs(lon):
        raise _refused(
            text,
            "has a first number that is no latitude",
            f'write the latitude first: "{_bare(lon)}, {_bare(lat)}"',
        )
    if abs(lat) > 90.0:
        raise _refused(text, "has a latitude beyond 90 degrees", f"write one such as {EXAMPLE}")
    if abs(lon) > 180.0:
        meant = f", here {_bare(lon - 360.0)}" if 180.0 < lon < 360.0 else ""
        hint = f"write it from -180 to 180{meant}"
        raise _refused(text, "has a longitude beyond 180 degrees", hint)
    return lat, lon


def _bare(value: float) -> str:
    return num(value, digits=10)


def _refused(text: str, what: str, hint: str) -> PlaceError:
    return PlaceError(f"{shown(text)} {what}", hint=hint, text=text[:200])


def _with_points(text: str) -> str:
    """Turn decimal commas into points where they can be nothing else."""
    if "." in text or not re.search(r"[0-9],[0-9]", text):
        return text
    two = _TWO_NUMBERS.fullmatch(text.strip())
    told = re.search(r"[nsew°'\"]|lat|lon|lng", text, re.I) is not None
    if told or (two and (two["gap"] is None or (two["first"] and two["second"]))):
        return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    raise _refused(
        text,
        "has a comma that may part two numbers or stand for a decimal point",
        'write points for decimals and a space after the comma, such as "-31.5, 148.2"',
    )


def _tokens(text: str, written: str) -> list[_Token]:
    found, at, last_word = [], 0, ""
    while at < len(text):
        match = _TOKEN.match(text, at)
        if match is None:
            raise _refused(
                written, "is no place in a notation that is known", f"write it such as {EXAMPLE}"
            )
        at = match.end()
        kind, said = str(match.lastgroup), match.group()
        if kind == "gap":
            continue
        if kind == "word":
            # In 36d22m21s the s counts seconds: minutes stood there as a letter too.
            seconds = said == "s" and last_word == "'"
            said = last_word = '"' if seconds else _WORDS[said.lower()]
            kind = {"lat": "label", "lon": "label"}.get(
                said, "letter" if said.isalpha() else "mark"
            )
        found.append(_Token(kind, said))
    return found


def _halves(tokens: list[_Token], text: str) -> tuple[list[_Token], list[_Token]]:
    """Part what belongs to the one coordinate from what belongs to the other."""
    for kind in ("label", "letter"):
        at = [i for i, token in enumerate(tokens) if token.kind == kind]
        if len(at) == 2:
            cut = at[1] if at[0] == 0 else at[0] + 1
            return tokens[:cut], tokens[cut:]
        if at:
            raise _refused(
                text,
                "does not tell which number is north or south and which east or west",
                f"write one letter with each of the two, such as {EXAMPLE}",
            )
    partings = [i for i, token in enumerate(tokens) if token.kind == "parting"]
    degrees = [i for i, token in enumerate(tokens) if token.text == "°"]
    numbers = [i for i, token in enumerate(tokens) if token.kind == "number"]
    if len(partings) == 1:
        return tokens[: partings[0]], tokens[partings[0] + 1 :]
    if len(degrees) == 2 and degrees[1] >= 2:
        start = degrees[1] - 1
        start -= tokens[start - 1].kind == "sign"
        return tokens[:start], tokens[start:]
    if len(numbers) == 2 and not partings:
        start = numbers[1] - (tokens[numbers[1] - 1].kind == "sign")
        return tokens[:start], tokens[start:]
    if len(numbers) < 2:
        raise _refused(text, "is no place: it holds no two numbers", f"write it such as {EXAMPLE}")
    raise _refused(
        text,
        "does not tell where the latitude ends",
        f"write letters for north, south, east and west, such as {EXAMPLE}",
    )


def _angle(group: list[_Token], text: str) -> _Angle:
    """Read one coordinate: ``[label] [letter] [sign] number [mark] ... [letter]``."""
    left = [token for token in group if token.kind != "parting"]
    told = {"label": "", "letter": ""}
    while left and left[0].kind in ("label", "letter"):
        told[left[0].kind] = left[0].text
        # What parts a label from its number is no mark of minutes.
        skip = 2 if left[0].kind == "label" and [t.text for t in left[1:2]] == [":"] else 1
        left = left[skip:]
    if left and left[-1].kind == "letter" and not told["letter"]:
        told["letter"] = left.pop().text
    sign = left.pop(0).text if left and left[0].kind == "sign" else ""
    if sign == "-" and told["letter"]:
        raise _refused(
            text,
            f"has both a minus sign and the letter {told['letter']}",
            "write one of them, such as 31.5 S or -31.5",
        )
    size = _size(left, text)
    return _Angle(-size if sign == "-" else size, told["letter"], told["label"])


def _size(left: list[_Token], text: str) -> float:
    """Degrees of up to three numbers with their marks."""
    parts: list[str] = []
    for token, before in zip(left, [None, *left], strict=False):
        after_number = before is not None and before.kind == "number"
        if token.kind == "number" and len(parts) < 3:
            parts.append(token.text)
        elif token.kind == "mark" and after_number and token.text in _MARKS[len(parts) - 1]:
            continue
        else:
            raise _refused(
                text, "is no place in a notation that is known", f"write it such as {EXAMPLE}"
            )
    if not parts:
        raise _refused(text, "lacks one of its two numbers", f"write it such as {EXAMPLE}")
    if any("." in part for part in parts[:-1]):
        raise _refused(
            text,
            "has decimals before the last part",
            'write them in the last part only, such as "36 22.35 N 84 21.6 W"',
        )
    degrees, minutes, seconds = (*map(float, parts), 0.0, 0.0)[:3]
    if minutes >= 60.0 or seconds >= 60.0:
        raise _refused(text, "has minutes or seconds of 60 or more", f"write it such as {EXAMPLE}")
    return degrees + (minutes + seconds / 60.0) / 60.0


def _refuse_half_told(first: _Angle, second: _Angle, text: str) -> None:
    told = f"write one letter with each of the two, such as {EXAMPLE}"
    if bool(first.letter) != bool(second.letter) or bool(first.label) != bool(second.label):
        raise _refused(text, "names the hemisphere of one number only", told)
    if first.axis and first.axis == second.axis:
        name = "latitudes" if first.axis == "lat" else "longitudes"
        raise _refused(text, f"holds two {name}", told)
    for angle in (first, second):
        if angle.letter and angle.label and _AXIS[angle.letter] != angle.label:
            raise _refused(text, f"calls {angle.letter} a {angle.label}", told)
