"""A stand, a lens's arc through the night, and what spoils a minute."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.compromise import Compromise
    from backbearing.plan.moved import Moved
    from backbearing.plan.optics import FocusFacts, LightFacts, ShutterFacts
    from backbearing.plan.placing import Placing
    from backbearing.plan.verdict import Verdict


Limit = Literal["twilight", "moon", "ridge", "horizon", "frame", "unknown ground", "no stand"]
"""What may spoil a minute; a minute without a limit is usable.

"horizon": the target is below the horizontal, whatever lower ground a hilltop looks down on."""


@dataclass(frozen=True, slots=True)
class Stand:
    """A place for the tripod, for one lens at one moment.

    Attributes
    ----------
    lens : Lens
        The lens it is for.
    time : datetime
        The moment, UTC.
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
    pitch_deg : float
        Altitude of the frame's centre; positive is up.
    share : float
        Fraction of the frame's height that the subject takes, as reached.
    share_width : float
        Fraction of the frame's width between the subject's outermost points.
    above_top_deg : float
        Target altitude less that of the subject's top.
    base_margin : float
        Fraction of the frame's height below the subject's base, as reached.
    target_azimuth_deg, target_altitude_deg : float
        Apparent direction of the target at the stand.
    target_x, target_y : float
        Where the target falls in the frame: fractions from the left and from the
        bottom edge; outside 0..1 is out of frame, NaN is behind the camera.
    in_frame : bool
        Whether the target lies inside the frame by the framing's edge margin, and where
        the framing asks it to be.
    skyline_deg : float
        Terrain skyline altitude at the target's azimuth; NaN where unknown.
    skyline_distance_m, skyline_lat, skyline_lon : float
        Where that skyline point stands.
    clearance_deg, clearance_sigma_deg : float
        Target altitude less skyline altitude, and one standard deviation of it.
    unknown_share : float
        Share of the ray towards the target that met unknown ground, 0..1.
    skyline_break_deg : float
        Altitude of the subject's top less that of the terrain behind it.
    play_m, play_minutes : float
        How far sideways, or how long, before the target leaves its place by the
        framing's asked angle.
    swing_m_per_minute : float
        How far sideways the stand moves in a minute; positive is to the left when
        facing the subject.
    bearing_magnetic_deg : float
        The same bearing from magnetic north; NaN outside the model's years.
    position_sigma_m : float
        One standard deviation of the position along and across, metres.
    verdict : str
        What the clearance is worth against its standard deviation: ``"clears"``,
        ``"too close to call"``, ``"hidden"`` or ``"unknown"``.
    canopy_clearance_deg : float
        The clearance if trees of the asked height stood on all ground beyond the asked
        clearing; NaN when no trees were asked for.
    cautions : tuple of str
        What the data can see that may hurt or spoil.
    """

    lens: Lens
    time: dt.datetime
    lat: float
    lon: float
    ground_m: float
    ground_source: str
    distance_m: float
    bearing_deg: float
    pitch_deg: float
    share: float
    base_margin: float
    target_azimuth_deg: float
    target_altitude_deg: float
    target_x: float
    target_y: float
    in_frame: bool
    skyline_deg: float
    skyline_distance_m: float
    skyline_lat: float
    skyline_lon: float
    clearance_deg: float
    clearance_sigma_deg: float
    unknown_share: float
    skyline_break_deg: float
    play_m: float
    play_minutes: float
    swing_m_per_minute: float
    bearing_magnetic_deg: float
    position_sigma_m: float
    verdict: Verdict = "unknown"
    canopy_clearance_deg: float = math.nan
    cautions: tuple[str, ...] = ()
    share_width: float = math.nan
    above_top_deg: float = math.nan


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
class LensPlan:
    """What one lens can do in the night.

    ``stand`` is None when there is no usable minute (or the asked minute has no
    stand); ``sentence`` always says in words what was found or why nothing was.
    ``usable`` are the stretches with no limit at all; ``framed`` those in which
    the frame holds both subject and target, ridge and darkness aside.
    ``asked_share`` is the share asked of this lens; ``core_width_frame_heights`` how
    wide ten degrees of sky about the target fall, in frame heights. ``shutter``, ``focus``
    and ``light`` are None without a stand; ``compromises`` say what to give up where the
    framing cannot be met. ``placing`` is how to find the stand on the ground, ``moved`` set
    when the minute gave way because its stand was barred.
    """

    lens: Lens
    stand: Stand | None
    arc: tuple[ArcPoint, ...]
    usable: tuple[Span, ...]
    framed: tuple[Span, ...]
    sentence: str
    trail_core_px: float
    trail_corner_px: float
    shutter_s: float
    infinity_blur_px: float
    hyperfocal_m: float
    asked_at: str | None = None
    asked_share: float = math.nan
    core_width_frame_heights: float = math.nan
    shutter: ShutterFacts | None = None
    focus: FocusFacts | None = None
    light: LightFacts | None = None
    compromises: tuple[Compromise, ...] = ()
    placing: Placing | None = None
    moved: Moved | None = None
