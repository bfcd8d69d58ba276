"""What a caller in Python passes, held to its kind: the wrong kind gets a sentence, not a trace."""

from __future__ import annotations

import datetime as dt
import math
from numbers import Integral, Real
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from backbearing.base.limits import float_or_inf, shown

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.base.errors import BackbearingError

_T = TypeVar("_T")


def number(value: Any, key: str, error: type[BackbearingError]) -> float:
    """Take one number; a text, a truth value, a list or nothing is refused.

    Raises
    ------
    BackbearingError
        Of the kind asked for, also below; its key says which value it was.
    """
    if isinstance(value, np.ndarray) and value.ndim == 0:
        value = value[()]
    if isinstance(value, bool | np.bool_) or not isinstance(value, Real):
        raise _refuse(error, value, key, "pass a number")
    found = float_or_inf(value)
    if math.isinf(found) and isinstance(value, Integral):
        raise _refuse(error, value, key, "pass a number that a double can hold")
    return found


def numbers(value: Any, key: str, error: type[BackbearingError]) -> NDArray[np.float64]:
    """Take numbers of any shape as doubles."""
    try:
        found = np.asarray(value)
        kind = found.dtype.kind
        if kind in "iuf":
            return found.astype(np.float64)
        if kind == "O" and all(isinstance(v, Real) for v in found.flat):
            return np.array([float_or_inf(v) for v in found.flat]).reshape(found.shape)
    except (TypeError, ValueError, OverflowError):
        pass
    raise _refuse(error, value, key, "pass a number, or an array of numbers")


def count(value: Any, key: str, error: type[BackbearingError], *, low: int, high: int) -> int:
    """Take a whole number from ``low`` to ``high``."""
    whole = isinstance(value, int | np.integer) and not isinstance(value, bool)
    if not (whole and low <= value <= high):
        raise _refuse(error, value, key, f"pass a whole number from {low} to {high}")
    return int(value)


def day(value: Any, key: str, error: type[BackbearingError]) -> dt.date:
    """Take a date, which is no moment of it and no text."""
    if not isinstance(value, dt.date) or isinstance(value, dt.datetime):
        raise _refuse(error, value, key, "pass a date, such as date(2027, 6, 5)")
    return value


def moment(value: Any, key: str, error: type[BackbearingError]) -> dt.datetime:
    """Take a moment that knows its zone."""
    if not isinstance(value, dt.datetime) or value.utcoffset() is None:
        raise _refuse(
            error,
            value,
            key,
            "pass a moment with its zone, such as datetime(2027, 6, 6, 4, 9, tzinfo=timezone.utc)",
        )
    return value


def text(value: Any, key: str, error: type[BackbearingError]) -> str:
    """Take a text."""
    if not isinstance(value, str):
        raise _refuse(error, value, key, "pass a text")
    return value


def instance(value: Any, kind: type[_T], key: str, error: type[BackbearingError], hint: str) -> _T:
    """Take a value of one of this package's own kinds."""
    if not isinstance(value, kind):
        raise _refuse(error, value, key, hint)
    return value


def _refuse(error: type[BackbearingError], value: Any, key: str, hint: str) -> BackbearingError:
    told = " ".join(shown(value).split())
    return error(f"{key} is {told}", hint=hint, key=key)
