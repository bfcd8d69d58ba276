"""A stand, a lens's arc through the night, and what spoils a minute."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, ClassVar, Literal

from backbearing.base.grouped import FieldOf
from backbearing.plan.cloud import CloudFigures

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.compromise import Compromise
    from backbearing.plan.lamp import AirFacts
    from backbearing.plan.optics import FocusFacts, LensFigures, LightFacts, ShutterFacts
    from backbearing.plan.placing import Placing
    from backbearing.plan.tracker import TrackerFacts


Limit = Literal[
    "twilight", "moon", "ridge", "horizon", "frame", "subject", "unknown ground", "no stand"
]
"""What may spoil a minute; a minute without a limit is usable.

"horizon": the target is below the horizontal, whatever lower ground a hilltop looks down on.
"subject": it stands behind the subject itself, and the framing does not ask for that."""


Verdict = Literal["clears", "too close to call", "hidden", "unknown"]
"""What a clearance is worth against its doubt."""


@dataclass(frozen=True, slots=True)
class StandPosition:
    """Where a stand is, and how the subject lies from it.

    Attributes
    ----------
    lat, lon : float
        WGS84 degrees.
    ground_m : float
        Ground elevation at the stand, metres; NaN where unknown.
    ground_source : str
        Where that height comes from: ``"raster"``, ``"measured drop"`` or ``"flat"``.
    distance_m : float
        Geodesic distance to the subject, metres.
    bearing_deg : float
        True azimuth at the stand towards the subject.
    bearing_magnetic_deg : float
        The same bearing from magnetic north; NaN outside the model's years.
    """

    lat: float
    lon: float
    ground_m: float
    ground_source: str
    distance_m: float
    bearing_deg: float
    bearing_magnetic_deg: float


@dataclass(frozen=True, slots=True)
class StandFraming:
    """How the lens holds the subject from a stand, and whether the target with it.

    Attributes
    ----------
    pitch_deg : float
        Altitude of the frame's centre; positive is up.
    share : float
        Fraction of the frame's height that the subject takes, as reached.
    share_width : float
        Fraction of the frame's width between the subject's outermost points.
    base_margin : float
        Fraction of the frame's height below the subject's base, as reached.
    in_frame : bool
        Whether the target lies inside the frame by the framing's edge margin, and where
        the framing asks it to be.
    """

    pitch_deg: float
    share: float
    share_width: float
    base_margin: float
    in_frame: bool


@dataclass(frozen=True, slots=True)
class StandTarget:
    """The target from a stand: on the sky, in the frame and over the subject.

    Attributes
    ----------
    azimuth_deg, altitude_deg : float
        Apparent direction of the target at the stand.
    x, y : float
        Where the target falls in the frame: fractions from the left and from the
        bottom edge; outside 0..1 is out of frame, NaN is behind the camera.
    above_top_deg : float
        Target altitude less that of the subject's top.
    behind_subject : bool
        Whether the subject hides it: by its outline, or else its box.
    """

    azimuth_deg: float
    altitude_deg: float
    x: float
    y: float
    above_top_deg: float
    behind_subject: bool = False


@dataclass(frozen=True, slots=True)
class StandSkyline:
    """The terrain's skyline from a stand, and what stands clear of it.

    Attributes
    ----------
    altitude_deg : float
        Terrain skyline altitude at the target's azimuth; NaN where unknown.
    distance_m, lat, lon : float
        Where that skyline point stands.
    unknown_share : float
        Share of the ray towards the target that met unknown ground, 0..1.
    clearance_deg : float
        Target altitude less skyline altitude.
    canopy_clearance_deg : float
        The clearance if trees of the asked height stood on all ground beyond the asked
        clearing; NaN when no trees were asked for.
    break_deg : float
        Altitude of the subject's top less that of the terrain behind it.
    bare_deg : float
        Skyline of the ground without the trees and buildings that are known; NaN when none were
        asked for.
    cover : str
        What makes the skyline on that ground, in words; empty for bare ground, ``unknown`` where
        nothing is known of its cover.
    """

    altitude_deg: float
    distance_m: float
    lat: float
    lon: float
    unknown_share: float
    clearance_deg: float
    canopy_clearance_deg: float
    break_deg: float
    bare_deg: float = math.nan
    cover: str = ""


@dataclass(frozen=True, slots=True)
class StandPlay:
    """How far off a stand may be, and how it moves with the sky.

    Attributes
    ----------
    sideways_m, minutes : float
        How far sideways, or how long, before the target leaves its place by the
        framing's asked angle.
    swing_m_per_minute : float
        How far sideways the stand moves in a minute; positive is to the left when
        facing the subject.
    """

    sideways_m: float
    minutes: float
    swing_m_per_minute: float


@dataclass(frozen=True, slots=True)
class StandDoubt:
    """How well a stand is known.

    Attributes
    ----------
    position_sigma_m : float
        One standard deviation of the position along and across, metres.
    clearance_sigma_deg : float
        One standard deviation of the clearance.
    clearance_bias_deg : float
        How much higher than the raster's the true skyline stands on average, by the
        raster's errors: the clearance is so much less.
    verdict : str
        What the clearance less its bias is worth against its standard deviation:
        ``"clears"``, ``"too close to call"``, ``"hidden"`` or ``"unknown"``.
    """

    position_sigma_m: float
    clearance_sigma_deg: float
    clearance_bias_deg: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Stand:
    """A place for the tripod, for one lens at one moment.

    Attributes
    ----------
    lens : Lens
        The lens it is for.
    time : datetime
        The moment, UTC.
    position : StandPosition
    framing : StandFraming
    target : StandTarget
    skyline : StandSkyline
    play : StandPlay
    doubt : StandDoubt
    cautions : tuple of str
        What the data can see that may hurt or spoil.
    cloud : CloudFigures
        What the outing's forecast says of cloud then; nothing without one.

    Notes
    -----
    Every number of the parts can be read from the stand itself, as ``stand.lat``,
    ``stand.clearance_deg`` or ``stand.skyline_lat``, and JSON shows it under that name. To copy
    a stand with another such number use `backbearing.base.grouped.changed`.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> from backbearing import CORE, Camera, Framing, Lens, Subject, find_stands
    >>> chapel = Subject(lat=36.30250, lon=-84.18000, height_m=7.0)
    >>> when = datetime(2027, 5, 29, 4, 13, tzinfo=timezone.utc)
    >>> [stand] = find_stands(chapel, CORE, when, Camera(), [Lens(focal_length_mm=40.0)], Framing())
    >>> stand.in_frame, f"good for {stand.play_minutes:.1f} minutes or {stand.play_m:.2f} m"
    (True, 'good for 4.6 minutes or 0.51 m')
    """

    lens: Lens
    time: dt.datetime
    position: StandPosition
    framing: StandFraming
    target: StandTarget
    skyline: StandSkyline
    play: StandPlay
    doubt: StandDoubt
    lat: ClassVar[FieldOf[float]] = FieldOf("position")
    lon: ClassVar[FieldOf[float]] = FieldOf("position")
    ground_m: ClassVar[FieldOf[float]] = FieldOf("position")
    ground_source: ClassVar[FieldOf[str]] = FieldOf("position")
    distance_m: ClassVar[FieldOf[float]] = FieldOf("position")
    bearing_deg: ClassVar[FieldOf[float]] = FieldOf("position")
    pitch_deg: ClassVar[FieldOf[float]] = FieldOf("framing")
    share: ClassVar[FieldOf[float]] = FieldOf("framing")
    base_margin: ClassVar[FieldOf[float]] = FieldOf("framing")
    target_azimuth_deg: ClassVar[FieldOf[float]] = FieldOf("target", "azimuth_deg")
    target_altitude_deg: ClassVar[FieldOf[float]] = FieldOf("target", "altitude_deg")
    target_x: ClassVar[FieldOf[float]] = FieldOf("target", "x")
    target_y: ClassVar[FieldOf[float]] = FieldOf("target", "y")
    in_frame: ClassVar[FieldOf[bool]] = FieldOf("framing")
    skyline_deg: ClassVar[FieldOf[float]] = FieldOf("skyline", "altitude_deg")
    skyline_distance_m: ClassVar[FieldOf[float]] = FieldOf("skyline", "distance_m")
    skyline_lat: ClassVar[FieldOf[float]] = FieldOf("skyline", "lat")
    skyline_lon: ClassVar[FieldOf[float]] = FieldOf("skyline", "lon")
    clearance_deg: ClassVar[FieldOf[float]] = FieldOf("skyline")
    clearance_sigma_deg: ClassVar[FieldOf[float]] = FieldOf("doubt")
    clearance_bias_deg: ClassVar[FieldOf[float]] = FieldOf("doubt")
    unknown_share: ClassVar[FieldOf[float]] = FieldOf("skyline")
    skyline_break_deg: ClassVar[FieldOf[float]] = FieldOf("skyline", "break_deg")
    play_m: ClassVar[FieldOf[float]] = FieldOf("play", "sideways_m")
    play_minutes: ClassVar[FieldOf[float]] = FieldOf("play", "minutes")
    swing_m_per_minute: ClassVar[FieldOf[float]] = FieldOf("play")
    bearing_magnetic_deg: ClassVar[FieldOf[float]] = FieldOf("position")
    position_sigma_m: ClassVar[FieldOf[float]] = FieldOf("doubt")
    verdict: ClassVar[FieldOf[Verdict]] = FieldOf("doubt")
    canopy_clearance_deg: ClassVar[FieldOf[float]] = FieldOf("skyline")
    bare_skyline_deg: ClassVar[FieldOf[float]] = FieldOf("skyline", "bare_deg")
    skyline_cover: ClassVar[FieldOf[str]] = FieldOf("skyline", "cover")
    cautions: tuple[str, ...] = ()
    cloud: CloudFigures = field(default=CloudFigures())
    cloud_site: ClassVar[FieldOf[float]] = FieldOf("cloud", "site")
    cloud_towards: ClassVar[FieldOf[float]] = FieldOf("cloud", "towards")
    cloud_words: ClassVar[FieldOf[str]] = FieldOf("cloud", "words")
    cloud_age_h: ClassVar[FieldOf[float]] = FieldOf("cloud", "age_h")
    share_width: ClassVar[FieldOf[float]] = FieldOf("framing")
    above_top_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    behind_subject: ClassVar[FieldOf[bool]] = FieldOf("target")


@dataclass(frozen=True, slots=True)
class ArcPoint:
    """One clock time on a lens's arc: where the stand is then, and what spoils it."""

    time: dt.datetime
    lat: float
    lon: float
    distance_m: float
    bearing_deg: float
    pitch_deg: float
    target_altitude_deg: float
    skyline_deg: float
    clearance_deg: float
    target_x: float
    target_y: float
    limits: tuple[Limit, ...]

    @property
    def usable(self) -> bool:
        """Whether nothing spoils this minute."""
        return not self.limits


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time, UTC."""

    start: dt.datetime
    end: dt.datetime

    @property
    def minutes(self) -> float:
        """Length in minutes."""
        return (self.end.timestamp() - self.start.timestamp()) / 60.0


@dataclass(frozen=True, slots=True)
class LensArc:
    """What a night is for one lens: its stands by the clock, and the stretches that work.

    ``usable``, ``framed`` and ``hidden`` are those of :class:`LensPlan`.
    """

    lens: Lens
    arc: tuple[ArcPoint, ...]
    usable: tuple[Span, ...]
    framed: tuple[Span, ...]
    hidden: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Moved:
    """A stand that was moved along its arc because its best place is on closed ground.

    ``by`` names the place; ``minutes`` is how much later (negative: earlier) the lens now
    has its middle minute, ``clearance_change_deg`` what that does to its clearance.
    """

    by: str
    best_time: dt.datetime
    best_lat: float
    best_lon: float
    minutes: float
    metres: float
    clearance_change_deg: float
    sentence: str


@dataclass(frozen=True, slots=True)
class LensPlan:
    """What one lens can do in the night.

    ``stand`` is None when there is no usable minute (or the asked minute has no
    stand); ``sentence`` always says in words what was found or why nothing was.
    ``usable`` are the stretches with no limit at all; ``framed`` those in which
    the frame holds both subject and target, ridge and darkness aside; ``hidden`` those that
    only the subject itself spoils, for the target is behind it.
    ``asked_share`` is the share asked of this lens. ``figures`` are what the lens makes of the
    stand, each readable from the plan of the lens itself, as ``lens_plan.shutter_s``.
    ``compromises`` say what to give up where the framing cannot be met. ``placing`` is how to
    find the stand on the ground, ``moved`` set when the minute gave way because its stand was
    on closed ground.
    """

    lens: Lens
    stand: Stand | None
    arc: tuple[ArcPoint, ...]
    usable: tuple[Span, ...]
    framed: tuple[Span, ...]
    sentence: str
    figures: LensFigures
    trail_core_px: ClassVar[FieldOf[float]] = FieldOf("figures")
    trail_corner_px: ClassVar[FieldOf[float]] = FieldOf("figures")
    shutter_s: ClassVar[FieldOf[float]] = FieldOf("figures")
    infinity_blur_px: ClassVar[FieldOf[float]] = FieldOf("figures")
    hyperfocal_m: ClassVar[FieldOf[float]] = FieldOf("figures")
    asked_at: str | None = None
    asked_share: float = math.nan
    core_width_frame_heights: ClassVar[FieldOf[float]] = FieldOf("figures")
    shutter: ClassVar[FieldOf[ShutterFacts | None]] = FieldOf("figures")
    focus: ClassVar[FieldOf[FocusFacts | None]] = FieldOf("figures")
    light: ClassVar[FieldOf[LightFacts | None]] = FieldOf("figures")
    air: ClassVar[FieldOf[AirFacts | None]] = FieldOf("figures")
    behind: ClassVar[FieldOf[BehindFacts | None]] = FieldOf("figures")
    tracker: ClassVar[FieldOf[TrackerFacts | None]] = FieldOf("figures")
    compromises: tuple[Compromise, ...] = ()
    placing: Placing | None = None
    moved: Moved | None = None
    hidden: tuple[Span, ...] = ()
