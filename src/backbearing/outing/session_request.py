"""What the user asks of a session: minutes for each lens, limits, breaks, lights."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

MOST_JOBS: Final = 8
"""So many lenses are ordered exactly; the work doubles with each."""


@dataclass(frozen=True, slots=True)
class LensMinutes:
    """Minutes that one lens's turn takes, in this order.

    ``frames_minutes`` is None until the exposure decides it.
    """

    walk_minutes: float
    setup_minutes: float
    focus_minutes: float
    frames_minutes: float

    @property
    def before_frames(self) -> float:
        """Walk, set up and focus together."""
        return self.walk_minutes + self.setup_minutes + self.focus_minutes


@dataclass(frozen=True, slots=True)
class BreakRequest:
    """A break at a local clock time."""

    at: str
    minutes: float


@dataclass(frozen=True, slots=True)
class PictureRequest:
    """What a turn's picture should be, and what it costs where it is less.

    Costs are in metres of walking, as that of waiting is, so that all of them add up; 0
    leaves a wish out.

    Attributes
    ----------
    above_top_wanted_deg : float, optional
        How far over the subject's top the target should stand. When not given, as far as the
        framing asks for, or else midway between the subject's top and the upper limit of
        the place that the framing leaves to the target.
    above_top_costs_m_per_deg : float
        For each degree that it stands higher or lower than that.
    ridge_costs_m_per_deg : float
        For each degree by which the least clearance, less what its doubt may take, falls
        short of the night's ``clear_by_deg``.
    skyline_break_wanted_deg : float
        How far the subject's top should stand over the land behind it.
    skyline_break_costs_m_per_deg : float
        For each degree that it stands lower than that.
    alike_costs_m_per_deg : float
        Like with like: for each degree by which the target's height over the subject's top
        differs from that of the turn before.
    stand_before_shows_costs_m : float
        For each turn whose frame would show somebody who stayed at the stand of the turn
        before.
    light_moves_costs_m : float
        For each turn to which a light hidden behind the subject must be moved: no spot hides
        it both from this stand and from that of the turn before.
    air_costs_m_per_mag : float
        For each magnitude by which the air makes the target dimmer than overhead.
    bright_sky_costs_m_per_mag : float
        For each magnitude by which the sky behind the target is brighter than a natural zenith
        of 22.0, Moon and twilight included.
    cloud_costs_m : float
        For a line of sight all in cloud by the outing's forecast, and in proportion for less.
    line_change_minutes : float
        From one lens's last frame to the next one's first while all keep to one line.
    """

    above_top_wanted_deg: float | None = None
    above_top_costs_m_per_deg: float = 10.0
    ridge_costs_m_per_deg: float = 20.0
    skyline_break_wanted_deg: float = 0.0
    skyline_break_costs_m_per_deg: float = 30.0
    alike_costs_m_per_deg: float = 0.0
    stand_before_shows_costs_m: float = 20.0
    light_moves_costs_m: float = 20.0
    air_costs_m_per_mag: float = 0.0
    bright_sky_costs_m_per_mag: float = 0.0
    cloud_costs_m: float = 0.0
    line_change_minutes: float = 2.0


NO_WISHES: Final = PictureRequest(
    above_top_costs_m_per_deg=0.0,
    ridge_costs_m_per_deg=0.0,
    skyline_break_costs_m_per_deg=0.0,
    stand_before_shows_costs_m=0.0,
    light_moves_costs_m=0.0,
)
"""A session that heeds walking and waiting alone."""


@dataclass(frozen=True, slots=True)
class SessionRequest:
    """[session] of an outing file.

    ``minutes`` has one entry for each lens in the file's order: walk, set up, focus and
    frames, the last None where the exposure decides it.
    """

    minutes: tuple[tuple[float, float, float, float | None], ...]
    not_before: str | None = None
    not_after: str | None = None
    breaks: tuple[BreakRequest, ...] = ()
    late_minutes: tuple[float, ...] = (10.0, 20.0, 30.0)
    wait_costs_m: float = 1.0
    room_minutes: float = 15.0
    pace_m: float | None = None
    night_factor: float = 1.5
    parking: str | None = None
    light_width_m: float = 0.3
    light_height_m: float = 0.5
    light_reach_m: float = 40.0
    person_height_m: float = 1.8
    picture: PictureRequest = PictureRequest()
