"""A place in any common notation: degrees, UTM, MGRS, or a ``geo:`` address.

Everything is taken to be on WGS84. What the notations are, and what is refused because it could
mean two places, stands in docs/places.md.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final, NamedTuple
from urllib.parse import unquote

from backbearing.base.errors import PlaceError
from backbearing.base.grid_references import read_mgrs, read_utm
from backbearing.base.limits import shown
from backbearing.base.numbers import num
from backbearing.base.place_degrees import EXAMPLE, read_degrees

LONGEST_PLACE: Final = 200
"""Letters; the longest sensible notation takes a third of that."""

_PLAIN: Final = str.maketrans(
    {
        **dict.fromkeys("º˚∘⁰", "°"),
        **dict.fromkeys("′’‘ʹʼ´`‵＇", "'"),
        **dict.fromkeys("″”“„ʺ‶＂", '"'),
        **dict.fromkeys("−–—‐‑‒﹣－", "-"),
        "\u060c": ",",
    }
)
_GEO: Final = re.compile(r"geo:(?P<numbers>[^;?]*)(?P<parameters>[^?]*)(?P<query>\?.*)?", re.I)
_COORDINATE: Final = re.compile(r"-?[0-9]+(?:\.[0-9]+)?")


class Place(NamedTuple):
    """A point on WGS84, degrees, north and east positive."""

    lat_deg: float
    lon_deg: float


class PlaceRead(NamedTuple):
    """A place as it was read.

    Parameters
    ----------
    place : Place
    sigma_m : float
        How well it is known by its own notation, one standard deviation in metres: u of a
        ``geo:`` address (the standard names no confidence), or the side of an MGRS square over a
        metre wide by the square root of 12; NaN where it says nothing.
    notes : tuple of str
        What was assumed or left aside.
    """

    place: Place
    sigma_m: float = math.nan
    notes: tuple[str, ...] = ()


def read_place(text: str) -> Place:
    """Read a place that is written in any common notation.

    Parameters
    ----------
    text : str
        Decimal degrees, latitude first; degrees, minutes and seconds with a letter for the
        hemisphere; UTM with zone and band; MGRS with six digits or more; or a ``geo:`` address
        [RFC5870]_.

    Raises
    ------
    PlaceError
        With what is wrong and what to write instead.

    Examples
    --------
    >>> read_place("31 30 00 S 148 12 00 E")
    Place(lat_deg=-31.5, lon_deg=148.2)
    >>> read_place("geo:-31.5,148.2;u=20")
    Place(lat_deg=-31.5, lon_deg=148.2)
    """
    return read_place_fully(text).place


def read_place_fully(text: str) -> PlaceRead:
    """Read a place as `read_place` does, with how well it is known and what was left aside.

    Raises
    ------
    PlaceError
        With what is wrong and what to write instead.
    """
    plain = _plain(text)
    if plain[:4].lower() == "geo:":
        return _read_geo(plain)
    for read in (read_utm, read_mgrs):
        found = read(plain)
        if found is not None:
            wide = found.square_m > 1.0
            sigma_m = found.square_m / math.sqrt(12.0) if wide else math.nan
            notes = (found.note,) if found.note else ()
            return PlaceRead(Place(found.lat_deg, found.lon_deg), sigma_m, notes)
    return PlaceRead(Place(*read_degrees(plain)))


def spell_place(place: Place, places: int = 5) -> str:
    """Write a place in degrees with letters; five decimals are a metre. `read_place` takes it.

    Examples
    --------
    >>> spell_place(Place(-31.5, 148.2))
    '31.50000 S 148.20000 E'
    """
    lat = f"{num(abs(place.lat_deg), places)} {'S' if place.lat_deg < 0 else 'N'}"
    return f"{lat} {num(abs(place.lon_deg), places)} {'W' if place.lon_deg < 0 else 'E'}"


def _plain(text: str) -> str:
    """Give text with one sign for each of those that keyboards and web pages have for it.

    Raises
    ------
    PlaceError
        For what is no text, empty or endless.
    """
    if not isinstance(text, str) or not text.strip():
        raise PlaceError("No place is written", hint=f"write it such as {EXAMPLE}")
    if len(text) > LONGEST_PLACE:
        raise PlaceError(
            f"The place has {len(text)} letters",
            hint=f"write at most {LONGEST_PLACE}, such as {EXAMPLE}",
        )
    signs = unicodedata.normalize("NFKC", text.translate(_PLAIN)).translate(_PLAIN)
    shown_only = "".join(sign for sign in signs if unicodedata.category(sign) != "Cf")
    line = " ".join(shown_only.replace("''", '"').split())
    for opening, closing in ("()", "[]"):
        if line.startswith(opening) and line.endswith(closing):
            line = line[1:-1].strip()
    return line


def _read_geo(text: str) -> PlaceRead:
    """Read a ``geo:`` address: two or three numbers, then crs, u and others [RFC5870]_."""
    found = _GEO.fullmatch(text)
    wrong = 'write it such as "geo:-31.5,148.2" or "geo:-31.5,148.2;u=20"'
    if found is None:
        raise PlaceError(f"{shown(text)} is no geo: address", hint=wrong)
    if found["query"] and "q=" in found["query"].lower():
        raise PlaceError(f"{shown(text)} holds a search, which names no place", hint=wrong)
    numbers = [one.strip() for one in unquote(found["numbers"]).split(",")]
    if len(numbers) not in (2, 3) or not all(_COORDINATE.fullmatch(one) for one in numbers):
        raise PlaceError(f"{shown(text)} does not hold two or three numbers", hint=wrong)
    lat, lon, *height = map(float, numbers)
    if abs(lat) > 90.0 or abs(lon) > 180.0:
        hint = f"latitude comes first, up to 90, then longitude, up to 180; {wrong}"
        raise PlaceError(f"{shown(text)} lies beyond the Earth", hint=hint)
    off_m = _geo_uncertainty_m(text, found["parameters"], wrong)
    notes = []
    if height:
        notes.append(f"its altitude of {num(height[0])} m is not used")
    if found["query"]:
        notes.append("what stands behind the question mark is not used")
    return PlaceRead(Place(lat, lon), off_m, tuple(notes))


def _geo_uncertainty_m(text: str, parameters: str, wrong: str) -> float:
    """Metres of u, or NaN; another datum than WGS84 is refused, other parameters mean nothing."""
    off_m, seen = math.nan, set[str]()
    for parameter in parameters.split(";")[1:]:
        name, _, value = parameter.partition("=")
        key, said = name.strip().lower(), unquote(value).strip()
        if not key or key in seen:
            raise PlaceError(f"{shown(text)} has an empty or doubled parameter", hint=wrong)
        seen.add(key)
        if key == "crs" and said.lower() != "wgs84":
            raise PlaceError(
                f"{shown(text)} is on the datum {shown(said, 30)}", hint="write it on wgs84"
            )
        if key == "u":
            if not re.fullmatch(r"[0-9]+(?:\.[0-9]+)?", said):
                raise PlaceError(f"{shown(text)} has no number of metres behind u=", hint=wrong)
            off_m = float(said)
    return off_m
