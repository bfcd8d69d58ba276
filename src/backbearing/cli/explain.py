"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING, Final

import click

from backbearing.base.lazy import Later
from backbearing.base.numbers import counted, num
from backbearing.base.units import METRIC
from backbearing.cli.common import all_switch, at_option, json_switch, outing_argument, print_json
from backbearing.cli.screen import SCREEN_LINES, Screen
from backbearing.explain.names import check_name
from backbearing.outing.lens_labels import lens_labels

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.base.units import Units
    from backbearing.explain.plan import Explanation
    from backbearing.outing import kit_given, load
    from backbearing.outing.request import Outing
    from backbearing.workflows import explained
else:
    # A name that is misspelt is answered without them.
    explained = Later("backbearing.workflows.explained")
    kit_given = Later("backbearing.outing.kit_given")
    load = Later("backbearing.outing.load")

STEPS: Final = {"left_m": ("left", "right"), "back_m": ("back", "forward")}
"""What a step is called above and below nought."""


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
@all_switch
@json_switch
def command(  # noqa: D103
    outing: Path,
    name: str | None,
    at: str | None,
    stand: tuple[float, float] | None,
    everything: bool,
    as_json: bool,
) -> None:
    labels = lens_labels(outing)
    if name is not None and labels:
        check_name(name, labels)
    asked = load.load_outing(outing)
    chosen, turns = explained.explained(asked, name, at=at, stand=stand)
    if as_json:
        print_json({"format": "backbearing-explain", "version": 1, "explanations": chosen})
        return
    out = Screen()
    units = asked.units
    if name and turns is not None:
        _print_turned(out, chosen, turns, units, both=everything)
    elif name:
        for one in chosen:
            _print_one(out, one, units)
    elif everything:
        heads = ("number", "value", "unit", "what")
        rows = [(one.name, _value(one.value), _unit(one), one.meaning) for one in chosen]
        out.listing(heads, rows, left={"unit"}, words={"what"})
    else:
        _print_parts(out, chosen, outing)
    if name:
        _print_kit(out, outing, asked, chosen)
    out.show()


def _print_kit(out: Screen, outing: Path, asked: Outing, chosen: list[Explanation]) -> None:
    """Say which of the inputs shown stand in the kit and not in the outing."""
    given = kit_given.given_by_kit(outing)
    if given is None:
        return
    labels = [lens.lens.label.replace(" ", "") for lens in asked.lenses]
    whose: dict[str, list[str]] = {}
    for one in chosen:
        of_lens = dict(zip(labels, given.lenses, strict=True)).get(one.name.split(".")[0], {})
        known = {**given.common, **of_lens}
        for key in one.inputs:
            if key in known and key not in whose.setdefault(known[key], []):
                whose[known[key]].append(key)
    said = "; ".join(f"{', '.join(keys)} of {thing}" for thing, keys in whose.items() if keys)
    if said:
        out.say(f"From your kit {given.file}: {said}.", hang=2)


def _print_turned(
    out: Screen,
    alone: list[Explanation],
    turns: Mapping[str, Explanation],
    units: Units,
    *,
    both: bool,
) -> None:
    """With a session the turn is the plan: print that, and the lens by itself as a remark."""
    for one in alone:
        turn = turns.get(f"turn.{one.name}")
        if turn is not None:
            _print_one(out, turn, units)
        if turn is None or both:
            _print_one(out, one, units)
        if turn is None:
            out.say("This lens has no turn in the session: so it would be by itself.")
        elif both:
            out.say("The second is the lens by itself, were it the only one: not the plan.")
        else:
            value = f"{_value(one.value)} {_unit(one)}".rstrip()
            out.say(f"A remark: by itself, were it the only lens, {value}. Why: --all.")


def _print_parts(out: Screen, chosen: list[Explanation], outing: Path) -> None:
    """Say of each part of the plan how many numbers it has, and the first of them."""
    parts: dict[str, list[Explanation]] = {}
    for one in chosen:
        parts.setdefault(one.name.partition(".")[0], []).append(one)
    out.title(f"{counted(len(chosen), 'numbers')} of the plan can be explained")
    said = [
        f"{part}, {counted(len(ones), 'numbers')}: {', '.join(one.name for one in ones[:2])} ..."
        for part, ones in parts.items()
    ]
    out.some(said, SCREEN_LINES - 5)
    out.say("Care: a formula explained is not a view seen. All names and values: --all.")
    out.say(f"Next: backbearing explain {outing} {chosen[0].name}", hang=2)


def _print_one(out: Screen, one: Explanation, units: Units) -> None:
    out.title(f"{one.name} = {_value(one.value)} {_unit(one)}".rstrip() + _read(one, units))
    out.say(f"what     {one.meaning}", indent=2, hang=9)
    out.say(f"formula  {one.formula}", indent=2, hang=9)
    for key, value in one.inputs.items():
        out.say(f"input    {key} = {_value(value)}", indent=2, hang=9)
    for source in one.sources:
        out.say(f"source   {source}", indent=2, hang=9)
    out.blank()


def _read(one: Explanation, units: Units) -> str:
    """A length as one walks it: in the asked units, and never a step back of less than nothing."""
    if one.unit not in ("m", "metres") or not isinstance(one.value, float):
        return ""
    ways = STEPS.get(one.name.rpartition(".")[2])
    if ways is not None and isfinite(one.value):
        return f" ({units.small(abs(one.value))} {ways[one.value < 0.0]})"
    return "" if units == METRIC else f" ({units.length(one.value)})"


def _value(value: object) -> str:
    if value is None:
        return "none"
    return num(value, digits=7) if isinstance(value, float) else str(value)


def _unit(one: Explanation) -> str:
    """The unit, of one where it is one: ``minute``; none behind a time in Z."""
    if one.unit == "UTC" and str(one.value).endswith("Z"):
        return ""
    a_word = one.unit.isalpha() and len(one.unit) > 3
    return one.unit.removesuffix("s") if a_word and _value(one.value) == "1" else one.unit
