"""What a session is settled to: shots in order, walks, late stands, light; all immutable.

Times are timezone-aware UTC. ``left`` and ``back`` are as one stands at the planned stand
and faces the subject. Geometries are shapely, WGS84 longitude then latitude.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

from backbearing.base.grouped import FieldOf

if TYPE_CHECKING:
    import datetime as dt

    from shapely.geometry.base import BaseGeometry

    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.outing.session_request import LensMinutes
    from backbearing.plan.lighting import Lighting
    from backbearing.plan.one_line import OneLine
    from backbearing.plan.optics import TurnFigures
    from backbearing.plan.placing import Placing
    from backbearing.plan.stand import Limit, Moved, Stand
    from backbearing.plan.turn_picture import OtherStart, SessionPrice, TurnPicture, TurnSky


@dataclass(frozen=True, slots=True)
class WalkLie:
    """How a way lies on the ground.

    Attributes
    ----------
    distance_m, climb_m, descent_m : float
        Level length, and metres up and down on the way there; NaN where ground is unknown.
    on_track_m : float
        How much of it follows tracks of the user's file.
    steepest_deg : float
        Steepest of the stretches between samples of the raster.
    """

    distance_m: float
    climb_m: float
    descent_m: float
    on_track_m: float
    steepest_deg: float


@dataclass(frozen=True, slots=True)
class WalkTimes:
    """How long a way takes, by a published rule.

    Attributes
    ----------
    minutes, minutes_back : float
        By the rule, in daylight, there and back.
    night_minutes, night_minutes_back : float
        The same times the asked factor for the dark.
    rule : str
        Name and source of the rule.
    """

    minutes: float
    minutes_back: float
    night_minutes: float
    night_minutes_back: float
    rule: str


@dataclass(frozen=True, slots=True)
class Detour:
    """What a way goes round.

    Attributes
    ----------
    longer_m : float
        How much longer it is than the way through closed land, water and hazards that it
        goes round; 0 where none is in the way, NaN where no way round was found.
    round_of : tuple of str
        What it goes round.
    """

    longer_m: float = 0.0
    round_of: tuple[str, ...] = ()


STRAIGHT: Final = Detour()
"""Of a way that goes round nothing."""


@dataclass(frozen=True, slots=True)
class Walk:
    """A way on foot, there and back, by a published rule.

    Attributes
    ----------
    start, end : str
        Names: ``"Lych pull-in"``, ``"24 mm stand"``.
    line : shapely LineString
        The way, as far as it is known.
    lie : WalkLie
    times : WalkTimes
    detour : Detour
    closed : bool
        Whether it crosses land that the user's file marks closed.
    cautions : tuple of str
        Land, water, hazards, steep ground and drops on the way.

    Notes
    -----
    What ``lie``, ``times`` and ``detour`` hold can be read from the walk itself, as
    ``walk.distance_m``, ``walk.minutes`` or ``walk.longer_m``, and JSON shows it so.
    """

    start: str
    end: str
    line: BaseGeometry
    lie: WalkLie
    distance_m: ClassVar[FieldOf[float]] = FieldOf("lie")
    climb_m: ClassVar[FieldOf[float]] = FieldOf("lie")
    descent_m: ClassVar[FieldOf[float]] = FieldOf("lie")
    on_track_m: ClassVar[FieldOf[float]] = FieldOf("lie")
    times: WalkTimes
    minutes: ClassVar[FieldOf[float]] = FieldOf("times")
    minutes_back: ClassVar[FieldOf[float]] = FieldOf("times")
    night_minutes: ClassVar[FieldOf[float]] = FieldOf("times")
    night_minutes_back: ClassVar[FieldOf[float]] = FieldOf("times")
    rule: ClassVar[FieldOf[str]] = FieldOf("times")
    steepest_deg: ClassVar[FieldOf[float]] = FieldOf("lie")
    detour: Detour
    longer_m: ClassVar[FieldOf[float]] = FieldOf("detour")
    round_of: ClassVar[FieldOf[tuple[str, ...]]] = FieldOf("detour")
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
class ShotTimes:
    """When a turn happens, UTC.

    Attributes
    ----------
    walk_start, setup_start, focus_start, frames_start, frames_end : datetime
        Its steps; the tripod's place is that of the middle of the frames.
    wait_minutes : float
        Nothing to do before this turn's walk.
    """

    walk_start: dt.datetime
    setup_start: dt.datetime
    focus_start: dt.datetime
    frames_start: dt.datetime
    frames_end: dt.datetime
    wait_minutes: float


@dataclass(frozen=True, slots=True)
class ShotRun:
    """The target before the standing tripod while a turn's frames run.

    Attributes
    ----------
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
    """

    drift_deg: float
    spare_minutes: float
    room_minutes: float
    least_clearance_deg: float
    start_x: float
    start_y: float
    end_x: float
    end_y: float


@dataclass(frozen=True, slots=True)
class ShotStep:
    """The step from the stand before, facing the subject there.

    Attributes
    ----------
    left_m, back_m : float
        Negative is right and forward; NaN for the first.
    walk : Walk or None
        The way on foot; None for the first.
    """

    left_m: float
    back_m: float
    walk: Walk | None


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
    times : ShotTimes
    stand : Stand
        Settled for the middle of the frames, cautions and all.
    run : ShotRun
    step : ShotStep
    placing : Placing
    figures : TurnFigures
        Shutter, trails, focus and light at this stand.
    late : tuple of LateStand
    moved : Moved or None
    picture : TurnPicture or None
        What it shows against what is wanted, and what that counted in the choice.
    other_starts : tuple of OtherStart
        What was not chosen, and what it would change.
    sky : TurnSky or None
        Air, brightness and cloud behind its target; None where the session weighs none of them.

    Notes
    -----
    What ``times``, ``run`` and ``step`` hold can be read from the shot itself, as
    ``shot.frames_start``, ``shot.drift_deg`` or ``shot.left_m``, and JSON shows it so.
    """

    number: int
    lens: Lens
    minutes: LensMinutes
    times: ShotTimes
    walk_start: ClassVar[FieldOf[dt.datetime]] = FieldOf("times")
    setup_start: ClassVar[FieldOf[dt.datetime]] = FieldOf("times")
    focus_start: ClassVar[FieldOf[dt.datetime]] = FieldOf("times")
    frames_start: ClassVar[FieldOf[dt.datetime]] = FieldOf("times")
    frames_end: ClassVar[FieldOf[dt.datetime]] = FieldOf("times")
    wait_minutes: ClassVar[FieldOf[float]] = FieldOf("times")
    stand: Stand
    run: ShotRun
    drift_deg: ClassVar[FieldOf[float]] = FieldOf("run")
    spare_minutes: ClassVar[FieldOf[float]] = FieldOf("run")
    room_minutes: ClassVar[FieldOf[float]] = FieldOf("run")
    least_clearance_deg: ClassVar[FieldOf[float]] = FieldOf("run")
    start_x: ClassVar[FieldOf[float]] = FieldOf("run")
    start_y: ClassVar[FieldOf[float]] = FieldOf("run")
    end_x: ClassVar[FieldOf[float]] = FieldOf("run")
    end_y: ClassVar[FieldOf[float]] = FieldOf("run")
    step: ShotStep
    left_m: ClassVar[FieldOf[float]] = FieldOf("step")
    back_m: ClassVar[FieldOf[float]] = FieldOf("step")
    walk: ClassVar[FieldOf[Walk | None]] = FieldOf("step")
    placing: Placing
    figures: TurnFigures
    late: tuple[LateStand, ...]
    moved: Moved | None = None
    picture: TurnPicture | None = None
    other_starts: tuple[OtherStart, ...] = ()
    sky: TurnSky | None = None


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
class SessionCount:
    """What a session comes to, and what it was chosen by.

    Attributes
    ----------
    walked_m : float
        Level length of all ways between stands.
    waiting_minutes : float
        Waiting between turns, asked breaks included.
    step_minutes : float
        The grid of start times on which order and times are the best there are.
    wait_costs_m : float
        What a minute of waiting counts, metres of walking.
    """

    walked_m: float
    waiting_minutes: float
    step_minutes: float
    wait_costs_m: float


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
    count : SessionCount
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
    price : SessionPrice or None
        What heeding the picture costs.
    one_line : OneLine or None
        Beside the session: the kit from one line, lens after lens.

    Notes
    -----
    What ``count`` holds can be read from the session itself, as ``session.walked_m``, and
    JSON shows it so.
    """

    shots: tuple[Shot, ...]
    left_out: tuple[LeftOut, ...]
    pauses: tuple[Pause, ...]
    start: dt.datetime | None
    end: dt.datetime | None
    count: SessionCount
    walked_m: ClassVar[FieldOf[float]] = FieldOf("count")
    waiting_minutes: ClassVar[FieldOf[float]] = FieldOf("count")
    step_minutes: ClassVar[FieldOf[float]] = FieldOf("count")
    wait_costs_m: ClassVar[FieldOf[float]] = FieldOf("count")
    approach: Walk | None
    home: Walk | None
    leave_by: dt.datetime | None
    lighting: Lighting | None
    sentence: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    price: SessionPrice | None = None
    one_line: OneLine | None = None

    @property
    def walks_in_order(self) -> tuple[Walk, ...]:
        """From the parking, between the stands, home."""
        every = (self.approach, *(shot.walk for shot in self.shots), self.home)
        return tuple(walk for walk in every if walk is not None)
