"""Stands as rows of named facts: one set of names for tables, layers and extended data."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from backbearing.base.numbers import num, unsigned
from backbearing.exports.file_text import height_reference_words, utc, wall

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

CellValue = str | float | bool | None

STAND_NUMBERS = (
    *("lat", "lon", "ground_m", "distance_m", "bearing_deg", "bearing_magnetic_deg", "pitch_deg"),
    *("share", "target_azimuth_deg", "target_altitude_deg", "target_x", "target_y"),
    *("skyline_deg", "skyline_distance_m", "clearance_deg", "clearance_sigma_deg"),
    *("clearance_bias_deg", "canopy_clearance_deg", "skyline_break_deg", "play_m", "play_minutes"),
    *("swing_m_per_minute", "position_sigma_m"),
)
"""Fields of ``Stand`` that go out as numbers under their own names."""

STAND_NAMES = (
    *("time_utc", "time_local", *STAND_NUMBERS, "in_frame", "verdict", "ground_source"),
    *("height_reference", "shutter_s", "sentence", "cautions"),
)
"""Keys of ``stand_row``, in order."""


def stand_row(plan: Plan, lens_plan: LensPlan, height_reference: str) -> dict[str, CellValue]:
    """Give a lens's stand as named facts; without a stand only its sentence.

    Unknown is None. Angles are degrees, azimuths from true north, lengths metres.
    """
    row: dict[str, CellValue] = dict.fromkeys(STAND_NAMES)
    row["sentence"] = lens_plan.sentence
    if lens_plan.stand is not None:
        row |= _facts(plan, lens_plan.stand)
        row["shutter_s"] = known(lens_plan.shutter_s)
        row["height_reference"] = height_reference_words(height_reference)
    return row


def _facts(plan: Plan, stand: Stand) -> dict[str, CellValue]:
    return {
        "time_utc": utc(stand.time),
        "time_local": wall(stand.time, plan.zone),
        **{name: known(getattr(stand, name)) for name in STAND_NUMBERS},
        "in_frame": stand.in_frame,
        "verdict": stand.verdict,
        "ground_source": stand.ground_source,
        "cautions": "\n".join(stand.cautions),
    }


def known(number: float) -> float | None:
    """Give a finite number as it is, and None for one that is unknown."""
    return unsigned(float(number)) if math.isfinite(number) else None


def written(name: str, fact: CellValue) -> str:
    """Write a fact as text, numbers to the decimals that mean something; None is empty."""
    if fact is None or isinstance(fact, str):
        return fact or ""
    if isinstance(fact, bool):
        return "yes" if fact else "no"
    return num(fact, _decimals(name))


def _decimals(name: str) -> int:
    if name in ("lat", "lon"):
        return 7  # about a centimetre
    return 2 if name.endswith(("_m", "_minutes")) else 4
