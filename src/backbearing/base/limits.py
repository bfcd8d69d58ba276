"""What a length, an angle or a count may be at all: one table, and one sentence for the rest.

The limits are physical or practical and generous: they stand where a value can only be a slip of
the keyboard, a wrong unit or malice, and they keep every formula behind them away from overflow.
Nothing here says what is wise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from numbers import Real
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from backbearing.base.errors import BackbearingError


@dataclass(frozen=True, slots=True)
class Limit:
    """From ``low`` to ``high``, both allowed; ``unit`` as a person says it."""

    low: float
    high: float
    unit: str = ""

    def holds(self, value: float) -> bool:
        """Whether a value lies within; NaN and infinities do not."""
        try:
            return self.low <= value <= self.high
        except (TypeError, ValueError):
            return False

    @property
    def hint(self) -> str:
        """What to write instead."""
        unit = f" {self.unit}" if self.unit else ""
        return f"write a number from {_plain(self.low)} to {_plain(self.high)}{unit}"


LIMITS: Final[Mapping[str, Limit]] = {
    # The subject: the tallest structure built is 828 m high; a wall may be long.
    "height_m": Limit(0.01, 1_000.0, "metres"),
    "width_m": Limit(0.001, 10_000.0, "metres"),
    "height_sigma_m": Limit(0.0, 1_000.0, "metres"),
    "width_sigma_m": Limit(0.0, 10_000.0, "metres"),
    "base_height_m": Limit(-500.0, 1_000.0, "metres"),
    "ground_m": Limit(-500.0, 9_000.0, "metres"),
    "stand_drop_m": Limit(-2_000.0, 2_000.0, "metres"),
    # The target's place; right ascensions are also written from -180 to 180.
    "ra_deg": Limit(-360.0, 360.0, "degrees"),
    "dec_deg": Limit(-90.0, 90.0, "degrees"),
    "galactic_l_deg": Limit(-360.0, 360.0, "degrees"),
    "galactic_b_deg": Limit(-90.0, 90.0, "degrees"),
    # Camera and lens: from a phone's lens to a long telescope, from a thumbnail to a scanned plate.
    "focal_length_mm": Limit(0.5, 20_000.0, "millimetres"),
    "f_number": Limit(0.5, 1_000.0),
    "rise_mm": Limit(-200.0, 200.0, "millimetres"),
    "sensor_width_mm": Limit(0.5, 1_000.0, "millimetres"),
    "sensor_height_mm": Limit(0.5, 1_000.0, "millimetres"),
    "width_px": Limit(8.0, 200_000.0, "pixels"),
    "height_px": Limit(8.0, 200_000.0, "pixels"),
    "accepted_trail_px": Limit(0.01, 10_000.0, "pixels"),
    "accepted_blur_px": Limit(0.01, 10_000.0, "pixels"),
    # Exposure.
    "iso": Limit(0.001, 10_000_000.0),
    "base_iso": Limit(0.001, 10_000_000.0),
    "gain": Limit(0.001, 1_000_000.0),
    "frames": Limit(1.0, 100_000.0, "frames"),
    "pause_s": Limit(0.0, 86_400.0, "seconds"),
    "quantum_efficiency": Limit(0.000_001, 1.0, "electrons for each photon"),
    "bandwidth_nm": Limit(0.01, 10_000.0, "nanometres"),
    "read_noise_e": Limit(0.001, 100_000.0, "electrons"),
    "full_well_e": Limit(1.0, 1e9, "electrons"),
    # What is known how well, and the ground.
    "vertical_sigma_m": Limit(0.001, 1_000.0, "metres"),
    "relative_sigma_m": Limit(0.001, 1_000.0, "metres"),
    "error_range_m": Limit(1.0, 1_000_000.0, "metres"),
    "position_sigma_m": Limit(0.0, 10_000.0, "metres"),
    "clearing_m": Limit(0.0, 100_000.0, "metres"),
}
"""By the name of a key in an outing file, which is also the field's name in Python."""

LONGEST_NAME: Final = 200
"""Letters of a name; longer ones fit on no sheet, and not in the name of a file."""

LONGEST_TEXT: Final = 2_000
"""Letters of a note or a credit."""

LONGEST_PATH: Final = 1_000
"""Letters of a path."""


def beyond_limits(key: str, value: Any) -> tuple[str, str] | None:
    """Say what is wrong with a value and what to write, or None where it holds or has no limit.

    Parameters
    ----------
    key : str
        In `LIMITS`; other keys have none.
    value : Any
        None stands for "not given" and holds.
    """
    limit = LIMITS.get(key)
    if limit is None or value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, Real):
        return f"{key} is {shown(value)}", limit.hint
    number = float_or_inf(value)
    if limit.holds(number):
        return None
    above = "a number above zero, from" if number <= 0.0 < limit.low else "a number from"
    return f"{key} is {shown(value)}", limit.hint.replace("a number from", above)


def check_limits(owner: Any, error: type[BackbearingError]) -> None:
    """Hold every field of a dataclass that has a limit to it.

    Raises
    ------
    BackbearingError
        Of the kind asked for, for the first field that lies beyond; its key is the field's name.
    """
    for key, value in _limited(owner):
        wrong = beyond_limits(key, value)
        if wrong is not None:
            raise error(wrong[0], hint=wrong[1], key=key, value=value)


def float_or_inf(value: Any) -> float:
    """Take a number for a double; whole numbers too large for one become infinite."""
    try:
        return float(value)
    except OverflowError:
        return math.inf


def shown(value: Any, longest: int = 60) -> str:
    """Write a value as the file has it, cut to a length that a sentence can bear."""
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 10**15:
        return "a whole number of 16 digits or more"
    if isinstance(value, str | bytes | Sequence) and len(value) > 4 * longest:
        value = value[: 4 * longest]
    text = " ".join(repr(value).split())
    return text if len(text) <= longest else text[: longest - 3] + "..."


def _limited(owner: Any) -> Iterator[tuple[str, Any]]:
    for field in fields(owner):
        if field.name in LIMITS:
            yield field.name, getattr(owner, field.name)


def _plain(value: float) -> str:
    return num(value, 0) if value.is_integer() else num(value)
