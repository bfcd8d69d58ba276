"""A visit's readings: from flags, questions or a notebook to results, and into the outing."""

from __future__ import annotations

import datetime as dt
import difflib
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, cast

from backbearing.base.errors import BackbearingError, MeasureError, Where
from backbearing.base.input_files import checked_path, read_text
from backbearing.base.limits import float_or_inf, shown
from backbearing.base.numbers import num, rounded
from backbearing.base.place_notation import read_place
from backbearing.measuring.heights import degrees_of_percent
from backbearing.measuring.places import MeasuredPlace, combined_places
from backbearing.measuring.readings import Measured, Reading, combined
from backbearing.outing.toml_edit import Noted
from backbearing.outing.toml_text import LARGEST_BYTES, parse_outing_text
from backbearing.outing.write_keys import set_keys
from backbearing.workflows.visit_ways import WAYS, Asked, What

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from backbearing.outing.request import Outing
    from backbearing.workflows.visit_ways import Result

    Keys = dict[str, dict[str, float | str | Noted]]

MOST_READINGS: Final = 100
PERCENT: Final = "_percent"


@dataclass(frozen=True, slots=True)
class Visit:
    """What readings of one thing gave.

    Attributes
    ----------
    what : {"height", "width", "place", "drop"}
    result : Measured or MeasuredPlace
        Of all readings together.
    readings : tuple of Measured or MeasuredPlace
        Of each.
    """

    what: What
    result: Result
    readings: tuple[Result, ...]


def measured(
    what: What, asked: Sequence[tuple[str, Mapping[str, Any]]], outing: Outing | None = None
) -> Visit:
    """Measure by each of some ways, and join the results.

    Parameters
    ----------
    what : {"height", "width", "place", "drop"}
    asked : sequence of tuple
        For each reading the name of its way, and its answers by key.
    outing : Outing, optional
        Whose subject and camera stand in for what is not told.

    Raises
    ------
    MeasureError
        For an unknown way, an answer that is missing or none, or readings without result.
    """
    if not asked:
        raise MeasureError(f"there is no reading of the {what}", hint="give one")
    if len(asked) > MOST_READINGS:
        raise MeasureError(f"there are more than {MOST_READINGS} readings", hint="give fewer")
    results: list[Result] = []
    for number, (name, answers) in enumerate(asked, 1):
        try:
            results.append(_one(what, name, answers, outing))
        except BackbearingError as problem:
            if len(asked) > 1 and problem.where is None:
                problem.at(Where(f"reading {number}"))
            raise
    places = [one for one in results if isinstance(one, MeasuredPlace)]
    if places:
        return Visit(what, combined_places(places), tuple(places))
    lengths = cast("list[Measured]", results)
    return Visit(what, combined(lengths), tuple(lengths))


def also(visit: Visit, results_m: Sequence[tuple[float, float]]) -> Visit:
    """Join results from elsewhere, each a length and its one sigma, metres.

    Raises
    ------
    MeasureError
        For a length or a doubt that is none.
    """
    if not results_m or isinstance(visit.result, MeasuredPlace):
        return visit
    for value, sigma in results_m:
        if not (0.0 < value <= 1e6 and 0.0 < sigma < value):
            raise MeasureError(
                f"also_m is {shown(value)} give or take {shown(sigma)}",
                hint="write a length and its one sigma, both above 0, in metres",
            )
    others = tuple(Measured(value, sigma, "told", {}) for value, sigma in results_m)
    readings = (*visit.readings, *others)
    return Visit(visit.what, combined(cast("list[Measured]", list(readings))), readings)


def _one(what: What, name: str, answers: Mapping[str, Any], outing: Outing | None) -> Result:
    ways = WAYS[what]
    if name not in ways:
        raise MeasureError(
            f"{shown(name)} is no way to measure a {what}", hint=f"write one of {', '.join(ways)}"
        )
    way = ways[name]
    taken = checked(way.asked, answers)
    needed = [one.key for one in way.asked if one.is_needed(with_outing=outing is not None)]
    missing = [key for key in needed if key not in taken]
    if missing:
        raise MeasureError(f"{missing[0]} is missing", hint=f"{way.line[0].lower()}{way.line[1:]}")
    return way.make(taken, outing)


def checked(asked: Sequence[Asked], answers: Mapping[str, Any]) -> dict[str, Any]:
    """Hold answers to their kinds, a percent scale's readings turned into degrees.

    Raises
    ------
    MeasureError
        For a key that is not asked for, or a value of another kind.
    """
    known = {one.key: one for one in asked}
    taken: dict[str, Any] = {}
    for key, value in answers.items():
        of = key
        if key.endswith(PERCENT) and f"{key.removesuffix(PERCENT)}_deg" in known:
            of = f"{key.removesuffix(PERCENT)}_deg"
        if of not in known or (of != key and known[of].kind != "angle"):
            close = difflib.get_close_matches(key, known, n=1)
            hint = f"did you mean {close[0]}?" if close else f"the keys are {', '.join(known)}"
            raise MeasureError(f"{shown(key)} is not asked for here", hint=hint, key=key)
        if of in taken:
            raise MeasureError(f"{of} is given twice", hint="give it once", key=of)
        found = _value(known[of], key, value)
        taken[of] = degrees_of_percent(Reading(found)).value if of != key else found
    return taken


def _value(asked: Asked, key: str, value: Any) -> Any:
    """One answer as its kind has it."""
    if asked.kind in _ROWS:
        return _rows(asked, key, value)
    if asked.kind in ("number", "angle"):
        number = _number(key, value)
        if "sigma" in key and number < 0.0:
            raise MeasureError(f"{key} is {shown(value)}", hint="write 0 or more", key=key)
        return number
    moment = isinstance(value, dt.datetime)
    if asked.kind == "date":
        good, hint = isinstance(value, dt.date) and not moment, "write a date, such as 2027-03-04"
    else:
        text = isinstance(value, str) and bool(value.strip())
        good, hint = text or (asked.key == "time" and moment), f"write {asked.words}"
    if not good:
        raise MeasureError(f"{key} is {shown(value)}", hint=hint, key=key)
    return read_place(value) if asked.kind == "place" else value


_ROWS: Final = {"spot": ("column", "row"), "sightings": ("latitude", "longitude", "bearing")}


def _rows(asked: Asked, key: str, value: Any) -> Any:
    """The numbers of a spot, or of each sighting."""
    names = _ROWS[asked.kind]
    if asked.kind == "spot":
        return _row(key, value, names)
    if not isinstance(value, list | tuple):
        raise MeasureError(f"{key} is {shown(value)}", hint="write rows of three", key=key)
    return [_row(key, row, names) for row in value]


def _row(key: str, value: Any, names: tuple[str, ...]) -> tuple[float, ...]:
    if not isinstance(value, list | tuple) or len(value) != len(names):
        hint = f"write {len(names)} numbers: {', '.join(names)}"
        raise MeasureError(f"{key} is {shown(value)}", hint=hint, key=key)
    return tuple(_number(key, one) for one in value)


def _number(key: str, value: Any) -> float:
    plain = isinstance(value, int | float) and not isinstance(value, bool)
    number = float_or_inf(value) if plain else math.nan
    # Beyond a million nothing is measured here, and every formula stays far from overflow.
    if not abs(number) <= 1e6:
        hint = "write a number" + (" of a million at most" if plain else "")
        raise MeasureError(f"{key} is {shown(value)}", hint=hint, key=key)
    return number


def read_notebook(path: str | Path, what: What) -> list[tuple[str, dict[str, Any]]]:
    """Read the readings of one thing from a visit's notebook, a TOML file.

    Each is a section such as ``[[height]]`` with ``by = "angles"`` and the way's own keys.

    Raises
    ------
    OutingError
        For a file that is missing, too large or not TOML.
    MeasureError
        For one without such sections, or a section without ``by``.
    """
    file = checked_path(path, MeasureError)
    held = parse_outing_text(read_text(file, "a notebook", largest_bytes=LARGEST_BYTES), file)
    odd = [key for key in held if key not in WAYS]
    if odd:
        raise MeasureError(
            f"{file.name}: [[{shown(odd[0])[1:-1]}]] is nothing that is measured",
            hint=f"write [[{']], [['.join(WAYS)}]]",
        )
    sections = held.get(what, [])
    if not isinstance(sections, list) or not all(isinstance(one, dict) for one in sections):
        raise MeasureError(
            f"{file.name}: {what} is no section", hint=f"write [[{what}]], once for each reading"
        )
    if not sections:
        raise MeasureError(f"{file.name} holds no [[{what}]]", hint="add one, or name another file")
    rows = []
    for number, section in enumerate(sections, 1):
        if not isinstance(section.get("by"), str):
            raise MeasureError(
                f"{file.name}: [[{what}]] number {number} does not say by which way",
                hint=f'write by = "{next(iter(WAYS[what]))}"',
            )
        answers = {key: value for key, value in section.items() if key != "by"}
        for key in ("picture", "track"):
            if isinstance(answers.get(key), str):
                answers[key] = str(file.parent / answers[key])
        rows.append((section["by"], answers))
    return rows


def keys_of(visit: Visit, *, in_one: bool = False, lens: int | None = None) -> Keys:
    """What of a result goes into an outing: section, key, value, rounded as far as it is known.

    ``in_one`` says that the file holds its place under one key, ``lens`` to which of its lenses
    a drop belongs, from 1; to all of them when left out.
    """
    result = visit.result
    if isinstance(result, MeasuredPlace):
        lat, lon = rounded(result.lat, 6), rounded(result.lon, 6)
        told: dict[str, float | str | Noted] = {"place": f"{num(lat, 6)}, {num(lon, 6)}"}
        place = told if in_one else {"lat": lat, "lon": lon}
        return {"subject": {**place, "position_sigma_m": max(rounded(result.sigma_m, 1), 0.1)}}
    value, sigma = rounded(result.value_m, 2), max(rounded(result.sigma_m, 2), 0.01)
    if visit.what == "drop":
        drop = Noted(value, f"give or take {num(sigma, 2)} m")
        return {"framing" if lens is None else f"lens[{lens}]": {"stand_drop_m": drop}}
    return {"subject": {f"{visit.what}_m": value, f"{visit.what}_sigma_m": sigma}}


def write_visit(path: str | Path, visit: Visit, *, lens: int | None = None) -> tuple[Path, Keys]:
    """Put a result into an outing file, and change nothing else in it.

    Returns
    -------
    tuple
        The file, and the keys set.

    Raises
    ------
    OutingError, WriteRefusedError
        As `backbearing.outing.write_keys.set_keys`.
    """
    file = checked_path(path)
    held = parse_outing_text(read_text(file, "an outing", largest_bytes=LARGEST_BYTES), file)
    subject = held.get("subject")
    keys = keys_of(visit, in_one=isinstance(subject, dict) and "place" in subject, lens=lens)
    return set_keys(file, keys), keys
