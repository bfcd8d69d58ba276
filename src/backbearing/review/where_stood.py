"""Where the camera stood and how high the subject is, from what all frames saw together.

A frame whose pointing the stars tell shows the subject's azimuth and the altitude of its top. The
azimuth puts the camera on a line through the subject; the altitude ties its distance to the
subject's height, and no more than that: twice as far from twice the height looks the same. What
was planned or measured beforehand, each with its doubt, settles the rest: all of it is one
weighted least-squares adjustment over the night's frames, which share the subject.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.text import length

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PEG_SHARE: Final = 0.05
PEG_M: Final = 0.3
"""A stand found by steps or tape is within five percent and 0.3 m of its distance (common
practice, no source)."""

HEIGHT_SHARE: Final = 0.15
"""How well a height is known of which the outing says no doubt: guessed to 15 percent (common
practice, no source)."""

STEP_M: Final = 0.3
"""How well eye height and the step of the ground beside the subject are known, metres."""


class Sighting(NamedTuple):
    """One frame's view of the subject, and what was planned for it; NaN where unknown.

    Attributes
    ----------
    azimuth_deg : float
        True, of the subject's middle.
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
    """

    distance_m: float
    distance_sigma_m: float
    bearing_deg: float
    left_m: float
    left_sigma_m: float
    farther_m: float
    farther_sigma_m: float


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
    """

    height_m: float
    height_sigma_m: float
    width_m: float
    width_sigma_m: float
    stood: tuple[Stood, ...]
    told_by_frames: float


def adjust(
    sightings: Sequence[Sighting],
    *,
    height_m: float,
    height_sigma_m: float,
    width_m: float,
    width_sigma_m: float,
) -> Adjusted:
    """Settle heights and distances so that the frames and what was known agree best.

    Parameters
    ----------
    sightings : sequence of Sighting
        One or more.
    height_m, height_sigma_m : float
        What was known of the subject's height; a sigma of 0 takes `HEIGHT_SHARE`.
    width_m, width_sigma_m : float
        The same of its width; NaN where nothing is known of it.

    Raises
    ------
    ValueError
        Without a sighting.
    """
    from scipy.optimize import least_squares

    if not sightings:
        raise ValueError("no sightings")
    doubt = height_sigma_m or HEIGHT_SHARE * height_m
    broad = width_m if math.isfinite(width_m) else height_m / 2.0
    vague = (width_sigma_m or HEIGHT_SHARE * broad) if math.isfinite(width_m) else 10.0 * broad
    count = len(sightings)
    planned = np.array([one.planned_distance_m for one in sightings])
    near = np.array([one.distance_sigma_m for one in sightings])
    eye = np.array([one.eye_m for one in sightings])
    top, top_sigma = (
        np.radians([getattr(one, k) for one in sightings]) for k in ("top_deg", "top_sigma_deg")
    )
    wide, wide_sigma = (
        np.radians([getattr(one, k) for one in sightings]) for k in ("width_deg", "width_sigma_deg")
    )
    seen_wide = np.isfinite(wide)

    def off(p: Floats) -> Floats:
        high, across, away, step = p[0], p[1], p[2 : 2 + count], p[2 + count :]
        away = np.maximum(away, 0.1)
        return np.concatenate(
            [
                [(high - height_m) / doubt, (across - broad) / vague],
                (away - planned) / near,
                step / STEP_M,
                (np.arctan2(high - eye - step, away) - top) / top_sigma,
                ((2.0 * np.arctan2(across / 2.0, away) - wide) / wide_sigma)[seen_wide],
            ]
        )

    done = least_squares(
        off, np.concatenate([[height_m, broad], planned, np.zeros(count)]), x_scale="jac"
    )
    sigma = np.sqrt(np.diag(np.linalg.inv(done.jac.T @ done.jac)))
    told = bool(seen_wide.any()) and math.isfinite(width_m)
    return Adjusted(
        height_m=float(done.x[0]),
        height_sigma_m=float(sigma[0]),
        width_m=float(done.x[1]) if told or seen_wide.any() else math.nan,
        width_sigma_m=float(sigma[1]) if told or seen_wide.any() else math.nan,
        stood=tuple(
            _stood(one, float(done.x[2 + i]), float(sigma[2 + i]))
            for i, one in enumerate(sightings)
        ),
        told_by_frames=1.0 - float(sigma[0]) / doubt,
    )


def _stood(one: Sighting, away: float, sigma: float) -> Stood:
    turn = math.radians(float(wrap_180_deg(one.azimuth_deg - one.planned_azimuth_deg)))
    # A subject seen farther clockwise is seen from farther left.
    return Stood(
        distance_m=away,
        distance_sigma_m=sigma,
        bearing_deg=one.azimuth_deg,
        left_m=away * math.sin(turn),
        left_sigma_m=math.hypot(
            abs(math.sin(turn)) * sigma, away * math.radians(one.top_sigma_deg)
        ),
        farther_m=away * math.cos(turn) - one.planned_distance_m,
        farther_sigma_m=abs(math.cos(turn)) * sigma,
    )


def stood_sentence(stood: Stood) -> str:
    """Say where a frame was taken from, beside the plan."""
    side = "left" if stood.left_m >= 0.0 else "right"
    depth = "farther" if stood.farther_m >= 0.0 else "nearer"
    return (
        f"Taken {length(abs(stood.left_m))} {side} of the planned stand and "
        f"{length(abs(stood.farther_m))} {depth} (give or take {length(stood.left_sigma_m)} and "
        f"{length(stood.farther_sigma_m)}), {length(stood.distance_m)} from the subject."
    )
