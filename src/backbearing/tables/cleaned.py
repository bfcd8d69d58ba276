"""Names and places of a file made harmless, and checked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LONGEST_NAME: Final = 200


def clean(text: str, longest: int) -> str:
    """Make a foreign name harmless: visible characters, one line, no longer than this."""
    if len(text) > longest:
        text = text[: longest - 1] + "…"
    if not text.isprintable():
        text = terminal_safe(text)
    return " ".join(text.split())


def check_places(lat: Floats, lon: Floats, faults: dict[int, str]) -> None:
    """Note rows whose place is missing or off the globe."""
    with np.errstate(invalid="ignore"):
        off = (np.abs(lat) > 90.0) | (np.abs(lon) > 180.0)
    for i in np.flatnonzero(np.isnan(lat) | np.isnan(lon)):
        blank = (("lat", lat[i]), ("lon", lon[i]))
        missing = " and ".join(key for key, value in blank if np.isnan(value))
        verb = "are" if " " in missing else "is"
        faults.setdefault(int(i), f"{missing} {verb} missing; write WGS84 degrees")
    for i in np.flatnonzero(off):
        swapped = abs(lat[i]) <= 180.0 and abs(lon[i]) <= 90.0
        hint = "are lat and lon swapped?" if swapped else "write WGS84 degrees"
        faults.setdefault(
            int(i),
            f"lat {num(lat[i], digits=8)}, lon {num(lon[i], digits=8)} lies off the globe; {hint}",
        )
