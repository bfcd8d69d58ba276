"""What a session is settled to: shots in order, walks, late stands, light; all immutable.

Times are timezone-aware UTC. ``left`` and ``back`` are as one stands at the planned stand
and faces the subject. Geometries are shapely, WGS84 longitude then latitude.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from shapely.geometry.base import BaseGeometry

    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.session_request import LensMinutes
    from backbearing.plan.lighting import Lighting
    from backbearing.plan.moved import Moved
    from backbearing.plan.optics import FocusFacts, LightFacts, ShutterFacts
    from backbearing.plan.placing import Placing
    from backbearing.plan.stand import Limit, Stand


@dataclass(frozen=True, slots=True)
class Walk:
    """A way on foot, there and back, by a published rule.

    Attributes
    ----------
    start, end : str
        Names: ``"Meadow gate lay-by"``, ``"20 mm stand"``.
    line : shapely LineString
        The way, as far as it is known.
    distance_m, climb_m, descent_m : float
        Level length, and metres up and down on the way there; NaN where ground is unknown.
    on_track_m : float
        How much of it follows tracks of the user's file.
    minutes, minutes_back : float
        By the rule, in daylight, there and back.
    night_minutes, night_minutes_back : float
        The same times the asked factor for the dark.
    rule : str
        Name and source of the rule.
    steepest_deg : float
        Steepest of the stretches between samples of the raster.
    longer_m : float
        How much longer it is than the way through closed land, water and hazards that it
        goes round; 0 where none is in the way, NaN where no way round was found.
    round_of : tuple of str
        What it goes round.
    closed : bool
        Whether it crosses land that the user's file marks closed.
    cautions : tuple of str
        Land, water, hazards, steep ground and drops on the way.
    """

    start: str
    end: str
    line: BaseGeometry
    distance_m: float
    climb_m: float
    descent_m: float
    on_track_m: float
    minutes: float
    minutes_back: float
    night_minutes: float
    night_minutes_back: float
    rule: str
    steepest_deg: float
    longer_m: float
    round_of: tuple[str, ...]
    closed: bool
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LateStand:
    """Where a shot's tripod goes when its frames begin so much later.

    ``left_m`` and ``back_m`` lead from the planned stand (negative: right, forward).
    ``limits`` are what spoils it then; the position is NaN where there is no stand.
    """

    late_minutes: float
    frames_start: dt.datetime
    lat: float
    lon: float
    distance_m: float
    bearing_deg: float
    pitch_deg: float
    left_m: float
    back_m: float
    limits: tuple[Limit | str, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class TurnFigures:
    """What a lens makes of its turn's own stand and minute: the fields of a ``LensPlan``.

    ``frames_that_fit`` is how many frames of that shutter, each with its pause, the turn's
    minutes hold; 0 without a shutter.
    """

    hyperfocal_m: float
    infinity_blur_px: float
    shutter_s: float
    trail_core_px: float
    trail_corner_px: float
    core_width_frame_heights: float
    shutter: ShutterFacts | None
    focus: FocusFacts | None
    light: LightFacts | None
    frames_that_fit: int


@dataclass(frozen=True, slots=True)
class Shot:
    """One lens's turn in the session.

    Attributes
    ----------
    number : int
        1 for the first.
    lens : Lens
    minutes : LensMinutes
        What it was given.
    walk_start, setup_start, focus_start, frames_start, frames_end : datetime
        Its turn; the tripod's place is that of the middle of the frames.
    wait_minutes : float
        Nothing to do before this turn's walk.
    stand : Stand
        Settled for the middle of the frames, cautions and all.
    drift_deg : float
        How far the target leaves its place while the frames run, at most; within the
        framing's play.
    spare_minutes : float
        How much later (or earlier) the frames could run from this same stand before the
        target leaves its place.
    room_minutes : float
        How much later the turn could begin, with its own stand for then, before something
        spoils it; up to the end of the night's starts.
    least_clearance_deg : float
        Least clearance from this stand while the frames run.
    start_x, start_y, end_x, end_y : float
        Where the target falls in the frame when the frames begin and end.
    left_m, back_m : float
        Step from the previous stand, facing the subject there (NaN for the first).
    walk : Walk or None
        From the previous stand; None for the first.
    placing : Placing
    figures : TurnFigures
        Shutter, trails, focus and light at this stand.
    late : tuple of LateStand
    moved : Moved or None
    """

    number: int
    lens: Lens
    minutes: LensMinutes
    walk_start: dt.datetime
    setup_start: dt.datetime
    focus_start: dt.datetime
    frames_start: dt.datetime
    frames_end: dt.datetime
    wait_minutes: float
    stand: Stand
    drift_deg: float
    spare_minutes: float
    room_minutes: float
    least_clearance_deg: float
    start_x: float
    start_y: float
    end_x: float
    end_y: float
    left_m: float
    back_m: float
    walk: Walk | None
    placing: Placing
    figures: TurnFigures
    late: tuple[LateStand, ...]
    moved: Moved | None = None


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A lens that found no turn, why, and what would save it.

    A remedy that names minutes, a clock time, a share or another lens was tried.
    """

    lens: Lens
    minutes: LensMinutes
    why: str
    remedies: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Pause:
    """A break as asked, UTC."""

    start: dt.datetime
    end: dt.datetime


@dataclass(frozen=True, slots=True)
class Session:
    """One night's work with several lenses from one subject.

    Attributes
    ----------
    shots : tuple of Shot
        In order of time; empty when no lens has a turn.
    left_out : tuple of LeftOut
    pauses : tuple of Pause
    start, end : datetime or None
        First walk between stands (set-up of the first), and the last frame.
    walked_m : float
        Level length of all ways between stands.
    waiting_minutes : float
        Waiting between turns, asked breaks included.
    step_minutes : float
        The grid of start times on which order and times are the best there are.
    wait_costs_m : float
        What a minute of waiting counts, metres of walking.
    approach : Walk or None
        From the parking to the first stand; home is from the last.
    home : Walk or None
    leave_by : datetime or None
        When to leave the parking so as to begin at ``start``, by the rule at night.
    lighting : Lighting or None
    sentence : str
    cautions : tuple of str
        Of the walks and of the session as a whole.
    notes : tuple of str
        What was assumed.
    """

    shots: tuple[Shot, ...]
    left_out: tuple[LeftOut, ...]
    pauses: tuple[Pause, ...]
    start: dt.datetime | None
    end: dt.datetime | None
    walked_m: float
    waiting_minutes: float
    step_minutes: float
    wait_costs_m: float
    approach: Walk | None
    home: Walk | None
    leave_by: dt.datetime | None
    lighting: Lighting | None
    sentence: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
