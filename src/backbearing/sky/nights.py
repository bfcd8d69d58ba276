"""One night's facts: when the Sun and Moon rise, set and pass the depths of twilight.

A night runs from local noon to the next. The Sun's events use its geometric, airless
centre as seen from the place: -50 arcminutes for sunset and sunrise [USNO]_, the asked
depth for dusk and dawn. The Moon is up when its upper limb, airless, stands above
-34 arcminutes. High latitudes answer with typed outcomes, not with errors.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from functools import lru_cache
from math import isfinite
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from backbearing.base import asked
from backbearing.base.constants import MOON_RADIUS_M
from backbearing.base.errors import SkyError
from backbearing.base.text import night_label
from backbearing.sky import earth, zones
from backbearing.sky.directions import checked_place, local_axes
from backbearing.sky.events import Toggles, toggles
from backbearing.sky.grids import EvenGrid, earth_fixed_at
from backbearing.sky.instants import utc_array
from backbearing.sky.targets import MOON, SUN

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.sky.events import When

DARK_BELOW_DEG = -18.0
"""The night is dark with the Sun's centre below this: end of astronomical twilight [USNO]_."""

SUNRISE_ALTITUDE_DEG = -50.0 / 60.0
MOON_LIMB_ALTITUDE_DEG = -34.0 / 60.0

_STEP_S = 900

EventKind = Literal["time", "always above", "always below", "none"]


@dataclass(frozen=True)
class NightEvent:
    """A rising or setting that happens, or the reason why it does not.

    Attributes
    ----------
    kind : str
        "time"; "always above" or "always below" all night; "none" when the body does
        cross the altitude that night, but not in this sense.
    at : datetime or None
        Aware local time when ``kind`` is "time".

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import night_events
    >>> night = night_events(lat=55.0, lon=-4.0, evening=date(2027, 6, 21))
    >>> sunset, dusk = night.sunset, night.dusk
    >>> f"{sunset.at:%H:%M %Z}", dusk.kind
    ('21:59 BST', 'always above')
    """

    kind: EventKind
    at: datetime | None = None

    def __str__(self) -> str:
        if self.at is not None:
            return f"{self.at:%H:%M %Z}"
        return {
            "always above": "above all night",
            "always below": "below all night",
            "none": "not this night",
        }[self.kind]


@dataclass(frozen=True)
class NightEvents:
    """Sun and Moon over one night at one place, local noon to local noon.

    Attributes
    ----------
    evening : date
        The first of the night's two dates.
    label : str
        Both dates: "12–13 June 2027".
    sunset, dusk, dawn, sunrise, moonrise, moonset : NightEvent
        Dusk and dawn are the Sun's centre passing ``sun_below_deg``.
    sun_lowest_deg : float
        Lowest altitude of the Sun's centre that night.
    moon_lit : float
        Lit fraction of the Moon's disc in the middle of the night, 0 to 1.
    sun_below_deg : float
        Depth of the Sun that counts as dark.
    zone : str
        Time zone of the datetimes.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import night_events
    >>> night = night_events(lat=36.302, lon=-84.180, evening=date(2027, 5, 28))
    >>> f"{night.label}: dark from {night.dusk.at:%H:%M} to {night.dawn.at:%H:%M}"
    '28–29 May 2027: dark from 22:32 to 04:35'
    """

    evening: date
    label: str
    sunset: NightEvent
    dusk: NightEvent
    dawn: NightEvent
    sunrise: NightEvent
    moonrise: NightEvent
    moonset: NightEvent
    sun_lowest_deg: float
    moon_lit: float
    sun_below_deg: float
    zone: str


@dataclass(frozen=True)
class NightSpan:
    """Consecutive nights at one place: the noons between them and a grid of samples."""

    lat: float
    lon: float
    height_m: float
    zone: tzinfo
    evenings: tuple[date, ...]
    noons: NDArray[np.datetime64]

    @property
    def site(self) -> earth.Sites:
        """The place, ready for rotation."""
        return earth.sites(lat=self.lat, lon=self.lon, height_m=self.height_m)

    def grid(self) -> EvenGrid:
        """Samples that cover the nights, shared by every place of the same days."""
        return EvenGrid.covering(self.noons[0], self.noons[-1], _STEP_S)


MOST_NIGHTS: Final = 100_000
"""More nights than any ephemeris here spans."""


def span_of_nights(
    *,
    lat: float,
    lon: float,
    height_m: float,
    first_night: date,
    nights: int,
    tz: str | tzinfo | None,
) -> NightSpan:
    """Lay out nights by local noons, which daylight saving may move.

    Raises
    ------
    SkyError
        Fewer than one night, no such place, no such zone.
    """
    nights = asked.count(nights, "nights", SkyError, low=1, high=MOST_NIGHTS)
    checked_place(lat=lat, lon=lon, height_m=height_m)
    if not (isfinite(lat) and isfinite(lon) and isfinite(height_m)):
        raise SkyError(
            f"lat {lat}, lon {lon}, height {height_m} m is not a place", hint="give numbers"
        )
    zone = zones.resolve_zone(tz, lat=lat, lon=lon)
    if isinstance(first_night, datetime):
        first_night = first_night.date()
    first_night = asked.day(first_night, "first_night", SkyError)
    evenings, noons = _noons(first_night, nights, zone)
    return NightSpan(float(lat), float(lon), float(height_m), zone, evenings, noons)


@lru_cache(maxsize=32)
def _noons(
    first_night: date, nights: int, zone: tzinfo
) -> tuple[tuple[date, ...], NDArray[np.datetime64]]:
    """Evenings and the noons about them, remembered: many places share a zone and span."""
    try:
        days = [first_night + timedelta(days=i) for i in range(nights + 1)]
        noons = utc_array([zones.local_noon(day, zone) for day in days])
    except OverflowError as cause:
        raise SkyError(f"{nights} nights from {first_night} leave the calendar") from cause
    noons.setflags(write=False)
    return tuple(days[:-1]), noons


def sun_altitude_deg(site: earth.Sites, when: When) -> NDArray[np.float64]:
    """Airless altitude of the Sun's centre over one place, degrees (n,)."""
    _, _, up = local_axes(earth_fixed_at(SUN, when), site, fixed=False)
    return np.asarray(np.degrees(np.arcsin(np.clip(up, -1.0, 1.0))))


def moon_limb_deg(site: earth.Sites, when: When) -> NDArray[np.float64]:
    """Airless altitude of the Moon's upper limb over one place, degrees (n,)."""
    v = earth_fixed_at(MOON, when)
    _, _, up = local_axes(v, site, fixed=False)
    toward = site.cos_lon * v[0] + site.sin_lon * v[1] - site.equator_m
    east = site.cos_lon * v[1] - site.sin_lon * v[0]
    distance = np.sqrt(toward**2 + east**2 + (v[2] - site.axis_m) ** 2)
    radius = np.arcsin(MOON_RADIUS_M / distance)
    return np.asarray(np.degrees(np.arcsin(np.clip(up, -1.0, 1.0)) + radius))


def moon_lit_fraction(when: When) -> NDArray[np.float64]:
    """Lit fraction of the Moon's disc seen from the Earth's centre ([Meeus1998]_ eq. 48.1)."""
    moon, sun = earth_fixed_at(MOON, when), earth_fixed_at(SUN, when)
    back, onward = -moon, sun - moon
    cosine = np.sum(back * onward, axis=0) / (
        np.linalg.norm(back, axis=0) * np.linalg.norm(onward, axis=0)
    )
    return np.asarray(0.5 * (1.0 + cosine))


def sun_above(span: NightSpan, altitude_deg: float) -> Toggles:
    """When the Sun's centre stands at or above an airless altitude."""
    site, level = span.site, float(np.sin(np.radians(altitude_deg)))

    def margin(when: When) -> NDArray[np.float64]:
        # Sines are smooth through the nadir, where altitudes bend sharply.
        _, _, up = local_axes(earth_fixed_at(SUN, when), site, fixed=False)
        return np.asarray(up - level)

    return toggles(margin, span.grid())


def moon_above(span: NightSpan) -> Toggles:
    """When the Moon's upper limb stands above the horizon of the convention."""
    site = span.site

    def margin(when: When) -> NDArray[np.float64]:
        over = moon_limb_deg(site, when) - MOON_LIMB_ALTITUDE_DEG
        return np.asarray(np.sin(np.radians(over)))

    return toggles(margin, span.grid())


def night_events(
    *,
    lat: float,
    lon: float,
    height_m: float = 0.0,
    evening: date,
    tz: str | tzinfo | None = None,
    sun_below_deg: float = DARK_BELOW_DEG,
) -> NightEvents:
    """Sun and Moon over the night that begins on ``evening``; see `NightEvents`.

    Raises
    ------
    SkyError
        A date outside the ephemeris, no such place or zone.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import night_events
    >>> night = night_events(lat=69.65, lon=18.96, evening=date(2027, 6, 21))
    >>> night.sunset.kind, f"the Sun's lowest is {night.sun_lowest_deg:.1f} degrees"
    ('always above', "the Sun's lowest is 3.1 degrees")
    """
    span = span_of_nights(lat=lat, lon=lon, height_m=height_m, first_night=evening, nights=1, tz=tz)
    return events_of_nights(span, sun_below_deg=sun_below_deg)[0]


def events_of_nights(
    span: NightSpan, *, sun_below_deg: float = DARK_BELOW_DEG
) -> list[NightEvents]:
    """`NightEvents` of every night of a span."""
    horizon, depth = sun_above(span, SUNRISE_ALTITUDE_DEG), sun_above(span, sun_below_deg)
    moon = moon_above(span)
    middle = span.noons[:-1] + np.diff(span.noons) // 2
    lit, lowest = moon_lit_fraction(middle), lowest_sun_deg(span)
    found = []
    for i, evening in enumerate(span.evenings):
        ends = (span.noons[i], span.noons[i + 1])
        sunset, sunrise = _fall_and_rise(horizon, *ends, span.zone)
        dusk, dawn = _fall_and_rise(depth, *ends, span.zone)
        found.append(
            NightEvents(
                evening,
                night_label(evening),
                sunset,
                dusk,
                dawn,
                sunrise,
                _first(moon, *ends, span.zone, begins=True),
                _first(moon, *ends, span.zone, begins=False),
                float(lowest[i]),
                float(lit[i]),
                sun_below_deg,
                str(span.zone),
            )
        )
    return found


def lowest_sun_deg(span: NightSpan) -> NDArray[np.float64]:
    """Lowest altitude of the Sun's centre in each night (n,), to 0.05 degree."""
    grid = span.grid()
    altitude = sun_altitude_deg(span.site, grid)
    noons = np.searchsorted(grid.utc, span.noons)
    return np.asarray(np.minimum.reduceat(altitude[: noons[-1]], noons[:-1]))


def _fall_and_rise(
    above: Toggles, start: np.datetime64, end: np.datetime64, zone: tzinfo
) -> tuple[NightEvent, NightEvent]:
    state, when, begins = above.between(start, end)
    if when.size == 0:
        same = NightEvent("always above" if state else "always below")
        return same, same
    falls = when[~begins]
    rises = when[begins & (when > falls[0])] if falls.size else when[begins]
    return _event(falls[:1], zone), _event(rises[-1:], zone)


def _first(
    above: Toggles, start: np.datetime64, end: np.datetime64, zone: tzinfo, *, begins: bool
) -> NightEvent:
    state, when, rising = above.between(start, end)
    if when.size == 0:
        return NightEvent("always above" if state else "always below")
    return _event(when[rising == begins][:1], zone)


def _event(when: NDArray[np.datetime64], zone: tzinfo) -> NightEvent:
    return NightEvent("time", zones.local(when[0], zone)) if when.size else NightEvent("none")
