"""Dark windows: Sun deep enough, Moon down or dim as asked, target above the skyline."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.base.intervals import pieces, stretches
from backbearing.sky import nights as night_facts
from backbearing.sky import refraction, zones
from backbearing.sky.directions import air_factor_at, direction, local_axes
from backbearing.sky.events import Toggles, toggles
from backbearing.sky.grids import EvenGrid, earth_fixed_at
from backbearing.sky.moonlight import moonlight_at
from backbearing.sky.targets import CORE, Target
from backbearing.sky.window_reasons import (
    PARTLY_UNKNOWN,
    Asked,
    State,
    highest_deg,
    outcome,
    reason,
)
from backbearing.sky.windows import DarkWindow, DarkWindows, Skyline

if TYPE_CHECKING:
    from datetime import date, tzinfo

    from numpy.typing import NDArray

    from backbearing.base.intervals import Pieces
    from backbearing.sky.events import When
    from backbearing.sky.nights import NightSpan
    from backbearing.sky.outcomes import Outcome

_SKYLINE_STEP_S = 60


@dataclass(frozen=True)
class Conditions:
    """When each condition of a search holds, and when the skyline is not known."""

    dark: Toggles
    moon: Toggles
    target: Toggles
    unknown: Toggles


def dark_windows(
    *,
    lat: float,
    lon: float,
    height_m: float = 0.0,
    first_night: date,
    nights: int = 1,
    tz: str | tzinfo | None = None,
    sun_below_deg: float = night_facts.DARK_BELOW_DEG,
    moon: Literal["down", "any"] | float = "down",
    target: Target = CORE,
    min_altitude_deg: float = 0.0,
    horizon: Skyline | None = None,
    moon_adds_mag: float | None = None,
) -> DarkWindows:
    """Find when it is dark and the target stands clear, night by night.

    Parameters
    ----------
    lat, lon : float
        WGS84 degrees.
    height_m : float
        Height of the camera, metres.
    first_night : date
        Evening of the first night.
    nights : int
        How many nights.
    tz : str, tzinfo or None
        Zone of the answer; the zone of the place when None.
    sun_below_deg : float
        The Sun's airless centre is below this: -18 astronomical, -12 nautical [USNO]_.
    moon : "down", "any" or float
        Upper limb below -34 arcminutes airless; ignored; or at most this lit fraction
        (0 to 1) while up.
    target : Target
        What must stand above the skyline.
    min_altitude_deg : float
        Margin of the target's apparent altitude over the skyline (over 0 without one).
    horizon : Skyline or None
        The terrain skyline; unknown parts (NaN) count as not clear.
    moon_adds_mag : float or None
        Accept the Moon also where it brightens the sky at the target by at most so many
        magnitudes a square arcsecond [KS1991]_.

    Returns
    -------
    DarkWindows
        A list, possibly of several windows a night, with ``.reasons`` for empty nights.
        Ends are good to 2 s for the Sun, 3 s for the Moon; with a skyline, gaps between
        teeth shorter than a minute may go unseen.

    Raises
    ------
    SkyError
        A date outside the ephemeris, no such place or zone, a Moon that is not one of the
        three.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import dark_windows
    >>> windows = dark_windows(lat=36.302, lon=-84.180, first_night=date(2027, 6, 5), nights=14)
    >>> f"{windows[0].start:%d %B %H:%M} to {windows[0].end:%H:%M %Z}"
    '05 June 22:39 to 04:30 EDT'
    >>> windows.reasons[date(2027, 6, 17)]
    'The Moon is up all the dark time.'
    """
    span = night_facts.span_of_nights(
        lat=lat, lon=lon, height_m=height_m, first_night=first_night, nights=nights, tz=tz
    )
    asked = Asked(span, target, sun_below_deg, moon, min_altitude_deg, horizon, moon_adds_mag)
    return windows_of(asked, conditions_of(asked))


class Searched(NamedTuple):
    """A search, and when each of its conditions holds."""

    asked: Asked
    found: Conditions

    def over_skyline(self, horizon: Skyline, min_altitude_deg: float) -> DarkWindows:
        """Windows with the target over a skyline instead, Sun and Moon as they were found."""
        asked = replace(self.asked, horizon=horizon, min_altitude_deg=min_altitude_deg)
        dark, moon = self.found.dark, self.found.moon
        over = _above_skyline(asked.span, dark, asked.target, min_altitude_deg, horizon)
        return windows_of(asked, Conditions(dark, moon, *over))


def conditions_of(asked: Asked, *, while_sun_below_deg: float | None = None) -> Conditions:
    """When each condition of a search holds.

    With a skyline the target is looked at only while the Sun's centre is below
    ``while_sun_below_deg`` (the asked depth when None): outside, ``target`` says nothing.
    """
    span = asked.span
    dark = _sun_below(span, asked.sun_below_deg)
    if asked.horizon is None:
        clear = _above_horizontal(span, asked.target, asked.min_altitude_deg)
        unknown = Toggles(np.array([], dtype="datetime64[us]"), False)
    else:
        seen = dark if while_sun_below_deg is None else _sun_below(span, while_sun_below_deg)
        clear, unknown = _above_skyline(
            span, seen, asked.target, asked.min_altitude_deg, asked.horizon
        )
    return Conditions(dark, _moon_condition(asked), clear, unknown)


def _sun_below(span: NightSpan, altitude_deg: float) -> Toggles:
    above = night_facts.sun_above(span, altitude_deg)
    return Toggles(above.utc, not above.holds_at_start)


def _moon_condition(asked: Asked) -> Toggles:
    """When the Moon does not disturb, as asked."""
    never = np.array([], dtype="datetime64[us]")
    span, moon, most_mag = asked.span, asked.moon, asked.moon_adds_mag
    if moon == "any" or (moon == "down" and asked.target.body_name == "moon"):
        # A Moon that is the target is up, and no spoiler of its own night.
        return Toggles(never, True)
    if most_mag is not None and not most_mag >= 0.0:
        raise SkyError(f"moon_adds_mag is {most_mag}", hint="write magnitudes, 0 or more")
    if moon == "down" and most_mag is None:
        up = night_facts.moon_above(span)
        return Toggles(up.utc, not up.holds_at_start)
    if isinstance(moon, str) and moon != "down":
        raise _no_such_moon(moon)
    if not isinstance(moon, str) and not 0.0 <= float(moon) <= 1.0:
        raise _no_such_moon(moon)

    def margin(when: When) -> NDArray[np.float64]:
        limb = night_facts.moon_limb_deg(span.site, when)
        best = night_facts.MOON_LIMB_ALTITUDE_DEG - limb
        if not isinstance(moon, str):
            best = np.maximum(best, 100.0 * (moon - night_facts.moon_lit_fraction(when)))
        if most_mag is not None:
            utc = when.utc if isinstance(when, EvenGrid) else when
            light = moonlight_at(
                asked.target,
                lat=span.lat,
                lon=span.lon,
                height_m=span.height_m,
                times=utc,
                low_skyline=True,
            )
            # On the Moon's disc no brightness is known: only a Moon that is down will do.
            best = np.fmax(best, most_mag - light.brightening_mag)
        return np.asarray(best)

    return toggles(margin, span.grid())


def _no_such_moon(moon: object) -> SkyError:
    return SkyError(
        f"moon {moon!r} is not understood",
        hint='write "down", "any" or a lit fraction from 0 to 1',
        moon=moon,
    )


def _above_horizontal(span: NightSpan, target: Target, min_altitude_deg: float) -> Toggles:
    """When the target stands above an apparent altitude, all the way round."""
    site = span.site
    air = air_factor_at(np.asarray(span.height_m))
    true = np.sin(np.radians(refraction.true_altitude_deg(min_altitude_deg, air)))

    def margin(when: When) -> NDArray[np.float64]:
        v = earth_fixed_at(target, when)
        return np.asarray(local_axes(v, site, fixed=target.is_fixed)[2] - true)

    return toggles(margin, span.grid())


def _above_skyline(
    span: NightSpan, dark: Toggles, target: Target, min_altitude_deg: float, horizon: Skyline
) -> tuple[Toggles, Toggles]:
    """When the target is known to stand clear in the dark, and when its skyline is unknown."""

    def margin(when: When) -> NDArray[np.float64]:
        utc = when.utc if isinstance(when, EvenGrid) else when
        azimuth, altitude = direction(
            target, lat=span.lat, lon=span.lon, height_m=span.height_m, times=utc
        )
        skyline = np.asarray(horizon.altitude_at(azimuth), dtype=np.float64)
        return np.asarray(altitude - skyline - min_altitude_deg)

    grid = EvenGrid.covering(span.noons[0], span.noons[-1], _SKYLINE_STEP_S).utc
    grid = grid[dark.holds(grid)]
    if grid.size == 0:
        nothing = Toggles(np.array([], dtype="datetime64[us]"), False)
        return nothing, nothing
    on_grid = margin(grid)

    def known_margin(when: When) -> NDArray[np.float64]:
        """Both questions begin with the same grid."""
        return on_grid if when is grid else margin(when)

    def unknown(when: When) -> NDArray[np.float64]:
        return np.where(np.isfinite(known_margin(when)), -1.0, 1.0)

    return toggles(known_margin, grid), toggles(unknown, grid)


def windows_of(asked: Asked, conditions: Conditions) -> DarkWindows:
    """Cut the span at every change and noon; keep the pieces where all conditions hold."""
    span = asked.span
    each_of = (conditions.dark, conditions.moon, conditions.target, conditions.unknown)
    piece = pieces(span.noons, *(toggles.utc for toggles in each_of))
    dark, moon, clear, unknown = (toggles.holds(piece.middle) for toggles in each_of)
    windows = _windows(span, piece, dark & moon & clear)
    nights = np.searchsorted(piece.start, span.noons[:-1])
    each = zip(
        *(
            np.logical_or.reduceat(flags, nights).tolist()
            for flags in (dark, dark & moon, dark & clear, dark & unknown)
        ),
        strict=True,
    )
    return _explain(asked, windows, [State(*flags) for flags in each])


def _explain(asked: Asked, windows: list[DarkWindow], states: list[State]) -> DarkWindows:
    """Add a sentence for every night without a window, and notes on the unknown."""
    have = {w.evening for w in windows}
    lowest = night_facts.lowest_sun_deg(asked.span)
    highest = float("nan") if all(s.dark_and_clear for s in states) else highest_deg(asked)
    reasons: dict[date, str] = {}
    notes: dict[date, str] = {}
    outcomes: dict[date, Outcome] = {}
    for evening, state, sun in zip(asked.span.evenings, states, lowest, strict=True):
        if evening not in have:
            outcomes[evening] = outcome(state, asked, highest)
            reasons[evening] = reason(outcomes[evening], asked, float(sun), highest)
        elif state.dark_and_unknown:
            notes[evening] = PARTLY_UNKNOWN
    return DarkWindows(windows, reasons, notes, outcomes)


def _windows(span: NightSpan, piece: Pieces, good: NDArray[np.bool_]) -> list[DarkWindow]:
    """Join neighbouring good pieces, but never across a noon."""
    starts, ends = stretches(good, ~np.isin(piece.start[1:], span.noons))
    night = np.searchsorted(span.noons, piece.start[starts], side="right") - 1
    begin = zones.locals_of(piece.start[starts], span.zone)
    end = zones.locals_of(piece.end[ends], span.zone)
    return [
        DarkWindow(span.evenings[n], a, b)
        for n, a, b in zip(night.tolist(), begin, end, strict=True)
    ]
