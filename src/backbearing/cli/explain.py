"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from backbearing.base.lazy import Later
from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe
from backbearing.cli.common import at_option, console, json_switch, outing_argument, print_json
from backbearing.explain.names import check_name, part_of
from backbearing.explain.nights import NIGHT_FACTS, night_explanations
from backbearing.explain.plan import explain, explanations, matching
from backbearing.explain.session import SESSION_FACTS, session_explanations
from backbearing.outing.lens_labels import lens_labels

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from backbearing.alignment.night import plan_night, plan_season
    from backbearing.explain.plan import Explanation
    from backbearing.outing import load
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
else:
    # A name that is misspelt is answered without them.
    load = Later("backbearing.outing.load")
    plan_night = Later("backbearing.alignment.night.plan_night")
    plan_season = Later("backbearing.alignment.night.plan_season")


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
    labels = lens_labels(outing)
    if name is not None and labels:
        check_name(name, labels)
    asked = load.load_outing(outing)
    part = None if name is None else part_of(name)
    if name is not None and part == "lens":
        return explain(_plan(replace(asked, session=None), at), name)
    if name is not None and part == "session":
        plan = _plan(asked, at)
        return matching(session_explanations(plan), name, SESSION_FACTS)
    lat, lon = stand or (None, None)
    season = plan_season.plan_season(asked, nights=1, stand_lat=lat, stand_lon=lon)
    known = night_explanations(season)
    if name is not None:
        return matching(known, name, NIGHT_FACTS)
    plan = _plan(asked, at)
    return [
        *explanations(plan).values(),
        *session_explanations(plan).values(),
        *known.values(),
    ]


def _plan(asked: Outing, at: str | None) -> Plan:
    return plan_night.plan_night(asked, at=at, whole_skyline=False)


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
