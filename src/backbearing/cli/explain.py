"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backbearing.cli.common import at_option, console, json_switch, outing_argument, print_json

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from backbearing.explain import Explanation


@click.command("explain", help="Inputs, formula and source behind any number of the plan.")
@outing_argument
@click.argument("name", required=False)
@at_option
@json_switch
def command(outing: Path, name: str | None, at: str | None, as_json: bool) -> None:  # noqa: D103
    from backbearing.alignment import plan_night
    from backbearing.explain import explain, explanations
    from backbearing.outing import load_outing

    plan = plan_night(load_outing(outing), at=at)
    chosen = explain(plan, name) if name else list(explanations(plan).values())
    if as_json:
        print_json({"format": "backbearing-explain", "version": 1, "explanations": chosen})
    elif name:
        for one in chosen:
            _print_one(console(), one)
    else:
        for one in chosen:
            click.echo(f"{one.name:32} {_value(one.value):>14} {one.unit:18} {one.meaning}")


def _print_one(out: Console, one: Explanation) -> None:
    from backbearing.text import terminal_safe

    out.print(f"{one.name} = {_value(one.value)} {one.unit}", style="bold")
    out.print(f"  what     {one.meaning}")
    out.print(f"  formula  {one.formula}")
    for key, value in one.inputs.items():
        out.print(terminal_safe(f"  input    {key} = {_value(value)}"))
    for source in one.sources:
        out.print(f"  source   {source}")
    out.print()


def _value(value: object) -> str:
    if value is None:
        return "none"
    return f"{value:.7g}" if isinstance(value, float) else str(value)
