"""Magnetic declination beside true north, with the model, its date and its error."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import cache, lru_cache
from math import hypot, nan
from typing import Any, Literal

from backbearing.base.numbers import num

MODEL = "WMM2025"
FIRST_YEAR, END_YEAR = 2025, 2030
BLACKOUT_NT, CAUTION_NT = 2000.0, 6000.0
"""Horizontal field under which a compass is useless, or poor: the blackout and caution zones of
[WMM2025]_, by the limits of the library pygeomag and, for the first, NOAA's WMM report of 2023."""


@dataclass(frozen=True)
class MagneticDeclination:
    """Angle from true to magnetic north at a place and date, or why it is not known.

    Attributes
    ----------
    known : bool
        False outside the model's years; the numbers are NaN then.
    declination_deg : float
        Degrees, east positive: true bearing = compass bearing + declination.
    error_deg : float
        One standard deviation of the model, ``sqrt(0.26^2 + (5417/H)^2)`` [WMM2025]_.
        Iron, tools and local rock come on top.
    horizontal_nt : float
        Horizontal field H, nanotesla.
    compass : "good", "poor", "useless" or "unknown"
        By the model's caution and blackout zones.
    model : str
        Name of the model.
    date : date
        For which it holds.
    sentence : str
        The same in words.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import magnetic_declination
    >>> found = magnetic_declination(lat=36.302, lon=-84.180, when=date(2027, 6, 6))
    >>> f"{151.8 - found.declination_deg:.1f} degrees by the compass for 151.8 true"
    '157.8 degrees by the compass for 151.8 true'
    """

    known: bool
    declination_deg: float
    error_deg: float
    horizontal_nt: float
    compass: Literal["good", "poor", "useless", "unknown"]
    model: str
    date: date
    sentence: str


def magnetic_declination(
    *, lat: float, lon: float, height_m: float = 0.0, when: date | datetime
) -> MagneticDeclination:
    """Declination by the World Magnetic Model [WMM2025]_, as pygeomag computes it.

    Never raises for a date: years outside 2025 to 2029 come back with ``known`` False.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import magnetic_declination
    >>> found = magnetic_declination(lat=36.302, lon=-84.180, when=date(2027, 6, 6))
    >>> f"{found.declination_deg:.1f} degrees, {found.compass}"
    '-6.0 degrees, good'
    >>> magnetic_declination(lat=36.302, lon=-84.180, when=date(2040, 1, 1)).known
    False
    """
    day = when.date() if isinstance(when, datetime) else when
    if not FIRST_YEAR <= day.year < END_YEAR:
        return MagneticDeclination(
            False,
            nan,
            nan,
            nan,
            "unknown",
            MODEL,
            day,
            f"Magnetic declination is not known for {day}: {MODEL} holds from {FIRST_YEAR} to the "
            f"end of {END_YEAR - 1}; use true bearings.",
        )
    return _describe(*_field(float(lat), float(lon), float(height_m), day), day)


@lru_cache(maxsize=64)
def _field(lat: float, lon: float, height_m: float, day: date) -> tuple[float, float]:
    """Declination, degrees, and the horizontal field, nanotesla."""
    field = _model().calculate(glat=lat, glon=lon, alt=height_m / 1000.0, time=decimal_year(day))
    return float(field.d), float(field.h)


def _describe(declination: float, horizontal: float, day: date) -> MagneticDeclination:
    error = declination_error_deg(horizontal)
    compass: Literal["good", "poor", "useless"] = "good"
    warning = ""
    if horizontal < BLACKOUT_NT:
        compass, warning = "useless", " A compass is useless here: the field points down."
    elif horizontal < CAUTION_NT:
        compass, warning = "poor", " A compass is poor here: the field points mostly down."
    side = "east" if declination >= 0 else "west"
    return MagneticDeclination(
        True,
        declination,
        error,
        horizontal,
        compass,
        MODEL,
        day,
        f"Magnetic north stands {num(abs(declination), 1)}° {side} of true north, "
        f"give or take {num(error, 1)}° ({MODEL}, {day}).{warning}",
    )


def declination_error_deg(horizontal_nt: float) -> float:
    """Standard deviation of the model's declination in a horizontal field H [WMM2025]_."""
    return min(hypot(0.26, 5417.0 / horizontal_nt), 180.0) if horizontal_nt > 0.0 else 180.0


def decimal_year(day: date) -> float:
    """A date as a year with its fraction."""
    start, end = date(day.year, 1, 1), date(day.year + 1, 1, 1)
    return day.year + (day - start).days / (end - start).days


@cache
def _model() -> Any:
    from pygeomag import GeoMag

    return GeoMag(coefficients_file="wmm/WMM_2025.COF")
