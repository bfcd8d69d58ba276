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
