"""A season as it was settled: immutable, for the table, the calendar and the picture to read."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isfinite, nan
from typing import TYPE_CHECKING, ClassVar, Literal

from backbearing.base.cautions import CoverKnown
from backbearing.base.grouped import FieldOf
from backbearing.plan.cloud import CloudFigures

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.plan.crossing import Crossing
    from backbearing.plan.stand import Span
    from backbearing.sky.nights import NightEvents
    from backbearing.sky.outcomes import Outcome


@dataclass(frozen=True, slots=True)
class StretchPath:
    """The target through a stretch.

    Attributes
    ----------
    azimuth_start_deg, azimuth_end_deg, altitude_start_deg, altitude_end_deg : float
        At its ends, apparent.
    highest_deg : float
        Greatest altitude among samples of the stretch.
    clearance_deg : float
        Over the skyline at the middle.
    """

    azimuth_start_deg: float
    azimuth_end_deg: float
    altitude_start_deg: float
    altitude_end_deg: float
    highest_deg: float
    clearance_deg: float


@dataclass(frozen=True, slots=True)
class StretchBand:
    """The Milky Way's band in a stretch.

    Attributes
    ----------
    lean_start_deg, lean_middle_deg, lean_end_deg : float
        Angle of the Milky Way's plane from the vertical at the target, positive to the right;
        NaN for a body.
    share_up : float
        Share of the band within 30 degrees of galactic longitude 0 that stands above the
        skyline at the middle; NaN where the skyline is not known.
    """

    lean_start_deg: float
    lean_middle_deg: float
    lean_end_deg: float
    share_up: float


@dataclass(frozen=True, slots=True)
class StretchMoon:
    """The Moon in a stretch; at its middle where nothing else is said.

    Attributes
    ----------
    lit : float
        Lit fraction of its disc.
    adds_mag : float
        Most that it brightens the sky at the target in the stretch; 0 with the Moon down.
    separation_deg : float
        From it to the target.
    altitude_deg, turn_deg : float
        Its altitude, and its azimuth less that of the sight line.
    over_ridge_deg : float
        Its centre over the terrain skyline; NaN where that is unknown.
    light_from : str
        "back light from the left" and so on; "behind the ridge" where the land keeps it from
        the subject, "below the horizon" with the Moon down.
    ground_lux, face_lux : float
        Moonlight on level ground, and on a face turned towards the Moon; 0 with the Moon
        behind the ridge.
    welcome : bool
        It lights such a face more than starlight and hardly touches the target's sky.
    """

    lit: float
    adds_mag: float
    separation_deg: float
    altitude_deg: float
    turn_deg: float
    over_ridge_deg: float
    light_from: str
    ground_lux: float
    face_lux: float
    welcome: bool


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one night with the target clear of the skyline and the Sun deep enough.

    Attributes
    ----------
    start, end : datetime
        UTC.
    minutes : float
        Length.
    path : StretchPath
    band : StretchBand
    moon : StretchMoon
    glow_adds_mag : float
        Most that twilight brightens the sky at the target in the stretch.

    Notes
    -----
    What ``path``, ``band`` and ``moon`` hold can be read from the stretch itself, as
    ``stretch.highest_deg``, ``stretch.band_share_up`` or ``stretch.moon_lit``, and JSON shows
    it so.
    """

    start: dt.datetime
    end: dt.datetime
    minutes: float
    path: StretchPath
    azimuth_start_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    azimuth_end_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    altitude_start_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    altitude_end_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    highest_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    clearance_deg: ClassVar[FieldOf[float]] = FieldOf("path")
    band: StretchBand
    lean_start_deg: ClassVar[FieldOf[float]] = FieldOf("band")
    lean_middle_deg: ClassVar[FieldOf[float]] = FieldOf("band")
    lean_end_deg: ClassVar[FieldOf[float]] = FieldOf("band")
    band_share_up: ClassVar[FieldOf[float]] = FieldOf("band", "share_up")
    moon: StretchMoon
    moon_lit: ClassVar[FieldOf[float]] = FieldOf("moon", "lit")
    moon_adds_mag: ClassVar[FieldOf[float]] = FieldOf("moon", "adds_mag")
    moon_separation_deg: ClassVar[FieldOf[float]] = FieldOf("moon", "separation_deg")
    moon_altitude_deg: ClassVar[FieldOf[float]] = FieldOf("moon", "altitude_deg")
    moon_turn_deg: ClassVar[FieldOf[float]] = FieldOf("moon", "turn_deg")
    moon_over_ridge_deg: ClassVar[FieldOf[float]] = FieldOf("moon", "over_ridge_deg")
    moon_light_from: ClassVar[FieldOf[str]] = FieldOf("moon", "light_from")
    ground_lux: ClassVar[FieldOf[float]] = FieldOf("moon")
    face_lux: ClassVar[FieldOf[float]] = FieldOf("moon")
    moon_welcome: ClassVar[FieldOf[bool]] = FieldOf("moon", "welcome")
    glow_adds_mag: float


@dataclass(frozen=True, slots=True)
class NightSpans:
    """When what holds in a night, UTC.

    Attributes
    ----------
    sunless, dark, moon_up, clear : tuple of Span
        Sun below the horizon; Sun deep enough; Moon up; target clear of the skyline while the
        Sun is down.
    """

    sunless: tuple[Span, ...]
    dark: tuple[Span, ...]
    moon_up: tuple[Span, ...]
    clear: tuple[Span, ...]


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
    spans : NightSpans
        To draw; each can be read from the night itself, as ``night.sunless``.
    cloud : CloudFigures
        What the outing's forecast says of the middle of the longest window; nothing without one.
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
    spans: NightSpans
    cloud: CloudFigures = field(default=CloudFigures())
    cloud_site: ClassVar[FieldOf[float]] = FieldOf("cloud", "site")
    cloud_towards: ClassVar[FieldOf[float]] = FieldOf("cloud", "towards")
    cloud_words: ClassVar[FieldOf[str]] = FieldOf("cloud", "words")
    cloud_age_h: ClassVar[FieldOf[float]] = FieldOf("cloud", "age_h")
    sunless: ClassVar[FieldOf[tuple[Span, ...]]] = FieldOf("spans")
    dark: ClassVar[FieldOf[tuple[Span, ...]]] = FieldOf("spans")
    moon_up: ClassVar[FieldOf[tuple[Span, ...]]] = FieldOf("spans")
    clear: ClassVar[FieldOf[tuple[Span, ...]]] = FieldOf("spans")


@dataclass(frozen=True, slots=True)
class SeasonView:
    """Where a season is seen from.

    Attributes
    ----------
    seen_from : str
        Whose skyline it is: ``"the subject"`` or ``"the stand"``.
    lat, lon, height_m : float
    eye_height_m : float
        Over the ground.
    unknown_share : float
        Share of the ground around, out to the asked reach, that is unknown.
    cover_known : CoverKnown
        Whether its skyline knows trees and buildings.
    """

    seen_from: str
    lat: float
    lon: float
    height_m: float
    eye_height_m: float
    unknown_share: float
    cover_known: CoverKnown = CoverKnown.NONE


@dataclass(frozen=True, slots=True)
class SeasonLimits:
    """What counts as dark and clear, as asked."""

    sun_below_deg: float
    moon: str | float
    moon_adds_mag: float | None
    clear_by_deg: float


@dataclass(frozen=True, slots=True)
class FixedStand:
    """What a season holds of one fixed stand.

    Attributes
    ----------
    crossings : tuple of Crossing
        Empty without a stand, or when there are none: then ``note`` says why.
    note : str
    near : tuple of Span
        Stretches after sunset in which the target comes within the asked angle and turns back
        before it stands behind the subject. UTC.
    within_deg : float
        The asked angle.
    bearing_deg, distance_m : float
        From the stand to the subject; NaN without a stand.
    """

    within_deg: float
    bearing_deg: float = nan
    distance_m: float = nan
    crossings: tuple[Crossing, ...] = ()
    note: str = ""
    near: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Season:
    """A run of nights at one place: what `nights` shows and every writer of it reads.

    Attributes
    ----------
    name, subject_name : str
    subject_height_m : float
    view : SeasonView
    zone : str
        The zone to show; times are UTC.
    target_name : str
    limits : SeasonLimits
    nights : tuple of Night
    stand : FixedStand
    notes : tuple of str

    Notes
    -----
    What ``view``, ``limits`` and ``stand`` hold can be read from the season itself, as
    ``season.lat``, ``season.moon`` or ``season.crossings``, and JSON shows it so.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import load_outing, plan_season
    >>> outing = load_outing(sample / "outing.toml")
    >>> season = plan_season(outing, first_night=date(2027, 6, 18), nights=1)
    >>> season.nights[0].label, season.nights[0].why_not
    ('18–19 June 2027', 'The Moon is up all the dark time.')
    """

    name: str
    subject_name: str
    subject_height_m: float
    view: SeasonView
    seen_from: ClassVar[FieldOf[str]] = FieldOf("view")
    lat: ClassVar[FieldOf[float]] = FieldOf("view")
    lon: ClassVar[FieldOf[float]] = FieldOf("view")
    height_m: ClassVar[FieldOf[float]] = FieldOf("view")
    eye_height_m: ClassVar[FieldOf[float]] = FieldOf("view")
    zone: str
    target_name: str
    limits: SeasonLimits
    sun_below_deg: ClassVar[FieldOf[float]] = FieldOf("limits")
    moon: ClassVar[FieldOf[str | float]] = FieldOf("limits")
    moon_adds_mag: ClassVar[FieldOf[float | None]] = FieldOf("limits")
    clear_by_deg: ClassVar[FieldOf[float]] = FieldOf("limits")
    nights: tuple[Night, ...]
    stand: FixedStand
    crossings: ClassVar[FieldOf[tuple[Crossing, ...]]] = FieldOf("stand")
    crossings_note: ClassVar[FieldOf[str]] = FieldOf("stand", "note")
    near: ClassVar[FieldOf[tuple[Span, ...]]] = FieldOf("stand")
    within_deg: ClassVar[FieldOf[float]] = FieldOf("stand")
    bearing_deg: ClassVar[FieldOf[float]] = FieldOf("stand")
    distance_m: ClassVar[FieldOf[float]] = FieldOf("stand")
    unknown_share: ClassVar[FieldOf[float]] = FieldOf("view")
    cover_known: ClassVar[FieldOf[CoverKnown]] = FieldOf("view")
    notes: tuple[str, ...]

    @property
    def found(self) -> bool:
        """Whether any night has a window, or any crossing is unspoilt when a stand is given."""
        if isfinite(self.bearing_deg):
            return any(crossing.usable for crossing in self.crossings)
        return any(night.windows for night in self.nights)
