"""``backbearing explain`` of a ranking or a review that was written to a file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.lazy import Later
from backbearing.base.numbers import counted
from backbearing.base.units import METRIC
from backbearing.cli.common import print_json
from backbearing.cli.explained_words import print_one, unit_words, value_words
from backbearing.cli.screen import SCREEN_LINES, Screen

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.workflows import explained_file
    from backbearing.workflows.explained_file import ExplainedFile
else:
    explained_file = Later("backbearing.workflows.explained_file")

SUFFIXES = (".json", ".csv", ".gpkg", ".geojson")

FEW, GROUP = 2, 12
"""So many names of one sort are listed in full: of paths, and of single words."""


def is_file_of_numbers(path: Path) -> bool:
    """Whether a file's suffix is that of a ranking or a review, and not of an outing."""
    return path.suffix.lower() in SUFFIXES


def print_file(path: Path, name: str | None, *, everything: bool, as_json: bool) -> None:
    """Print what stands behind a name, or without one which names there are.

    Raises
    ------
    OutingError, NothingFoundError
        As `explained_file`.
    """
    found = explained_file.explained_file(path, name)
    if as_json:
        chosen = found.chosen or [(thing, thing.explained()) for thing in found.things]
        ones = [one for _, explanations in chosen for one in explanations]
        print_json({"format": "backbearing-explain", "version": 1, "explanations": ones})
        return
    out = Screen()
    if name is None:
        _print_names(out, found, path, everything=everything)
    else:
        _print_chosen(out, found, name, everything=everything)
    out.show()


def _print_chosen(out: Screen, found: ExplainedFile, name: str, *, everything: bool) -> None:
    """The numbers of the name; of several things the first, unless all are asked for."""
    shown = found.chosen if everything else found.chosen[:1]
    for thing, explanations in shown:
        if thing.said:
            out.say(f"{thing.label}: {thing.said}", hang=2)
        if len(explanations) > 1 and not everything:
            heads = ("number", "value", "unit", "what")
            rows = [(o.name, value_words(o.value), unit_words(o), o.meaning) for o in explanations]
            out.listing(heads, rows, left={"unit"}, words={"what"})
            out.say("Why: one of these names, or --all.")
        else:
            for one in explanations:
                print_one(out, one, METRIC, thing.values)
    rest = len(found.chosen) - len(shown)
    if rest:
        out.say(f"And of {counted(rest, 'others')}: {found.chosen[1][0].label}.{name} and so on.")
    if found.lacks:
        out.say(f"This file does not carry {found.lacks}; `--json` writes all there is.")


def _print_names(out: Screen, found: ExplainedFile, path: Path, *, everything: bool) -> None:
    """Which things have numbers, and which numbers one of them has."""
    count = sum(len(thing.facts) for thing in found.things)
    out.title(f"{counted(count, 'numbers')} of the {found.kind} can be explained")
    if everything:
        for thing in found.things:
            for key in thing.facts:
                value = value_words(thing.values.get(key))
                out.say(f"{thing.label}.{key} = {value}", indent=2, hang=4)
        return
    things = [f"{thing.label}: {thing.said}" for thing in found.things]
    out.some(things, (SCREEN_LINES - 6) // 2)
    last = found.things[-1 if found.kind == "review" else 0] if found.things else None
    if last is not None:
        out.say(f"{last.label} has {counted(len(last.facts), 'numbers')}:")
        out.some(_in_groups(list(last.facts)), (SCREEN_LINES - 6) // 2)
        first = next(iter(last.facts))
        out.say("Care: a formula explained is not a view seen. All names and values: --all.")
        out.say(f"Next: backbearing explain {path} {last.label}.{first}", hang=2)


def _in_groups(keys: list[str]) -> list[str]:
    """Names by what they begin with; of a large group the first ones."""
    groups: dict[str, list[str]] = {}
    for key in keys:
        first, dot, _ = key.partition(".")
        if not dot:
            first = next((one for one in ("part", "lens") if key.startswith(f"{one}_")), "")
        groups.setdefault(first, []).append(key)
    return [
        f"{first}, {counted(len(ones), 'numbers')}: {', '.join(ones[:2])} ..."
        if first and len(ones) > (FEW if "." in ones[0] else GROUP)
        else ", ".join(ones)
        for first, ones in groups.items()
    ]
