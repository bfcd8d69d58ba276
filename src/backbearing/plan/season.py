"""A season as it was settled: immutable, for the table, the calendar and the picture to read."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.plan.crossing import Crossing
    from backbearing.plan.stand import Span
    from backbearing.sky.nights import NightEvents
    from backbearing.sky.outcomes import Outcome


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one night with the target clear of the skyline and the Sun deep enough.

    Attributes
    ----------
    start, end : datetime
        UTC.
    minutes : float
        Length.
    azimuth_start_deg, azimuth_end_deg, altitude_start_deg, altitude_end_deg : float
        The target at its ends, apparent.
    highest_deg : float
        Greatest altitude of the target among samples of the stretch.
    clearance_deg : float
        Target over the skyline at the middle.
    lean_start_deg, lean_middle_deg, lean_end_deg : float
        Angle of the Milky Way's plane from the vertical at the target, positive to the right;
        NaN for a body.
    band_share_up : float
        Share of the band within 30 degrees of galactic longitude 0 that stands above the
        skyline at the middle; NaN where the skyline is not known.
    moon_lit : float
        Lit fraction of the Moon's disc at the middle.
    moon_adds_mag : float
        Most that the Moon brightens the sky at the target in the stretch; 0 with the Moon down.
    moon_separation_deg : float
        From the Moon to the target at the middle.
    moon_altitude_deg, moon_turn_deg : float
        The Moon at the middle: altitude, and azimuth less that of the sight line.
    moon_over_ridge_deg : float
        The Moon's centre over the terrain skyline at the middle; NaN where that is unknown.
    moon_light_from : str
        "back light from the left" and so on; "behind the ridge" where the land keeps it from
        the subject, "below the horizon" with the Moon down.
    ground_lux, face_lux : float
        Moonlight at the middle on level ground, and on a face turned towards the Moon; 0 with
        the Moon behind the ridge.
    moon_welcome : bool
        It lights such a face more than starlight and hardly touches the target's sky.
    glow_adds_mag : float
        Most that twilight brightens the sky at the target in the stretch.
    """

    start: dt.datetime
    end: dt.datetime
    minutes: float
    azimuth_start_deg: float
    azimuth_end_deg: float
    altitude_start_deg: float
    altitude_end_deg: float
    highest_deg: float
    clearance_deg: float
    lean_start_deg: float
    lean_middle_deg: float
    lean_end_deg: float
    band_share_up: float
    moon_lit: float
    moon_adds_mag: float
    moon_separation_deg: float
    moon_altitude_deg: float
    moon_turn_deg: float
    moon_over_ridge_deg: float
    moon_light_from: str
    ground_lux: float
    face_lux: float
    moon_welcome: bool
    glow_adds_mag: float


@dataclass(frozen=True, slots=True)
class Night:
    """One night of a season.

    Attributes
    ----------
    evening : date
        The first of its two dates; ``label`` names both.
    windows : tuple of Stretch
        Everything as asked.
    moonlit : tuple of Stretch
        Sun and target as asked, but more Moon than asked.
    outcome : str
        "window", or what took it (`backbearing.sky.window_reasons.Outcome`).
    why_not : str
        A sentence when there is no window.
    note : str
        What is uncertain.
    dark_minutes, clear_minutes, window_minutes : float
        Sun deep enough; that with the target clear; that with the Moon as asked.
    glow_least_mag : float
        Least that twilight brightens the sky at the target while it is clear of the skyline;
        NaN where it never is, or only with the Sun less than 4 degrees down.
    events : NightEvents
        Sun and Moon.
    sunless, dark, moon_up, clear : tuple of Span
        Sun below the horizon; Sun deep enough; Moon up; target clear of the skyline while the
        Sun is down. UTC.
    """

    evening: dt.date
    label: str
    windows: tuple[Stretch, ...]
    moonlit: tuple[Stretch, ...]
    outcome: Literal["window"] | Outcome
    why_not: str
    note: str
    dark_minutes: float
    clear_minutes: float
    window_minutes: float
    glow_least_mag: float
    events: NightEvents
    sunless: tuple[Span, ...]
    dark: tuple[Span, ...]
    moon_up: tuple[Span, ...]
    clear: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Season:
    """A run of nights at one place: what `nights` shows and every writer of it reads.

    ``crossings`` are there when a fixed stand was asked for, ``near`` the stretches after sunset
    in which the target comes within the asked angle and turns back before it stands behind the
    subject. ``seen_from`` says whose skyline it is. Times are UTC; ``zone`` is the zone to show.
    """

    name: str
    subject_name: str
    subject_height_m: float
    seen_from: str
    lat: float
    lon: float
    height_m: float
    eye_height_m: float
    zone: str
    target_name: str
    sun_below_deg: float
    moon: str | float
    moon_adds_mag: float | None
    clear_by_deg: float
    nights: tuple[Night, ...]
    crossings: tuple[Crossing, ...]
    crossings_note: str
    near: tuple[Span, ...]
    within_deg: float
    bearing_deg: float
    distance_m: float
    unknown_share: float
    notes: tuple[str, ...]

    @property
    def found(self) -> bool:
        """Whether any night has a window, or any crossing is unspoilt when a stand is given."""
        if isfinite(self.bearing_deg):
            return any(crossing.usable for crossing in self.crossings)
        return any(night.windows for night in self.nights)
