"""Readings with their doubt, and what follows from them.

A result's doubt is that of the readings sent through the formula itself, each moved by
``sqrt(3)`` of its standard deviation to either side: the sigma points of [Julier2004]_ for
readings that err independently, along each of them. Where the formula is straight over the
doubt, that is the law of propagation of [JCGM100]_; where it bends (a steep angle, a low Sun),
the points feel it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base import asked
from backbearing.base.errors import MeasureError
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

_STEP: Final = math.sqrt(3.0)

BENT_SHARE: Final = 0.25
"""From this share of its doubt a shift of the mean is said."""

WIDEST_SHARE: Final = 1.0 / 3.0
"""A length whose doubt is more than this share of it is no measurement (our own choice)."""

ODD_SIGMAS: Final = 3.0
"""Results that differ by more of their doubt are said to differ."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A number as read, and one standard deviation of it.

    Parameters
    ----------
    value : float
    sigma : float
        0 for what is exact.

    Raises
    ------
    MeasureError
        For what is not a finite number, or a doubt below zero.

    Examples
    --------
    >>> from backbearing.measuring import Reading
    >>> distance_m = Reading(20.0, 0.2)
    >>> f"{distance_m.value} m, give or take {distance_m.sigma} m"
    '20.0 m, give or take 0.2 m'
    """

    value: float
    sigma: float = 0.0

    def __post_init__(self) -> None:
        for key in ("value", "sigma"):
            number = asked.number(getattr(self, key), key, MeasureError)
            if not math.isfinite(number):
                raise MeasureError(f"{key} is {number}", hint="pass a finite number", key=key)
        if self.sigma < 0.0:
            raise MeasureError(f"sigma is {self.sigma}", hint="pass 0 or more", key="sigma")


@dataclass(frozen=True, slots=True)
class Measured:
    """A result with its doubt, and what the doubt is made of.

    Attributes
    ----------
    value_m, sigma_m : float
        The length and one standard deviation, metres.
    way : str
        How it was found, in words.
    shares : dict of str to float
        For each reading its share of the variance, 0 to 1; they add up to 1.
    notes : tuple of str
        What to know about it: where the formula bends, what was assumed.

    Examples
    --------
    >>> from backbearing.measuring import Reading, height_by_angles
    >>> found = height_by_angles(Reading(20.0, 0.2), Reading(30.0, 0.5), Reading(-4.0, 0.5))
    >>> f"{found.value_m:.2f} m, give or take {found.sigma_m:.2f} m"
    '12.95 m, give or take 0.32 m'
    >>> max(found.shares, key=found.shares.get)
    'top_deg'
    """

    value_m: float
    sigma_m: float
    way: str
    shares: dict[str, float]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Spread:
    """What a formula makes of readings: its value, how far that errs, and by which of them.

    Attributes
    ----------
    value, sigma : float
        In the formula's unit; the sigma holds the mean's shift too.
    shift : float
        How far the readings' doubt moves the mean.
    shares : dict of str to float
        For each reading with a doubt its share of the variance.
    """

    value: float
    sigma: float
    shift: float
    shares: dict[str, float]


def spread(formula: Callable[..., float], readings: Mapping[str, Reading]) -> Spread:
    """Send readings through a formula.

    Parameters
    ----------
    formula : callable
        Takes the values by the readings' names; NaN where it has no answer.
    readings : mapping of str to Reading

    Raises
    ------
    MeasureError
        Where the formula has no answer at the readings, or none within their doubt.
    """
    values = {name: one.value for name, one in readings.items()}
    middle = formula(**values)
    if not math.isfinite(middle):
        raise MeasureError(
            "these readings meet in no point",
            hint="look whether one of them is swapped or mistyped",
        )
    variances: dict[str, float] = {}
    shift = 0.0
    for name, one in readings.items():
        if not one.sigma:
            continue
        step = _STEP * one.sigma
        low, high = (formula(**{**values, name: one.value + by}) for by in (-step, step))
        if not (math.isfinite(low) and math.isfinite(high)):
            raise MeasureError(
                f"{name} is {num(one.value)} give or take {num(one.sigma)}, which is too unsure "
                "for this way",
                hint="measure again from farther back, or more exactly",
                key=name,
            )
        mean = (low + high - 2.0 * middle) / 6.0
        variances[name] = ((low - middle) ** 2 + (high - middle) ** 2) / 6.0 - mean * mean
        shift += mean
    whole = sum(variances.values())
    shares = {name: part / whole if whole else 0.0 for name, part in variances.items()}
    return Spread(middle, math.sqrt(whole + shift * shift), shift, shares)


def propagated(
    formula: Callable[..., float],
    readings: Mapping[str, Reading],
    way: str,
    *,
    notes: Sequence[str] = (),
) -> Measured:
    """Send readings through a formula for a length; raises as `spread` does.

    Parameters
    ----------
    formula : callable
        Gives metres.
    readings : mapping of str to Reading
    way : str
        In words.
    notes : sequence of str
        Kept with the result.

    Returns
    -------
    Measured
    """
    found = spread(formula, readings)
    said = list(notes)
    # The shift is in the sigma: by itself it is looked at against the rest.
    rest = math.sqrt(max(found.sigma**2 - found.shift**2, 0.0))
    if rest and abs(found.shift) > BENT_SHARE * rest:
        side = "high" if found.shift > 0.0 else "low"
        said.append(
            f"the readings' doubt makes it come out {num(abs(found.shift), 2)} m too {side} on "
            "average: an angle is steep, or a base short"
        )
    return Measured(found.value, found.sigma, way, found.shares, tuple(said))


def a_length(found: Measured, what: str) -> Measured:
    """Hold a result to be a length above nothing that is worth its name.

    Raises
    ------
    MeasureError
        Where it is not above zero, or its doubt is a third of it and more.
    """
    if not found.value_m > 0.0:
        raise MeasureError(
            f"the {what} comes out as {num(found.value_m, 2)} m",
            hint="look whether top and base, or two distances, are swapped",
        )
    if found.sigma_m > WIDEST_SHARE * found.value_m:
        worst = max(found.shares, key=lambda name: found.shares[name])
        raise MeasureError(
            f"the {what} comes out as {num(found.value_m, 1)} m give or take "
            f"{num(found.sigma_m, 1)} m, which says little",
            hint=f"measure again; most of the doubt is in {worst}",
            value_m=found.value_m,
            sigma_m=found.sigma_m,
        )
    return found


def combined(results: Sequence[Measured]) -> Measured:
    """Join several results for the same thing by the inverse of their variances.

    Weighted mean and its doubt as in [JCGM100]_ for independent results; the sum of squares of
    what each differs by, over its doubt, is held against its expectation (chi-square), and a
    doubt that is too small for the differences is widened by the Birge ratio [Birge1932]_.

    Parameters
    ----------
    results : sequence of Measured
        At least one, each with a doubt above zero.

    Returns
    -------
    Measured
        Its notes say whether the results agree.

    Raises
    ------
    MeasureError
        For none, or for one that claims to be exact.

    Examples
    --------
    >>> from backbearing.measuring import Measured, combined
    >>> one, two = (Measured(v, 0.3, "tape", {}) for v in (12.0, 12.4))
    >>> both = combined([one, two])
    >>> f"{both.value_m:.2f} m, give or take {both.sigma_m:.2f} m"
    '12.20 m, give or take 0.21 m'
    """
    if not results:
        raise MeasureError("there is nothing to combine", hint="give a reading")
    if len(results) == 1:
        return results[0]
    if any(not one.sigma_m > 0.0 for one in results):
        raise MeasureError("a result without doubt cannot be weighed", hint="give it a doubt")
    weights = [one.sigma_m**-2 for one in results]
    whole = sum(weights)
    mean = sum(w * one.value_m for w, one in zip(weights, results, strict=True)) / whole
    sigma = whole**-0.5
    chi2 = sum(((one.value_m - mean) / one.sigma_m) ** 2 for one in results)
    birge = math.sqrt(chi2 / (len(results) - 1))
    notes = [*dict.fromkeys(note for one in results for note in one.notes)]
    notes.append(_agreement(results, chi2, birge))
    shares = {
        f"{one.way} ({number})": w / whole
        for number, (w, one) in enumerate(zip(weights, results, strict=True), 1)
    }
    ways = " and ".join(dict.fromkeys(one.way for one in results))
    return Measured(mean, sigma * max(1.0, birge), f"{len(results)} readings: {ways}", shares,
                    tuple(notes))  # fmt: skip


def odd_chi2(count: int) -> float:
    """Chi-square that only 0.3 per cent of ``count`` chance differences exceed.

    By the cube-root rule [Wilson1931]_, within 2 per cent.
    """
    return count * (1.0 - 2.0 / (9.0 * count) + 2.75 * math.sqrt(2.0 / (9.0 * count))) ** 3


def _agreement(results: Sequence[Measured], chi2: float, birge: float) -> str:
    """Say whether results agree, by their largest difference and by chi-square."""
    low, high = (pick(results, key=lambda one: one.value_m) for pick in (min, max))
    apart = (high.value_m - low.value_m) / math.hypot(low.sigma_m, high.sigma_m)
    who = "the two" if len(results) == 2 else f"the lowest and the highest of the {len(results)}"
    said = f"{who} differ by {num(high.value_m - low.value_m, 2)} m, {num(apart, 1)} sigma"
    count = len(results) - 1
    if apart >= ODD_SIGMAS or chi2 > odd_chi2(count):
        return f"{said}: measure again (the doubt is widened {num(birge, 1)} times)"
    widened = f"; the doubt is widened {num(birge, 1)} times" if birge > 1.0 else ""
    return f"{said}: they agree (chi-square {num(chi2, 1)} for {count}){widened}"
