"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backbearing.alignment.night.plan_night import plan_night
from backbearing.alignment.night.plan_season import plan_season
from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe
from backbearing.cli.common import at_option, console, json_switch, outing_argument, print_json
from backbearing.explain.nights import NIGHT_FACTS, night_explanations
from backbearing.explain.plan import explain, explanations, matching
from backbearing.explain.session import SESSION_FACTS, session_explanations
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from backbearing.explain.plan import Explanation


SESSION_PARTS = {"session", "shot", "turn", "placing", "walk", "light"}


@click.command("explain", help="Inputs, formula and source behind any number of the plan.")
@outing_argument
@click.argument("name", required=False)
@at_option
@click.option(
    "--from-stand",
    "stand",
    nargs=2,
    type=float,
    metavar="LAT LON",
    help="For numbers called crossing.*: the fixed stand.",
)
@json_switch
def command(  # noqa: D103
    outing: Path, name: str | None, at: str | None, stand: tuple[float, float] | None, as_json: bool
) -> None:
    chosen = _chosen(outing, name, at, stand)
    if as_json:
        print_json({"format": "backbearing-explain", "version": 1, "explanations": chosen})
    elif name:
        for one in chosen:
            _print_one(console(), one)
    else:
        for one in chosen:
            click.echo(f"{one.name:32} {_value(one.value):>14} {_unit(one):18} {one.meaning}")


def _chosen(
    outing: Path, name: str | None, at: str | None, stand: tuple[float, float] | None
) -> list[Explanation]:
    """Explain the plan's numbers, those of `nights` and those of the session by their part."""
    asked = load_outing(outing)
    of_nights = name is not None and name.split(".")[0] in {"window", "night", "crossing"}
    of_session = name is not None and name.split(".")[0] in SESSION_PARTS
    if name is not None and of_session:
        return matching(session_explanations(plan_night(asked, at=at)), name, SESSION_FACTS)
    if name is not None and not of_nights:
        return explain(plan_night(asked, at=at), name)
    lat, lon = stand or (None, None)
    season = plan_season(asked, nights=1, stand_lat=lat, stand_lon=lon)
    known = night_explanations(season)
    if name is not None:
        return matching(known, name, NIGHT_FACTS)
    plan = plan_night(asked, at=at)
    return [
        *explanations(plan).values(),
        *session_explanations(plan).values(),
        *known.values(),
    ]


def _print_one(out: Console, one: Explanation) -> None:

    out.print(f"{one.name} = {_value(one.value)} {_unit(one)}", style="bold")
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
    return num(value, digits=7) if isinstance(value, float) else str(value)


def _unit(one: Explanation) -> str:
    """The unit, of one where it is one: ``minute``, ``metre``."""
    a_word = one.unit.isalpha() and len(one.unit) > 3
    return one.unit.removesuffix("s") if a_word and _value(one.value) == "1" else one.unit
