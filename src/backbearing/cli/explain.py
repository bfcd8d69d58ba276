"""``backbearing explain``: inputs, formula and source behind any number of the plan."""

from __future__ import annotations

from dataclasses import replace
from math import isfinite
from typing import TYPE_CHECKING, Final

import click

from backbearing.base.errors import NothingFoundError
from backbearing.base.lazy import Later
from backbearing.base.numbers import counted, num
from backbearing.base.units import METRIC
from backbearing.cli.common import all_switch, at_option, json_switch, outing_argument, print_json
from backbearing.cli.screen import SCREEN_LINES, Screen
from backbearing.explain.lamp import LAMP_FACTS, lamp_explanations
from backbearing.explain.marks import MARK_FACTS, marks_explanations
from backbearing.explain.names import check_name, part_of
from backbearing.explain.nights import NIGHT_FACTS, night_explanations
from backbearing.explain.plan import explain, explanations, matching
from backbearing.explain.session import SESSION_FACTS, session_explanations
from backbearing.outing.lens_labels import lens_labels

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from backbearing.alignment.night import plan_night, plan_season
    from backbearing.base.units import Units
    from backbearing.explain.plan import Explanation
    from backbearing.outing import kit_given, load
    from backbearing.outing.request import Outing
    from backbearing.plan.plan import Plan
else:
    # A name that is misspelt is answered without them.
    kit_given = Later("backbearing.outing.kit_given")
    load = Later("backbearing.outing.load")
    plan_night = Later("backbearing.alignment.night.plan_night")
    plan_season = Later("backbearing.alignment.night.plan_season")

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
    chosen = _chosen(outing, name, at, stand)
    if as_json:
        print_json({"format": "backbearing-explain", "version": 1, "explanations": chosen})
        return
    out = Screen()
    asked = load.load_outing(outing)
    units = asked.units
    turned = name is not None and part_of(name) == "lens" and asked.session is not None
    if name and turned:
        _print_turned(out, chosen, session_explanations(_plan(asked, at)), units, both=everything)
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
    if name is not None and part == "lamp":
        return _of_lamp(asked, at, name)
    if name is not None and part == "marks":
        return _of_marks(replace(asked, session=None), at, name)
    lat, lon = stand or (None, None)
    season = plan_season.plan_season(asked, nights=1, stand_lat=lat, stand_lon=lon)
    known = night_explanations(season)
    if name is not None:
        return matching(known, name, NIGHT_FACTS)
    plan = _plan(asked, at)
    return [
        *explanations(plan).values(),
        *session_explanations(plan).values(),
        *marks_explanations(plan).values(),
        *lamp_explanations(plan).values(),
        *known.values(),
    ]


def _of_marks(asked: Outing, at: str | None, name: str) -> list[Explanation]:
    """Explain numbers of the skyline marks.

    Raises
    ------
    NothingFoundError
        When the outing has none.
    """
    known = marks_explanations(_plan(asked, at)) if asked.ground.marks else {}
    if not known:
        raise NothingFoundError(
            f"{name} has no number here: the outing has no skyline marks",
            hint="write [[skyline_mark]] sections, or skyline_marks under [ground]",
            name=name,
        )
    if name == "marks":
        return list(known.values())
    return matching(known, name, MARK_FACTS)


def _of_lamp(asked: Outing, at: str | None, name: str) -> list[Explanation]:
    """Explain numbers of the lamp.

    Raises
    ------
    NothingFoundError
        When the outing has no [light].
    """
    if asked.exposure.lamp is None:
        raise NothingFoundError(
            f"{name} has no number here: the outing asks for no light",
            hint="write a [light] section, such as lumens = 200",
            name=name,
        )
    known = lamp_explanations(_plan(asked, at))
    return list(known.values()) if name == "lamp" else matching(known, name, LAMP_FACTS)


def _plan(asked: Outing, at: str | None) -> Plan:
    return plan_night.plan_night(asked, at=at, whole_skyline=False)


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
