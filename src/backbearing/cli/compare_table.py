"""The lenses beside one another on the terminal, with focus, rules and light in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.text import terminal_safe
from backbearing.plan.comparison import (
    COMPARED,
    compare_lenses,
    comparison_note,
    rules_of,
    sentences_of,
    words_of,
)
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from backbearing.plan.plan import Plan


def print_comparison(out: Console, plan: Plan) -> None:
    """Print the comparison, the common rules beside it, and a few words for each lens."""
    from rich.text import Text

    out.print(Text(f"{terminal_safe(plan.subject.name)}: the lenses at their stands", style="bold"))
    rows = compare_lenses(plan)
    out.print(_table(COMPARED, [(row.lens, words_of(row)) for row in rows]))
    out.print(Text(comparison_note(plan)))
    _print_rules(out, plan)
    for lens_plan in at_turns(plan).lenses:
        for said in sentences_of(lens_plan):
            out.print(Text.assemble((f"{lens_plan.lens.label:>6}  ", "bold"), said))


def _table(names: tuple[str, ...], columns: list[tuple[str, tuple[str, ...]]]) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("lens", no_wrap=True, min_width=max(map(len, names)))
    for label, _ in columns:
        table.add_column(terminal_safe(label), justify="right", no_wrap=True)
    for i, name in enumerate(names):
        table.add_row(name, *(Text(cells[i]) for _, cells in columns))
    return table


def _print_rules(out: Console, plan: Plan) -> None:
    from rich.text import Text

    labels, rules = rules_of(plan)
    if not labels:
        return
    names = tuple(name for name, _ in rules)
    columns = [(label, tuple(cells[i] for _, cells in rules)) for i, label in enumerate(labels)]
    out.print(
        Text("Beside it: common rules, and the trail in px they leave mid-frame", style="bold")
    )
    out.print(_table(names, columns))
