"""Number checks and array shapes that every camera formula shares."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeAlias

import numpy as np
from numpy.typing import NDArray

from backbearing.base.errors import CameraError
from backbearing.base.limits import float_or_inf, shown

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

Floats: TypeAlias = NDArray[np.float64]
"""An array of doubles of any shape."""


def require_number(value: object, key: str, unit: str, *, above: float = 0.0) -> float:
    """Return `value` as a float, or refuse it by its `key`.

    Parameters
    ----------
    value : object
        What the user wrote.
    key : str
        The name it goes by.
    unit : str
        The unit to write it in, for the message.
    above : float, optional
        The value must be larger than this.

    Returns
    -------
    float

    Raises
    ------
    CameraError
        When it is not a finite number above the limit.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise CameraError(
            f"{key} is {shown(value)}", hint=f"write a number ({unit})", key=key, value=value
        )
    number = float_or_inf(value)
    if not (math.isfinite(number) and number > above):
        raise CameraError(
            f"{key} is {number:g}",
            hint=f"write a finite number above {above:g} ({unit})",
            key=key,
            value=number,
        )
    return number


def positive(values: ArrayLike, key: str, unit: str, *, infinite: bool = False) -> Floats:
    """Return `values` as doubles, all above zero.

    Parameters
    ----------
    values : array_like
        Any shape. NaN stands for unknown and passes through.
    key, unit : str
        For the message.
    infinite : bool, optional
        Whether infinity is meant (a focus distance, say).

    Returns
    -------
    ndarray
        Same shape.

    Raises
    ------
    CameraError
        When an entry is zero, negative, or infinite where it must not be.
    """
    if isinstance(values, float) and (0.0 < values < math.inf or math.isnan(values)):
        # One good number, by far the most often: arrays would cost more than all else.
        return np.asarray(values, dtype=np.float64)
    found = _doubles(values, key, unit)
    bad = (found <= 0.0) | (np.isinf(found) if not infinite else np.zeros(found.shape, bool))
    if np.any(bad):
        worst = float(found[bad].flat[0])
        kind = "a number" if infinite else "a finite number"
        raise CameraError(
            f"{key} is {worst:g}", hint=f"write {kind} above 0 ({unit})", key=key, value=worst
        )
    return found


def within(values: ArrayLike, key: str, unit: str, *, low: float, high: float) -> Floats:
    """Return `values` as doubles, all from `low` to `high`; NaN passes as unknown.

    Parameters
    ----------
    values : array_like
        Any shape.
    key, unit : str
        For the message.
    low, high : float
        Limits, included.

    Returns
    -------
    ndarray
        Same shape.

    Raises
    ------
    CameraError
        When an entry lies outside.
    """
    if isinstance(values, float) and (low <= values <= high or math.isnan(values)):
        return np.asarray(values, dtype=np.float64)
    found = _doubles(values, key, unit)
    bad = (found < low) | (found > high)
    if np.any(bad):
        worst = float(found[bad].flat[0])
        raise CameraError(
            f"{key} is {worst:g}",
            hint=f"write {unit} from {low:g} to {high:g}",
            key=key,
            value=worst,
        )
    return found


def plain(values: Floats) -> float | Floats:
    """Return a Python float for a single number, else the array unchanged."""
    return float(values) if np.ndim(values) == 0 else values


def _doubles(values: ArrayLike, key: str, unit: str) -> Floats:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError) as cause:
        raise CameraError(
            f"{key} is {shown(values)}", hint=f"write a number ({unit})", key=key, value=values
        ) from cause
