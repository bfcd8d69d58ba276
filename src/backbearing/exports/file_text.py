"""Text on its way into a file: foreign names kept harmless, facts said in sentences.

Names come from the user's own files and are hostile until shown otherwise. A name that
fills a field of its own stays letter for letter; within a sentence it keeps its writing
direction to itself.
"""

from __future__ import annotations

import datetime as dt
import math
import re
import unicodedata
from typing import TYPE_CHECKING, Final, NamedTuple
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num
from backbearing.base.text import degrees, rise_words
from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.plan.place import Place
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan, Stand

NOT_UTF8: Final = re.compile("[\x00\ud800-\udfff]")
"""What no UTF-8 text file or database column can hold."""

NOT_XML: Final = re.compile("[^\t\n\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""What lies outside Char of XML 1.0 ([XML2008]_ production 2)."""

NOT_PLAIN: Final = re.compile("[\x00-\x09\x0b-\x1f\x7f\ud800-\udfff]")
"""Controls other than the line end, which RFC 4180 and RFC 5545 keep out of text."""

NOT_COLUMN: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]")
"""Controls other than tab and line end, which steer whatever shows a table."""

DIRECTION: Final = re.compile("[\u202a-\u202e\u2066-\u2069]")
"""What embeds, overrides or isolates the writing direction ([UAX9]_)."""

_OPENERS: Final = "\u2066\u2067\u2068"
_FIRST_STRONG, _CLOSER = "\u2068", "\u2069"
_TURNING: Final = {
    *("R", "AL", "AN", "LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"),
}


def visible(text: str, refused: re.Pattern[str]) -> str:
    r"""Make a text fit for a field of its own.

    Line ends become ``\n``, and what the format cannot hold its code point. Text that turns the
    writing direction by control characters keeps that to itself ([UAX9]_); every other text
    stays letter for letter.
    """
    plain = _held(text, refused)
    if not DIRECTION.search(plain):
        return plain
    return "\n".join(
        _isolated(line) if DIRECTION.search(line) else line for line in plain.split("\n")
    )


def _held(text: str, refused: re.Pattern[str]) -> str:
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return refused.sub(lambda found: f"<U+{ord(found.group()):04X}>", text)


def inline(text: str) -> str:
    """Give foreign text for use within a sentence: one line, its direction its own ([UAX9]_)."""
    line = " ".join(_held(text, NOT_XML).split())
    if not any(unicodedata.bidirectional(character) in _TURNING for character in line):
        return line
    return _isolated(line)


def _isolated(line: str) -> str:
    """Close in a line what it opens, and nothing that it did not."""
    depth, kept = 0, []
    for character in line:
        if character in _OPENERS:
            depth += 1
        elif character == _CLOSER:
            if depth == 0:
                kept.append("<U+2069>")
                continue
            depth -= 1
        kept.append(character)
    return _FIRST_STRONG + "".join(kept) + _CLOSER * (depth + 1)


def utc(moment: dt.datetime) -> str:
    """Write a moment as ISO 8601 in UTC, to the second: ``2027-06-06T06:12:00Z``."""
    return moment.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def wall(moment: dt.datetime, zone: str) -> str:
    """Write a moment as ISO 8601 on the local wall clock: ``2027-06-06T02:12:00-04:00``."""
    return moment.astimezone(ZoneInfo(zone)).isoformat(timespec="seconds")


def height_reference_words(height_reference: str) -> str:
    """Say what heights are counted from, or that the raster does not say."""
    if height_reference:
        return inline(height_reference)
    return "the elevation raster's own zero, which it does not name"


class Said(NamedTuple):
    """What heights count from, and in which units lengths are read."""

    height_reference: str = ""
    units: Units = METRIC


def stand_lines(
    plan: Plan, lens_plan: LensPlan, height_reference: str, units: Units = METRIC
) -> list[str]:
    """Say a stand in sentences, its cautions last; without a stand say why."""
    stand = lens_plan.stand
    if stand is None:
        return [f"No stand: {inline(lens_plan.sentence)}"]
    local = stand.time.astimezone(ZoneInfo(plan.zone))
    magnetic = ""
    if math.isfinite(stand.bearing_magnetic_deg):
        magnetic = f", {degrees(stand.bearing_magnetic_deg)} magnetic ({plan.magnetic_model})"
    return [
        f"Moment: {utc(stand.time)}, local {local:%H:%M %Z} ({plan.zone}).",
        (
            f"{inline(plan.subject.name)} stands {units.length(stand.distance_m)} away at "
            f"{degrees(stand.bearing_deg)} true{magnetic}; lens axis {degrees(stand.pitch_deg)} up."
        ),
        _swing(stand, units),
        _clearance(stand),
        f"Shutter {num(lens_plan.shutter_s)} s. {inline(lens_plan.sentence)}",
        f"Ground {stand_height(stand, height_reference, units)}.",
        (
            f"Position within about {units.length(stand.position_sigma_m)} (one standard "
            "deviation); place the tripod by tape or paces and by the bearing, not by GPS."
        ),
        *(f"Caution: {inline(caution)}" for caution in stand.cautions),
    ]


def _clearance(stand: Stand) -> str:
    rise = rise_words(stand.clearance_bias_deg)
    return (
        f"Target over the skyline by {degrees(stand.clearance_deg)} (one standard deviation "
        f"{degrees(stand.clearance_sigma_deg)}{'; ' + rise if rise else ''}): {stand.verdict}."
    )


def _swing(stand: Stand, units: Units) -> str:
    step_m = 5.0 * stand.swing_m_per_minute
    if not math.isfinite(step_m):
        return "How far the stand moves in a minute is unknown."
    side = "left" if step_m >= 0.0 else "right"
    step = units.small(abs(step_m), 2)
    return f"Every 5 minutes it moves {step} to the {side}, facing the subject."


def stand_height(stand: Stand, height_reference: str, units: Units = METRIC) -> str:
    """Say how high the ground at a stand lies, over what, and how that is known."""
    if not math.isfinite(stand.ground_m):
        return "height unknown"
    return (
        f"{units.small(stand.ground_m)} above {height_reference_words(height_reference)} "
        f"(from: {stand.ground_source})"
    )


def subject_lines(plan: Plan, height_reference: str, units: Units = METRIC) -> list[str]:
    """Say the subject in sentences."""
    subject = plan.subject
    kind = f", {inline(subject.kind)}" if subject.kind else ""
    lines = [f"{inline(subject.name)}{kind}, {units.length(subject.height_m)} high."]
    if math.isfinite(plan.subject_ground_m):
        known = "set by hand" if subject.ground_m is not None else "from: raster"
        lines.append(
            f"Ground {units.small(plan.subject_ground_m)} above "
            f"{height_reference_words(height_reference)} ({known})."
        )
    return lines


def place_lines(place: Place) -> list[str]:
    """Say one of the user's own places in sentences."""
    note = [inline(place.note)] if place.note else []
    return [f"{place.kind.capitalize()}; access: {place.access}.", *note]


def plan_lines(plan: Plan) -> list[str]:
    """Say the whole plan: the night, lenses without a stand, and what to take care of."""
    left_out = [
        f"{lens_plan.lens.label}: {stand_lines(plan, lens_plan, '')[0]}"
        for lens_plan in plan.lenses
        if lens_plan.stand is None
    ]
    dark = [f"No dark window: {inline(plan.dark_reason)}"] if plan.dark_reason else []
    return [
        (
            f"Night that begins on {plan.evening.isoformat()}, zone {plan.zone}; "
            f"target {inline(plan.target.name)}."
        ),
        *dark,
        *left_out,
        *caution_lines(plan),
    ]


def caution_lines(plan: Plan) -> list[str]:
    """Give the cautions that hold for the whole plan, and whom to call if that was filled in."""
    call = [f"Emergency number: {inline(plan.emergency_number)}"] if plan.emergency_number else []
    return [*(f"Caution: {inline(caution)}" for caution in plan.cautions), *call]
