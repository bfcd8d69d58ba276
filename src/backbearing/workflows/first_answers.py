"""What a person answers when a first outing is made, read from the words as typed."""

from __future__ import annotations

import datetime as dt
import difflib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from backbearing.alignment.night.plan_season import MOST_NIGHTS
from backbearing.base.errors import OutingError
from backbearing.base.limits import LONGEST_NAME, shown
from backbearing.base.units import FOOT_M
from backbearing.camera.bodies_and_lenses import FORMATS_MM, Camera, Lens
from backbearing.outing.subject import Subject

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.outing.kit import Kit

USUAL_NIGHTS: Final = 90
USUAL_CAMERA: Final = {"sensor_format": "135", "width_px": 6000}
"""What is written where no body is named: said, and easily changed."""

_NUMBER: Final = r"[0-9]{1,6}(?:[.,][0-9]{1,6})?"
_UNIT: Final = r"(?:m|metres?|meters?|ft|feet|foot)"
_LENGTH: Final = re.compile(rf"(?P<size>{_NUMBER})\s*(?P<unit>{_UNIT})?", re.I)
_SUBJECT: Final = re.compile(
    rf"(?P<name>.*?)[\s,;:]*\b(?P<height>{_NUMBER}\s*{_UNIT}?)"
    rf"(?:\s*(?:x|by)\s*(?P<width>{_NUMBER}\s*{_UNIT}?))?(?:\s*(?:high|tall))?",
    re.I,
)
_BEST: Final = re.compile(
    r"(?:the )?best(?: of(?: the)?(?: next)? (?P<nights>\d{1,6}))?(?: nights)?", re.I
)
_LENS: Final = re.compile(
    rf"(?P<focal>{_NUMBER})\s*(?:mm)?\s*(?:f\s*/?\s*(?P<stop>{_NUMBER}))?", re.I
)
_SENSOR: Final = re.compile(
    rf"(?P<wide>{_NUMBER})\s*x\s*(?P<high>{_NUMBER})\s*(?:mm)?[\s,;]+"
    r"(?P<columns>\d{1,6})\s*x\s*(?P<rows>\d{1,6})\s*(?:px|pixels)?",
    re.I,
)


@dataclass(frozen=True, slots=True)
class NamedThing:
    """The subject as it was typed: what it is called, and its size in metres."""

    name: str
    height_m: float
    width_m: float | None = None


@dataclass(frozen=True, slots=True)
class BestOf:
    """The night is to be the best of so many."""

    nights: int = USUAL_NIGHTS


def read_length_m(text: str, what: str = "The height") -> float:
    """Read a length in metres, or in feet where it says so.

    Raises
    ------
    OutingError
        With what to write instead.
    """
    found = _LENGTH.fullmatch(text.strip()[:60])
    if found is None:
        raise OutingError(f"{what} is {shown(text)}", hint='write metres such as "9", or "30 ft"')
    size = float(found["size"].replace(",", "."))
    return size * FOOT_M if (found["unit"] or "m").lower().startswith("f") else size


def read_subject(text: str) -> NamedThing:
    """Read what the subject is and how high, such as ``old mill, 9`` or ``oak 30 ft x 20 ft``.

    Raises
    ------
    OutingError
        With what to write instead.
    """
    found = _SUBJECT.fullmatch(" ".join(text.split())[: LONGEST_NAME + 60])
    if found is None:
        raise OutingError(
            f"{shown(text)} does not end in a height",
            hint='write what it is and how high in metres, such as "old mill, 9"',
        )
    width = found["width"]
    return checked_subject(
        found["name"].strip(" ,;:"),
        read_length_m(found["height"]),
        None if width is None else read_length_m(width, "The width"),
    )


def checked_subject(name: str, height_m: float, width_m: float | None) -> NamedThing:
    """Hold a subject's name and size to what an outing takes.

    Raises
    ------
    OutingError
        With what to write instead.
    """
    plain = plain_words(name)
    if len(plain) > LONGEST_NAME:
        raise OutingError(f"The name has {len(plain)} letters", hint=f"write {LONGEST_NAME}")
    Subject(lat=0.0, lon=0.0, height_m=height_m, width_m=width_m)
    return NamedThing(plain or "The subject", height_m, width_m)


def plain_words(text: str) -> str:
    """Give text on one line, without what steers a terminal or fits into no file."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def read_night(text: str) -> dt.date | BestOf:
    """Read a date, or "best", "best of 120".

    Raises
    ------
    OutingError
        With what to write instead.
    """
    words = " ".join(text.split())[:60]
    best = _BEST.fullmatch(words)
    if best is not None:
        nights = int(best["nights"] or USUAL_NIGHTS)
        if not 1 <= nights <= MOST_NIGHTS:
            raise OutingError(f"{nights} nights are asked for", hint=f"ask for 1 to {MOST_NIGHTS}")
        return BestOf(nights)
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", words):
        try:
            return dt.date.fromisoformat(words)
        except ValueError as problem:
            raise OutingError(
                f"{words} is no date ({problem})", hint="write one such as 2027-06-05"
            ) from problem
    raise OutingError(
        f"{shown(text)} is no night",
        hint='write the evening\'s date such as 2027-06-05, or "best of 90"',
    )


def read_lenses(text: str, kit: Kit | None) -> tuple[Mapping[str, Any], ...]:
    """Read lenses by their names in the kit or their focal lengths, such as ``16, 24 f/2, the 85``.

    A focal length that one lens of the kit has, and no other, means that lens.

    Returns
    -------
    tuple of mappings
        For each lens its keys in an outing.

    Raises
    ------
    BackbearingError
        With what to write instead.
    """
    words = [word.strip() for word in re.split(r"[,;]", text[:2000])]
    if len(words) == 1 and re.fullmatch(rf"{_NUMBER}(?:\s+{_NUMBER})+", words[0]):
        words = words[0].split()
    lenses = [_lens(word, kit) for word in words if word]
    if not lenses:
        raise OutingError("No lens is named", hint='write focal lengths such as "16, 24, 85"')
    doubled = next((one for i, one in enumerate(lenses) if one in lenses[:i]), None)
    if doubled is not None:
        value = next(iter(doubled.values()))
        raise OutingError(f"The lens {shown(value)} is named twice", hint="name it once")
    return tuple(lenses)


def _lens(word: str, kit: Kit | None) -> Mapping[str, Any]:
    known = {} if kit is None else kit.lens
    by_name = {name.lower(): name for name in known}
    if word.lower() in by_name:
        return {"use": by_name[word.lower()]}
    found = _LENS.fullmatch(word)
    if found is None:
        near = difflib.get_close_matches(word.lower(), by_name, n=1)
        hint = 'write focal lengths in millimetres such as "16, 24, 85"'
        if near:
            hint = f'did you mean "{by_name[near[0]]}"?'
        raise OutingError(f"{shown(word)} is no lens", hint=hint)
    keys = {"focal_length_mm": float(found["focal"].replace(",", "."))}
    if found["stop"]:
        keys["f_number"] = float(found["stop"].replace(",", "."))
    else:
        focal = keys["focal_length_mm"]
        same = [name for name, lens in known.items() if lens["focal_length_mm"] == focal]
        if len(same) == 1:
            return {"use": same[0]}
    Lens(keys["focal_length_mm"], f_number=keys.get("f_number", 2.8))
    return keys


def read_camera(text: str | None, kit: Kit | None) -> Mapping[str, Any]:
    """Read a body by its name in the kit, its format's name, or its size in mm and pixels.

    Without any it is the kit's first, or else `USUAL_CAMERA`.

    Raises
    ------
    BackbearingError
        With what to write instead.
    """
    bodies: Sequence[str] = [] if kit is None else list(kit.body)
    if text is None or not text.strip():
        return {"use": bodies[0]} if bodies else dict(USUAL_CAMERA)
    word = " ".join(text.split())[:200]
    named = {name.lower(): name for name in bodies}
    if word.lower() in named:
        return {"use": named[word.lower()]}
    formats = {name.lower(): name for name in FORMATS_MM}
    if word.lower() in formats:
        return {"sensor_format": formats[word.lower()], "width_px": USUAL_CAMERA["width_px"]}
    found = _SENSOR.fullmatch(word)
    if found is not None:
        wide, high = (float(found[key].replace(",", ".")) for key in ("wide", "high"))
        columns, rows = int(found["columns"]), int(found["rows"])
        Camera(wide, high, columns, rows)
        return {
            "sensor_width_mm": wide, "sensor_height_mm": high,
            "width_px": columns, "height_px": rows,
        }  # fmt: skip
    near = difflib.get_close_matches(word.lower(), [*named, *formats], n=1)
    hint = 'write a body of your kit, a format such as "APS-C", or "36 x 24 mm, 6000 x 4000"'
    if near:
        hint = f'did you mean "{(named | formats)[near[0]]}"?'
    raise OutingError(f"{shown(text)} is no camera", hint=hint)
