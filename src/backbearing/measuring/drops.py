"""The ground at a stand against the subject's, by clinometer."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.constants import DEFAULT_REFRACTION_K
from backbearing.base.errors import MeasureError
from backbearing.base.geodesy import curvature_drop_m
from backbearing.base.numbers import num
from backbearing.measuring.readings import Measured, Reading, propagated

if TYPE_CHECKING:
    from backbearing.measuring.heights import Tape


def drop_by_angle(
    distance_m: Reading,
    angle_deg: Reading,
    eye_m: Reading,
    *,
    target_m: Reading | None = None,
    tape: Tape = "level",
) -> Measured:
    """How far the ground at the stand lies below the ground at the subject, by one angle.

    ``drop = eye + D tan(angle) + (1 - k) D^2 / 2R - target``, with the Earth's curve less the
    bending of light [Ghilani2012]_; surveyors call it trigonometric levelling. Negative where the
    stand lies above.

    Parameters
    ----------
    distance_m : Reading
        From the stand to the subject, metres.
    angle_deg : Reading
        To a point over the subject's ground, degrees, upward positive.
    eye_m : Reading
        Height of the eye over the ground at the stand, metres.
    target_m : Reading, optional
        Height of the point sighted over the ground at the subject, metres; its base when left out.
    tape : {"level", "sight"}
        Whether the distance is level, or from the eye to the point (a laser, a taut tape).

    Returns
    -------
    Measured
        Metres, as ``stand_drop_m`` in an outing.

    Raises
    ------
    MeasureError
        For an angle of 60 degrees and more, or a distance that is none.

    Examples
    --------
    >>> from backbearing.measuring import Reading, drop_by_angle, sighted, taped
    >>> found = drop_by_angle(taped(40.0), sighted(-1.0), Reading(1.6, 0.02))
    >>> f"{found.value_m:.1f} m below, give or take {found.sigma_m:.1f} m"
    '0.9 m below, give or take 0.3 m'
    """
    target = Reading(0.0) if target_m is None else target_m
    if not abs(angle_deg.value) < 60.0:
        raise MeasureError(
            f"angle_deg is {num(angle_deg.value)}",
            hint="write degrees from the level, between -60 and 60, upward positive",
            key="angle_deg",
        )
    if not distance_m.value > 0.0:
        raise MeasureError(
            f"distance_m is {num(distance_m.value)}",
            hint="write a length above 0, in metres",
            key="distance_m",
        )
    sight = tape == "sight"

    def drop(distance_m: float, angle_deg: float, eye_m: float, target_m: float) -> float:
        angle = math.radians(angle_deg)
        level = distance_m * math.cos(angle) if sight else distance_m
        return (
            eye_m
            + level * math.tan(angle)
            + float(curvature_drop_m(level, DEFAULT_REFRACTION_K))
            - target_m
        )

    readings = {
        "distance_m": distance_m,
        "angle_deg": angle_deg,
        "eye_m": eye_m,
        "target_m": target,
    }
    return propagated(drop, readings, "a distance and an angle")
