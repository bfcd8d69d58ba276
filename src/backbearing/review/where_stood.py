"""Where the camera stood and how high the subject is: what is put together, and what comes of it.

A frame whose pointing the stars tell shows the subject's azimuth and the altitude of its top. The
azimuth puts the camera on a line through the subject; the altitude ties its distance to the
subject's height, and no more than that: twice as far from twice the height looks the same. What
was planned or measured beforehand, each with its doubt, settles the rest (`stands_adjusted.py`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

from backbearing.base.text import length

PEG_SHARE: Final = 0.05
PEG_M: Final = 0.3
"""A stand found by steps or tape is within five percent and 0.3 m of its distance (common
practice, no source)."""

HEIGHT_SHARE: Final = 0.15
"""How well a height is known of which the outing says no doubt: guessed to 15 percent (common
practice, no source)."""

STEP_M: Final = 0.3
"""How well eye height and the step of the ground beside the subject are known, metres."""

CLOCK_S: Final = 30.0
"""A camera's clock that was set by hand is right to half a minute (common practice, no source)."""

ANY_CLOCK_S: Final = 3600.0
"""Where the stands are known the clock may be off by as much as an hour."""


class Fix(NamedTuple):
    """A receiver's place beside the planned stand; NaN where there is none.

    ``back_m`` and ``left_m`` as one faces the subject, ``sigma_m`` one standard deviation of each.
    """

    back_m: float = math.nan
    left_m: float = math.nan
    sigma_m: float = math.nan

    @property
    def known(self) -> bool:
        """Whether there is one."""
        return math.isfinite(self.back_m + self.left_m + self.sigma_m)


class Sighting(NamedTuple):
    """One frame's view of the subject, and what was planned for it; NaN where unknown.

    Attributes
    ----------
    azimuth_deg : float
        True, of the subject's middle, by the time that was given.
    top_deg, top_sigma_deg : float
        Altitude of its top.
    width_deg, width_sigma_deg : float
        Angle between its sides.
    planned_azimuth_deg, planned_distance_m : float
        Of the subject from the planned stand.
    eye_m : float
        The lens over the subject's visible base.
    distance_sigma_m : float
        How well the planned distance is known to be the real one.
    lat : float
        Of the stand; NaN where the clock is not to be doubted.
    aside_sigma_m : float
        How well the stand is known sideways; infinite where it is not.
    fix : Fix
        Where a receiver put it.
    side_deg : float
        Altitude of the sides that the azimuth was read from; NaN takes the top's.
    azimuth_sigma_deg : float
        One standard deviation of the azimuth; NaN takes the top's.
    """

    azimuth_deg: float
    top_deg: float
    top_sigma_deg: float
    width_deg: float
    width_sigma_deg: float
    planned_azimuth_deg: float
    planned_distance_m: float
    eye_m: float
    distance_sigma_m: float
    lat: float = math.nan
    aside_sigma_m: float = math.inf
    fix: Fix = Fix()
    side_deg: float = math.nan
    azimuth_sigma_deg: float = math.nan


@dataclass(frozen=True, slots=True)
class Stood:
    """Where one frame was taken from, beside the plan.

    Attributes
    ----------
    distance_m, distance_sigma_m : float
        To the subject.
    bearing_deg : float
        To the subject, true.
    left_m, left_sigma_m : float
        From the planned stand as one faces the subject there; negative is right.
    farther_m, farther_sigma_m : float
        Negative is nearer.
    higher_m, higher_sigma_m : float
        Lens over the subject's base, against the plan.
    by_receiver : bool
        Whether the receiver's place was so far from the planned one that it counts instead.
    """

    distance_m: float
    distance_sigma_m: float
    bearing_deg: float
    left_m: float
    left_sigma_m: float
    farther_m: float
    farther_sigma_m: float
    higher_m: float = math.nan
    higher_sigma_m: float = math.nan
    by_receiver: bool = False


@dataclass(frozen=True, slots=True)
class Adjusted:
    """What the night's frames say together.

    Attributes
    ----------
    height_m, height_sigma_m : float
        Of the subject.
    width_m, width_sigma_m : float
        NaN where no frame shows both sides.
    stood : tuple of Stood
        In the order of the sightings.
    told_by_frames : float
        How much of the height's doubt the frames took away, 0 to 1; near 0 the height is still
        the outing's own.
    clock_ahead_s, clock_sigma_s : float
        How far the camera's clock was ahead of the time that was given; NaN where not asked.
    clock_told : float
        How much of the clock's doubt the frames took away, 0 to 1.
    """

    height_m: float
    height_sigma_m: float
    width_m: float
    width_sigma_m: float
    stood: tuple[Stood, ...]
    told_by_frames: float
    clock_ahead_s: float = math.nan
    clock_sigma_s: float = math.nan
    clock_told: float = 0.0


def stood_sentence(stood: Stood) -> str:
    """Say where a frame was taken from, beside the plan."""
    side = "left" if stood.left_m >= 0.0 else "right"
    depth = "farther" if stood.farther_m >= 0.0 else "nearer"
    said = (
        f"Taken {length(abs(stood.left_m))} {side} of the planned stand and "
        f"{length(abs(stood.farther_m))} {depth} (give or take {length(stood.left_sigma_m)} and "
        f"{length(stood.farther_sigma_m)}), {length(stood.distance_m)} from the subject."
    )
    if stood.by_receiver:
        said += " Its receiver was so far from the planned stand that its place counts instead."
    return said
