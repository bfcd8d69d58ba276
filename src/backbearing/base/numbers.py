"""Numbers as people read them: one place in which every shown number is made.

Nothing that is not a number is shown as one, and zero has no sign: an unknown value is
``unknown``, a boundless one ``no limit``, and what rounds to nothing is ``0``.
"""

from __future__ import annotations

import math
from typing import Final

UNKNOWN: Final = "unknown"
BOUNDLESS: Final = "no limit"


def num(
    value: float | None, places: int | None = None, *, sign: bool = False, digits: int = 6
) -> str:
    """Write a number.

    Parameters
    ----------
    value : float or None
        NaN and None are unknown.
    places : int, optional
        So many decimals; ``digits`` significant ones, and no more than it has, when left out.
    sign : bool
        Whether a positive number carries its sign too.
    digits : int
        Significant digits where ``places`` is left out.

    Examples
    --------
    >>> num(8.25, 1), num(-0.04, 1), num(12.5), num(3.0, 1, sign=True)
    ('8.2', '0.0', '12.5', '+3.0')
    >>> num(float("nan"), 1), num(None), num(float("inf"))
    ('unknown', 'unknown', 'no limit')
    """
    if value is None or math.isnan(value):
        return UNKNOWN
    if math.isinf(value):
        return BOUNDLESS
    shown = f"{value:.{digits}g}" if places is None else f"{value:.{places}f}"
    if float(shown) == 0.0:
        return shown.removeprefix("-")
    return f"+{shown}" if sign and value > 0.0 else shown


def figures(value: float | None, digits: int = 2) -> str:
    """Write a number with so many significant digits, and never with an exponent.

    Examples
    --------
    >>> figures(1102.3), figures(0.01742), figures(2.0), figures(157.4, 3), figures(1.2e-7)
    ('1100', '0.017', '2', '157', '0.00000012')
    """
    if value is None or not math.isfinite(value) or value == 0.0:
        return num(value)
    places = digits - 1 - math.floor(math.log10(abs(value)))
    shown = f"{round(value, places):.{max(places, 0)}f}"
    return shown.rstrip("0").removesuffix(".") if "." in shown else shown


def per_cent(value: float | None) -> str:
    """Write a share of one in whole per cent: ``36%``."""
    shown = num(None if value is None else 100.0 * value, 0)
    return shown if shown in (UNKNOWN, BOUNDLESS) else f"{shown}%"


def counted(count: float, things: str, thing: str | None = None) -> str:
    """Write how many: ``1 lens``, ``3 lenses``; ``thing`` where it is not ``things`` less an s."""
    shown = num(count)
    return f"{shown} {(thing or things.removesuffix('s')) if shown == '1' else things}"


def rounded(value: float, places: int) -> float:
    """Round a number that a page or file carries as a number: zero has no sign."""
    return round(float(value), places) + 0.0


def unsigned(value: float) -> float:
    """Zero without a sign for minus zero; every other number as it is."""
    return value + 0.0
