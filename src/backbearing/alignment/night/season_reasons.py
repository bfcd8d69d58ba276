"""Nights without a window, neighbours with one cause taken together."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.numbers import num

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.plan.season import Night, Season


@dataclass(frozen=True, slots=True)
class Spell:
    """Consecutive nights that have no window for the same cause, and a sentence for all."""

    nights: tuple[Night, ...]
    why_not: str


def spells_without(season: Season) -> tuple[Spell, ...]:
    """Gather a season's nights without a window, in order of time.

    Neighbours are joined where they have one sentence, or where it differs in its numbers
    alone: those are then given from least to most.
    """
    return tuple(
        Spell(nights, _sentence(nights))
        for key, run in groupby(season.nights, key=_kind)
        if key and (nights := tuple(run))
    )


def _kind(night: Night) -> str:
    """What nights of one spell share: the cause where numbers differ, else the sentence."""
    if night.outcome != "no darkness":
        return night.why_not
    return f"no darkness {np.isfinite(night.glow_least_mag)}"


def _sentence(nights: Sequence[Night]) -> str:
    first = nights[0]
    if len({night.why_not for night in nights}) == 1:
        return first.why_not
    depth = first.events.sun_below_deg
    name = "astronomical darkness" if depth == -18.0 else "darkness as asked"
    lowest = _range([night.events.sun_lowest_deg for night in nights], "°")
    said = f"No {name}: the Sun goes no lower than {lowest}, and {num(depth)}° was asked."
    rest = {night.why_not.partition("was asked.")[2] for night in nights}
    glow = [night.glow_least_mag for night in nights]
    if len(rest) == 1:
        said += rest.pop()
    elif np.isfinite(glow).all():
        said += f" At best twilight still brightens the target's sky by {_range(glow, ' mag')}."
    return said


def _range(values: Sequence[float], unit: str) -> str:
    low, high = f"{num(min(values), 1)}", f"{num(max(values), 1)}"
    return f"{low}{unit}" if low == high else f"{low} to {high}{unit}"
