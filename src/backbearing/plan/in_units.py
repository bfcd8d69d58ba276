"""A plan as it is read: every sentence of ours in the units that a person asked for."""

from __future__ import annotations

import dataclasses
import math
from typing import TYPE_CHECKING, Any, Final, TypeVar

from backbearing.base.units import METRIC

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

T = TypeVar("T")

FOREIGN: Final = frozenset(
    {"name", "kind", "note", "credit", "emergency_number", "zone", "version"}
)
"""Fields whose text is not a sentence of ours."""

_WITHOUT: Final = frozenset(
    {"arc", "skyline_all_round", "sky_path", "moon_path", "ground_within", "places", "subject",
     "camera", "lens", "target", "framing", "light_request"}
)  # fmt: skip
"""Parts that hold no sentence, and are many or what was asked."""


def in_units(plan: Plan, units: Units) -> Plan:
    """Give a plan whose sentences say lengths in these units; its numbers stay in metres.

    For writers that a person reads; JSON takes the plan as it is.
    """
    if units == METRIC:
        return plan
    return read_in(plan, units, foreign_names(plan))


def view_in_units(view: View, units: Units) -> View:
    """Give a view whose caption says lengths in these units."""
    return dataclasses.replace(view, caption=units.sentence(view.caption))


def foreign_names(plan: Plan) -> frozenset[str]:
    """Names from the user's files that a sentence may hold."""
    names = {plan.name, plan.subject.name, plan.target.name, plan.ground.credit}
    names |= {text for place in plan.places for text in (place.name, place.note)}
    names |= {text for lens in plan.lenses for text in (lens.lens.name, lens.lens.label)}
    names |= set(plan.ground.cover.split(", "))
    return frozenset(_spellings(names))


def _spellings(names: set[str]) -> Iterator[str]:
    """As in the file, and as a sentence that was made one line has them."""
    for name in names:
        yield name
        yield " ".join(name.split())


def read_in(value: T, units: Units, keep: frozenset[str]) -> T:
    """Rewrite every sentence within a value, which may be of other values."""
    if units == METRIC:
        return value
    found: Any = _Reader(units, keep).read(value)
    return found  # type: ignore[no-any-return]


class _Reader:
    """Rewrites values; what was one value in two places is one value again."""

    def __init__(self, units: Units, keep: frozenset[str]) -> None:
        self.units, self.keep = units, keep
        self.made: dict[int, Any] = {}
        self.lengths_m: tuple[float, ...] = ()

    def read(self, value: Any) -> Any:
        if isinstance(value, str):
            return self.units.sentence(value, self.keep, self.lengths_m)
        if type(value) is tuple:
            made = tuple(self.read(one) for one in value)
            return value if all(a is b for a, b in zip(value, made, strict=True)) else made
        if not dataclasses.is_dataclass(value) or isinstance(value, type):
            return value
        if id(value) not in self.made:
            self.made[id(value)] = self._rewritten(value)
        return self.made[id(value)]

    def _rewritten(self, value: Any) -> Any:
        changes = {}
        outer, own = self.lengths_m, tuple(_lengths(value))
        for field in dataclasses.fields(value):
            self.lengths_m = own  # again, since a part within had its own
            if field.init and field.name not in FOREIGN and field.name not in _WITHOUT:
                old = getattr(value, field.name)
                new = self.read(old)
                if new is not old and not (isinstance(new, str) and new == old):
                    changes[field.name] = new
        self.lengths_m = outer
        return dataclasses.replace(value, **changes) if changes else value


def _lengths(value: Any, depth: int = 1) -> Iterator[float]:
    """Lengths of a value and of its parts, metres: its sentences tell of them."""
    for field in dataclasses.fields(value):
        part = getattr(value, field.name)
        if isinstance(part, float):
            if field.name.endswith("_m") and math.isfinite(part):
                yield part
        elif depth and dataclasses.is_dataclass(part) and not isinstance(part, type):
            yield from _lengths(part, depth - 1)
