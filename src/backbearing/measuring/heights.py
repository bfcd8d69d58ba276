"""Heights by clinometer, as foresters and surveyors take them.

Angles are from the level at the eye, upward positive. Each way stands on the tangent of an
angle being height over level distance; [Bragg2011]_ compares them, [Brack1998]_ tells how they
are taken and what a leaning subject does to them.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal

from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num
from backbearing.base.reading_errors import CLINOMETER_SIGMA_DEG, MIDDLE_SIGMA_M, TAPE_SIGMA
from backbearing.measuring.readings import Measured, Reading, a_length, propagated

if TYPE_CHECKING:
    from collections.abc import Mapping

Tape = Literal["level", "sight"]

STEEP_DEG: Final = 60.0
"""An angle this steep is said: half a degree is then four times what it is on the level."""

NEAR_SHARE: Final = 0.02
"""Two stands whose views differ by less than this share tell no distance (our own choice)."""


def taped(distance_m: float) -> Reading:
    """A distance by tape, with the doubt that a tape over rough ground has.

    Examples
    --------
    >>> from backbearing.measuring import taped
    >>> f"{taped(20.0).sigma:.2f} m"
    '0.22 m'
    """
    return Reading(distance_m, math.hypot(TAPE_SIGMA * distance_m, MIDDLE_SIGMA_M))


def sighted(angle_deg: float) -> Reading:
    """An angle by a hand clinometer, degrees, with its doubt.

    Examples
    --------
    >>> from backbearing.measuring import sighted
    >>> sighted(30.0).sigma
    0.5
    """
    return Reading(angle_deg, CLINOMETER_SIGMA_DEG)


def degrees_of_percent(percent: Reading) -> Reading:
    """Turn a reading of a clinometer's percent scale into degrees: ``atan(p / 100)``.

    The doubt follows by the slope of the arc tangent.

    Examples
    --------
    >>> from backbearing.measuring import Reading, degrees_of_percent
    >>> f"{degrees_of_percent(Reading(100.0, 1.0)).value:.0f} degrees"
    '45 degrees'
    """
    share = percent.value / 100.0
    slope = math.degrees(1.0 / (1.0 + share * share)) / 100.0
    return Reading(math.degrees(math.atan(share)), percent.sigma * slope)


def height_by_angles(
    distance_m: Reading,
    top_deg: Reading,
    base_deg: Reading,
    *,
    tape: Tape = "level",
    slope_deg: Reading | None = None,
) -> Measured:
    """Height from a distance and the angles to top and base.

    ``H = D (tan top - tan base)`` with the level distance D. A tape along the slope has
    ``D = L cos slope``; one drawn from the eye to the base (or a laser) ``D = L cos base``.

    Parameters
    ----------
    distance_m : Reading
        From the eye's plumb line to below the top, metres.
    top_deg, base_deg : Reading
        Degrees.
    tape : {"level", "sight"}
        How the distance was taken: held level, or from the eye to the base.
    slope_deg : Reading, optional
        With a tape along sloping ground its angle, degrees, up or down.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        For angles of 90 degrees and more, a top below the base, or a doubt of a third and more.

    Examples
    --------
    >>> from backbearing.measuring import height_by_angles, sighted, taped
    >>> found = height_by_angles(taped(20.0), sighted(30.0), sighted(-4.0))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '12.9 m, give or take 0.3 m'
    """
    readings = {"distance_m": distance_m, "top_deg": top_deg, "base_deg": base_deg}
    if slope_deg is not None:
        readings["slope_deg"] = slope_deg
    _check(readings)
    sight = tape == "sight"
    if sight and slope_deg is not None:
        raise MeasureError(
            "a tape from the eye to the base has no slope of its own", hint="leave slope_deg out"
        )

    def height(distance_m: float, top_deg: float, base_deg: float, slope_deg: float = 0.0) -> float:
        level = distance_m * _cos(base_deg if sight else slope_deg)
        return level * (_tan(top_deg) - _tan(base_deg))

    found = propagated(height, readings, "tape and two angles", notes=_steep(readings))
    return a_length(found, "height")


def height_by_sights(
    top_m: Reading, top_deg: Reading, base_m: Reading, base_deg: Reading
) -> Measured:
    """Height from distances along the sights to top and base, by a laser.

    ``H = L_top sin top - L_base sin base``, the sine method of [Bragg2011]_: right where the top
    does not stand over the base.

    Parameters
    ----------
    top_m, base_m : Reading
        From the eye, metres.
    top_deg, base_deg : Reading
        Degrees.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        As `height_by_angles`.

    Examples
    --------
    >>> from backbearing.measuring import Reading, height_by_sights, sighted
    >>> laser = Reading(32.0, 0.3), Reading(28.0, 0.3)
    >>> found = height_by_sights(laser[0], sighted(27.0), laser[1], sighted(-3.0))
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '16.0 m, give or take 0.4 m'
    """
    readings = {"top_m": top_m, "top_deg": top_deg, "base_m": base_m, "base_deg": base_deg}
    _check(readings)

    def height(top_m: float, top_deg: float, base_m: float, base_deg: float) -> float:
        return top_m * _sin(top_deg) - base_m * _sin(base_deg)

    return a_length(propagated(height, readings, "two laser sights"), "height")


def height_by_pole(
    pole_m: Reading, top_deg: Reading, pole_top_deg: Reading, base_deg: Reading
) -> Measured:
    """Height from a pole of known length held upright at the base; no distance is needed.

    ``H = P (tan top - tan base) / (tan pole - tan base)`` [Curtis1968]_: both stand at one
    distance, which falls out.

    Parameters
    ----------
    pole_m : Reading
        Length of the pole, metres.
    top_deg, pole_top_deg, base_deg : Reading
        To the subject's top, to the pole's, and to the base of both, degrees.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        As `height_by_angles`, and for a pole whose top is not above its base.

    Examples
    --------
    >>> from backbearing.measuring import Reading, height_by_pole
    >>> top, pole, base = (Reading(angle, 0.1) for angle in (24.0, 6.0, -4.0))
    >>> found = height_by_pole(Reading(4.0, 0.01), top, pole, base)
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '11.8 m, give or take 0.2 m'
    """
    readings = {
        "pole_m": pole_m,
        "top_deg": top_deg,
        "pole_top_deg": pole_top_deg,
        "base_deg": base_deg,
    }
    _check(readings)

    def height(pole_m: float, top_deg: float, pole_top_deg: float, base_deg: float) -> float:
        pole = _tan(pole_top_deg) - _tan(base_deg)
        return pole_m * (_tan(top_deg) - _tan(base_deg)) / pole if pole > 0.0 else math.nan

    found = propagated(height, readings, "a pole at the base", notes=_steep(readings))
    return a_length(found, "height")


def height_by_step_back(
    step_m: Reading, near: tuple[Reading, Reading], far: tuple[Reading, Reading]
) -> Measured:
    """Height from two places in line, so far apart on the level; the base need not be reached.

    With ``q = tan top - tan base`` at each, ``H = s q_near q_far / (q_near - q_far)``: both views
    are of one height, at distances that differ by s. [Leverett2007]_ has it for an eye level with
    the base; with the base sighted too the eye may stand at any height at each place.

    Parameters
    ----------
    step_m : Reading
        From the near place straight back to the far one, on the level, metres.
    near, far : tuple of Reading
        Angles to top and base from each, degrees.

    Returns
    -------
    Measured
        Metres.

    Raises
    ------
    MeasureError
        As `height_by_angles`, and where the two views hardly differ.

    Examples
    --------
    >>> from backbearing.measuring import Reading, height_by_step_back
    >>> near, far = ((Reading(t, 0.1), Reading(b, 0.1)) for t, b in ((40.0, -5.0), (25.0, -3.0)))
    >>> found = height_by_step_back(Reading(13.0, 0.1), near, far)
    >>> f"{found.value_m:.1f} m, give or take {found.sigma_m:.1f} m"
    '15.3 m, give or take 0.2 m'
    """
    readings = {
        "step_m": step_m,
        "near_top_deg": near[0],
        "near_base_deg": near[1],
        "far_top_deg": far[0],
        "far_base_deg": far[1],
    }
    _check(readings)

    def height(
        step_m: float,
        near_top_deg: float,
        near_base_deg: float,
        far_top_deg: float,
        far_base_deg: float,
    ) -> float:
        close = _tan(near_top_deg) - _tan(near_base_deg)
        away = _tan(far_top_deg) - _tan(far_base_deg)
        return step_m * close * away / (close - away) if close > away > 0.0 else math.nan

    close, away = (_tan(top.value) - _tan(base.value) for top, base in (near, far))
    if not close - away > NEAR_SHARE * close:
        raise MeasureError(
            "the subject looks hardly smaller from the far place than from the near one",
            hint="step back by at least half the distance, away from the subject",
        )
    found = propagated(height, readings, "a step back", notes=_steep(readings))
    return a_length(found, "height")


def _check(readings: Mapping[str, Reading]) -> None:
    """Refuse angles that look at the zenith or beyond, and lengths that are none."""
    for name, one in readings.items():
        if name.endswith("_deg") and not abs(one.value) < 90.0:
            raise MeasureError(
                f"{name} is {num(one.value)}",
                hint="write degrees from the level, between -90 and 90, upward positive",
                key=name,
            )
        if name.endswith("_m") and not one.value > 0.0:
            raise MeasureError(
                f"{name} is {num(one.value)}", hint="write a length above 0, in metres", key=name
            )


def _steep(readings: Mapping[str, Reading]) -> tuple[str, ...]:
    angles = [one.value for name, one in readings.items() if name.endswith("_deg")]
    steepest = max(angles, key=abs)
    if abs(steepest) < STEEP_DEG:
        return ()
    return (
        f"an angle of {num(steepest, 0)}° is steep: go back until the top stands below 45°",
    )  # fmt: skip


def _tan(angle_deg: float) -> float:
    """Tangent; NaN from 90 degrees on, where a sight no longer meets the subject."""
    return math.tan(math.radians(angle_deg)) if abs(angle_deg) < 90.0 else math.nan


def _sin(angle_deg: float) -> float:
    return math.sin(math.radians(angle_deg))


def _cos(angle_deg: float) -> float:
    return math.cos(math.radians(angle_deg))
