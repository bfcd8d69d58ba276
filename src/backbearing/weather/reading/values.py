"""Cloud cover as files write it, to shares of one: units stated, values within them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import SkyError
from backbearing.base.numbers import num

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

FULL: Final = {
    **dict.fromkeys(("1", "fraction", "(0 - 1)", "0-1", "0 - 1", "(0-1)"), 1.0),
    **dict.fromkeys(("%", "percent", "per cent"), 100.0),
    **dict.fromkeys(("okta", "oktas", "octas", "octa"), 8.0),
}
"""What a covered sky is in each unit."""

OBSCURED_OKTAS: Final = 9.0
"""Code figure for a sky that cannot be seen (WMO code table 2700): no cover is known."""

PACKED_SLACK: Final = 0.01
"""Packing may put a value this share of the whole beyond its range; more is refused."""


def shares(values: ArrayLike, unit: str, what: str, name: str) -> NDArray[np.float32]:
    """Turn values of a unit into shares of one; NaN stays.

    Raises
    ------
    SkyError
        For a unit that is none of cloud, or a value outside of it.
    """
    full = FULL.get(unit.strip().lower())
    if full is None:
        raise SkyError(
            f"{name} gives {what} in {unit.strip()[:40]!r}" if unit.strip()
            else f"{name} does not say in which unit its {what} is",
            hint="cloud is read in %, as a fraction (0 to 1) or in oktas",
            file=name,
        )  # fmt: skip
    found = np.array(values, dtype=np.float64)
    if full == 8.0:
        found[found == OBSCURED_OKTAS] = np.nan
    found /= full
    with np.errstate(invalid="ignore"):
        wrong = (found < -PACKED_SLACK) | (found > 1.0 + PACKED_SLACK) | np.isinf(found)
    if wrong.any():
        odd = float(found[wrong].flat[0]) * full
        raise SkyError(
            f"{name} gives a {what} of {num(odd)}, outside 0 to {num(full)} ({unit.strip()})",
            hint="correct the unit, or leave the row out",
            file=name,
            value=odd,
        )
    return np.clip(found, 0.0, 1.0).astype(np.float32)
