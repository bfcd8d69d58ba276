"""Places on the universal grids: UTM coordinates, and MGRS references [NGA2014a]_.

Both on WGS84. Eastings, northings and squares are metres.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from typing import Final

from backbearing.base.errors import PlaceError
from backbearing.base.limits import shown
from backbearing.base.numbers import num

UTM_EXAMPLE: Final = '"55J 633000 6512000"'
MGRS_EXAMPLE: Final = '"55J FG 33000 12000"'
COARSEST_SQUARE_M: Final = 100.0
"""The side of the largest square that still says where a subject stands."""

_BANDS: Final = "CDEFGHJKLMNPQRSTUVWX"
"""Bands of 8 degrees of latitude from 80 south on; the last has 12."""

_FALSE_NORTHING_M: Final = 10_000_000.0
_LEEWAY_DEG: Final = 1.0
"""Within a square of 100 km, which a band's edge may cut, either band's letter is in use."""

_METRES: Final = r"(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,12})(?:\.[0-9]{0,9})?"
_UTM: Final = re.compile(
    r"(?:utm\s*)?(?:zone\s*)?(?P<zone>[0-9]{1,2})\s*(?P<half>[a-z]|north|south)?\s*[,:]?\s+"
    rf"(?P<east>{_METRES})\s*(?:m\s*)?(?:e\b)?\s*[,;]?\s+(?P<north>{_METRES})\s*(?:m\s*)?n?",
    re.I,
)
_MGRS: Final = re.compile(
    r"(?:mgrs\s*:?\s*)?(?P<zone>[0-9]{1,2}\s*[c-hj-np-x]|[abyz])\s*(?P<square>[a-hj-np-z]{2})"
    r"\s*(?P<digits>[0-9]*)(?:\s+(?P<more>[0-9]+))?",
    re.I,
)


@dataclass(frozen=True, slots=True)
class GridPlace:
    """A place, degrees, the side of the square that it stands for, and what was assumed."""

    lat_deg: float
    lon_deg: float
    square_m: float = 1.0
    note: str = ""


def read_utm(text: str) -> GridPlace | None:
    """Read zone, band or hemisphere, easting and northing; None where text is no such thing.

    The letter behind the zone is a band of latitude, except that S may also mean south and N
    north. Both readings of S are tried; where both hold, neither is taken. Those of N never
    name two places.

    Raises
    ------
    PlaceError
        With what to write instead.
    """
    found = _UTM.fullmatch(text)
    if found is None:
        return None
    zone, half = int(found["zone"]), (found["half"] or "").upper()
    east, north = (float(found[key].replace(",", "")) for key in ("east", "north"))
    if not 1 <= zone <= 60:
        raise _refused(text, f"has zone {zone}", f"write one from 1 to 60, such as {UTM_EXAMPLE}")
    if not 100_000.0 <= east < 900_000.0 or not north <= _FALSE_NORTHING_M:
        hint = f"write metres east (100000 to 900000), then metres north, such as {UTM_EXAMPLE}"
        raise _refused(text, "has an easting or northing that no zone holds", hint)
    if not half:
        hint = f"write the band's letter behind the zone, such as {UTM_EXAMPLE}"
        raise _refused(text, "does not tell north from south of the equator", hint)
    if half in ("NORTH", "SOUTH"):
        return GridPlace(*_from_utm(zone, east, north, south=half == "SOUTH", text=text))
    if half == "S":
        return _read_s(zone, east, north, text)
    if half not in _BANDS:
        hint = f"write a letter from C to X, not I or O, such as {UTM_EXAMPLE}"
        raise _refused(text, f"has the letter {half}, which is no band of latitude", hint)
    lat, lon = _from_utm(zone, east, north, south=half < "N", text=text)
    if _in_band(lat, half):
        return GridPlace(lat, lon)
    if half == "N":
        return GridPlace(lat, lon, note="N behind the zone was read as north")
    if not _in_band(lat, half, _LEEWAY_DEG):
        low, high = _band_deg(half)
        raise _refused(
            text,
            f"has band {half}, from {num(low)} to {num(high)} degrees of latitude, and a northing "
            f"at {num(lat, 2)}",
            "put the letter or the northing right",
        )
    return GridPlace(lat, lon, note=f"its northing lies just outside band {half}")


def _read_s(zone: int, east: float, north: float, text: str) -> GridPlace:
    """Read S as the band from 32 to 40 north, or as south, whichever the northing allows."""
    lat, _ = _from_utm(zone, east, north, south=False, text=text)
    south_lat, south_lon = _from_utm(zone, east, north, south=True, text=text)
    if not _in_band(lat, "S", _LEEWAY_DEG):
        return GridPlace(south_lat, south_lon, note="S behind the zone was read as south")
    raise _refused(
        text,
        f"may be {num(lat, 2)} degrees north (S for the band) or {num(-south_lat, 2)} south (S "
        "for the hemisphere)",
        f"write north or south for the letter, such as "
        f'"{zone} north {num(east, 0)} {num(north, 0)}"',
    )


def read_mgrs(text: str) -> GridPlace | None:
    """Read an MGRS reference as the middle of its square; None where text is no such thing.

    All ten digits name a square of 1 m.

    Raises
    ------
    PlaceError
        For a square that does not exist, or one over 100 m wide.
    """
    found = _MGRS.fullmatch(text)
    if found is None:
        return None
    first, second = found["digits"], found["more"] or ""
    digits = f"{first}{second}"
    if len(digits) % 2 or len(digits) > 10 or (second and len(first) != len(second)):
        hint = f"write as many for the easting as for the northing, such as {MGRS_EXAMPLE}"
        raise _refused(text, f"has {len(digits)} digits", hint)
    square_m = 10.0 ** (5 - len(digits) // 2)
    if square_m > COARSEST_SQUARE_M:
        raise _refused(
            text,
            f"names a square {num(square_m / 1000.0)} km wide",
            f"write all ten digits, such as {MGRS_EXAMPLE}",
        )
    lat, lon = _from_mgrs(found["zone"], found["square"], digits, text)
    note = "" if square_m == 1.0 else f"the middle of a square {num(square_m)} m wide was taken"
    return GridPlace(lat, lon, square_m, note)


def _from_mgrs(zone: str, square: str, digits: str, text: str) -> tuple[float, float]:
    from mgrs import MGRS
    from mgrs.core import MGRSError

    half = len(digits) // 2
    # All ten digits leave it to no release of the library where in a square its answer lies.
    middle = f"{5 * 10 ** (4 - half):d}" if half < 5 else ""
    letters = "".join(f"{zone}{square}".split()).upper()
    exact = f"{letters}{digits[:half]}{middle}{digits[half:]}{middle}"
    try:
        # What it warns of, a square outside its band, is refused below.
        with warnings.catch_warnings(action="ignore", category=RuntimeWarning):
            lat, lon = MGRS().toLatLon(exact)
    except MGRSError as problem:
        hint = f"compare its letters with the map's, such as {MGRS_EXAMPLE}"
        raise _refused(text, "names no square of the grid", hint) from problem
    band = letters[-3]
    if band in _BANDS and not _in_band(lat, band, _LEEWAY_DEG):
        hint = f"compare its letters with the map's, such as {MGRS_EXAMPLE}"
        raise _refused(text, f"has letters that do not lie in band {band}", hint)
    return float(lat), float(lon)


def _from_utm(
    zone: int, east: float, north: float, *, south: bool, text: str
) -> tuple[float, float]:
    """Latitude and longitude, degrees, of metres in a zone."""
    from pyproj import Transformer

    code = (32700 if south else 32600) + zone
    to_degrees = Transformer.from_crs(code, 4326, always_xy=True)
    lon, lat = to_degrees.transform(east, north)
    if not (abs(lat) <= 84.5 and abs(lon) <= 180.0):
        hint = f"write metres east, then metres north, such as {UTM_EXAMPLE}"
        raise _refused(text, "lies beyond the zones, which end at 80 south and 84 north", hint)
    return float(lat), float(lon)


def _band_deg(letter: str) -> tuple[float, float]:
    low = -80.0 + 8.0 * _BANDS.index(letter)
    return low, low + (12.0 if letter == "X" else 8.0)


def _in_band(lat_deg: float, letter: str, leeway_deg: float = 0.0) -> bool:
    low, high = _band_deg(letter)
    return low - leeway_deg <= lat_deg <= high + leeway_deg


def _refused(text: str, what: str, hint: str) -> PlaceError:
    return PlaceError(f"{shown(text)} {what}", hint=hint, text=text[:200])
