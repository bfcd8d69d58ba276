"""What pydantic found wrong with a file, as one sentence for the person who wrote the file."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import OutingError, Where
from backbearing.base.limits import shown

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from pydantic import ValidationError


def taught(
    problem: ValidationError,
    file: Path,
    known_keys: Callable[[list[Any]], list[str]],
    where: Callable[[Path, list[Any]], Where] | None = None,
    example: str = "backbearing new --starter",
) -> OutingError:
    """Turn the first thing that pydantic found into one sentence.

    Parameters
    ----------
    problem : ValidationError
    file : Path
        Where it was read.
    known_keys : callable
        From a place in the file to the keys that may stand there.
    where : callable, optional
        Names a place as a reader of the file would; as in an outing when left out.
    example : str, optional
        The command that prints a commented file.
    """
    errors = problem.errors(include_url=False)
    first = errors[0]
    place = [part for part in first["loc"] if not str(part).startswith("function-")]
    found = (where or outing_place)(file, place)
    more = f" ({len(errors) - 1} more after it.)" if len(errors) > 1 else ""
    kind, given = first["type"], first.get("input")
    if kind == "missing":
        what = "is missing"
        hint = f"add it, see `{example}` for a commented example.{more}"
    elif kind == "extra_forbidden":
        close = difflib.get_close_matches(str(place[-1]), known_keys(place[:-1]), n=1)
        known = ", ".join(known_keys(place[:-1]))
        what = "is not a key that is known here"
        hint = (f"did you mean {close[0]}?" if close else f"the keys are {known}.") + more
    elif kind == "value_error" and isinstance(given, dict):
        what, hint = f"does not hold together: {_expected(first)}.{more}", ""
    else:
        what, hint = f"is {shown(given)}", f"{_expected(first)}.{more}"
    subject = found.key if place else "the file"
    return OutingError(
        f"{subject} {what}".lstrip(),
        hint=hint,
        where=found,
        file=str(file),
        key=".".join(map(cut_key, place)),
    )


def outing_place(file: Path, place: list[Any]) -> Where:
    """Name a place in an outing file as a reader of TOML would."""
    if not place:
        return Where(file.name)
    if len(place) > 1 and isinstance(place[1], int):
        section = f"[[{cut_key(place[0])}]] number {place[1] + 1}"
        return Where(file.name, section, ".".join(map(cut_key, place[2:])))
    if place in (["format"], ["name"], ["units"]):
        return Where(file.name, key=place[0])
    return Where(file.name, f"[{cut_key(place[0])}]", ".".join(map(cut_key, place[1:])))


def cut_key(part: object) -> str:
    """Write a key as it stands, without what steers a terminal, and not all of an endless one."""
    text = "".join(letter if letter.isprintable() else "?" for letter in str(part)[:80])
    return text if len(text) <= 60 else text[:57] + "..."


def _expected(error: Any) -> str:
    kind, context = error["type"], error.get("ctx", {})
    sayings = {
        "float_type": "write a number",
        "float_parsing": "write a number",
        "int_type": "write a whole number",
        "int_from_float": "write a whole number",
        "int_parsing": "write a whole number",
        "string_type": "write text in quotes",
        "finite_number": "write a finite number",
        "date_type": "write a date without quotes, such as 2027-06-05",
        "list_type": "write one [[lens]] section for each lens",
        "bool_type": "write true or false without quotes",
        "dict_type": "write it as a [section]",
        "model_type": "write it as a [section] with keys below it",
    }
    if kind in sayings:
        return sayings[kind]
    if kind == "literal_error":
        return f"write {context['expected']}"
    if kind in ("too_long", "too_short"):
        return _count_expected(kind, error["loc"][0], context)
    if kind == "value_error":
        return str(context["error"])
    return str(error["msg"][0].lower() + error["msg"][1:])


def _count_expected(kind: str, section: object, context: Any) -> str:
    if kind == "too_long":
        return f"write at most {context['max_length']} of them"
    if section == "lens":
        return "write at least one [[lens]] section with a focal_length_mm"
    return "write at least one value"
