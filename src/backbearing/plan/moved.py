"""A minute that gave way because its stand was barred."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt


@dataclass(frozen=True, slots=True)
class Moved:
    """A stand that was moved along its arc because its best place is barred.

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
