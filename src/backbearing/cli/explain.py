"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from backbearing.base.lazy import Later
from backbearing.base.numbers import counted
from backbearing.cli.common import all_switch, at_option, json_switch, outing_argument, print_json
from backbearing.cli.explain_file import is_file_of_numbers, print_file
from backbearing.cli.explained_words import print_one, unit_words, value_words
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


@click.command(
    "explain",
    help="Inputs, formula and source behind any number of the plan. OUTING may also be a ranking, "
    "a review or a year written to a file: .json (scout, review, year --json), .csv, .gpkg.",
)
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
    if is_file_of_numbers(outing):
        if at is not None or stand is not None:
            raise click.UsageError("--at and --from-stand are for an outing, not for a file.")
        print_file(outing, name, everything=everything, as_json=as_json)
        return
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
            print_one(out, one, units)
    elif everything:
        heads = ("number", "value", "unit", "what")
        rows = [(one.name, value_words(one.value), unit_words(one), one.meaning) for one in chosen]
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
            print_one(out, turn, units)
        if turn is None or both:
            print_one(out, one, units)
        if turn is None:
            out.say("This lens has no turn in the session: so it would be by itself.")
        elif both:
            out.say("The second is the lens by itself, were it the only one: not the plan.")
        else:
            value = f"{value_words(one.value)} {unit_words(one)}".rstrip()
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
