"""How an explained number is printed."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import num
from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from collections.abc import Container

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.explain.plan import Explanation

STEPS: Final = {"left_m": ("left", "right"), "back_m": ("back", "forward")}
"""What a step is called above and below nought."""


def print_one(
    out: Screen, one: Explanation, units: Units, known: Container[str] | None = None
) -> None:
    """Print a number with what it is, its formula, inputs and sources, and how sure it is.

    ``known`` holds the names that the file has, where numbers come from one.
    """
    read = _read(one, units)
    out.title(f"{one.name} = {value_words(one.value)} {unit_words(one)}".rstrip() + read)
    out.say(f"what     {one.meaning}", indent=2, hang=9)
    out.say(f"formula  {one.formula}", indent=2, hang=9)
    for key, value in one.inputs.items():
        lacking = known is not None and key not in known
        said = "not in this file" if lacking else value_words(value)
        out.say(f"input    {key} = {said}", indent=2, hang=9)
    for source in one.sources:
        out.say(f"source   {source}", indent=2, hang=9)
    if one.sure:
        out.say(f"sure     {one.sure}", indent=2, hang=9)
    out.blank()


def _read(one: Explanation, units: Units) -> str:
    """A length as one walks it: in the asked units, and never a step back of less than nothing."""
    if one.unit not in ("m", "metres") or not isinstance(one.value, float):
        return ""
    ways = STEPS.get(one.name.rpartition(".")[2])
    if ways is not None and isfinite(one.value):
        return f" ({units.small(abs(one.value))} {ways[one.value < 0.0]})"
    return "" if units == METRIC else f" ({units.length(one.value)})"


def value_words(value: object) -> str:
    """A value as text; none where it is unknown."""
    if value is None or value == "":
        return "none"
    if isinstance(value, list):
        return ", ".join(value_words(one) for one in value)
    return num(value, digits=7) if isinstance(value, float) else str(value)


def unit_words(one: Explanation) -> str:
    """The unit, of one where it is one: ``minute``; none behind a time in Z."""
    if one.unit == "UTC" and str(one.value).endswith("Z"):
        return ""
    a_word = one.unit.isalpha() and len(one.unit) > 3
    return one.unit.removesuffix("s") if a_word and value_words(one.value) == "1" else one.unit
