"""The lenses beside one another on the terminal, with focus, rules and light in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.text import terminal_safe
from backbearing.base.units import METRIC
from backbearing.plan.comparison import (
    COMPARED,
    compare_lenses,
    comparison_note,
    rules_of,
    sentences_of,
    words_of,
)
from backbearing.plan.in_units import in_units
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan


def print_comparison(
    out: Screen, plan: Plan, units: Units = METRIC, *, everything: bool = True, then: str = ""
) -> None:
    """Print the comparison; with everything the common rules and a few words for each lens."""
    out.title(f"{terminal_safe(plan.subject.name)}: the lenses at their stands")
    rows = compare_lenses(plan)
    _table(out, COMPARED, [(row.lens, words_of(row, units)) for row in rows])
    out.say(comparison_note(plan))
    if not everything:
        out.say("Care: shutter and focus are modelled, not measured: try them by day. More: --all.")
        out.say(f"Next: {then}", hang=2)
        return
    _print_rules(out, plan)
    for lens_plan in at_turns(in_units(plan, units)).lenses:
        for said in sentences_of(lens_plan):
            out.labelled(lens_plan.lens.label, said)


def _table(out: Screen, names: tuple[str, ...], columns: list[tuple[str, tuple[str, ...]]]) -> None:
    cells = [cells for _, cells in columns]
    out.facts(["lens", *(label for label, _ in columns)], list(zip(names, *cells, strict=True)))


def _print_rules(out: Screen, plan: Plan) -> None:

    labels, rules = rules_of(plan)
    if not labels:
        return
    names = tuple(name for name, _ in rules)
    columns = [(label, tuple(cells[i] for _, cells in rules)) for i, label in enumerate(labels)]
    out.title("Beside it: common rules, and the trail in px they leave mid-frame")
    _table(out, names, columns)
