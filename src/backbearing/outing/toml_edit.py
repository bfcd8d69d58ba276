"""Change keys in the text of a TOML file and nothing else: comments and layout stay.

Keys are found where they stand [TOML2021]_, their values replaced in place; new ones go under the
last key of their section. The parser has the last word: what it reads afterwards must be what it
read before, with the changes, or nothing is given back.
"""

from __future__ import annotations

import datetime as dt
import json
import math
import re
import tomllib
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from backbearing.base.errors import OutingError
from backbearing.outing.toml_scan import scan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from backbearing.outing.toml_scan import Header, Key

    Changes = Mapping[str, Mapping[str, Any]]
    Edit = tuple[int, int, str]

_NUMBERED: Final = re.compile(r"([A-Za-z0-9_-]+)\[(\d{1,4})\]")
_MARK: Final = "measured: "
_COMMENT: Final = re.compile(rf"[ \t]*#[ \t]*({_MARK})?[^\r\n]*")


class Noted(NamedTuple):
    """A value with a note for its line, where no comment of the author's stands there."""

    value: Any
    note: str


def changed_toml(text: str, changes: Changes) -> str:
    r"""Give the text with keys set, everything else as it was.

    Parameters
    ----------
    text : str
        Valid TOML; its line ends stay.
    changes : mapping of mappings
        For each section its keys and their new values: numbers, texts, truth values, dates,
        times and lists of them. Keys before the first section stand under ``""``, those of the
        second ``[[lens]]`` under ``"lens[2]"``. A new key goes below the one before it in its
        mapping, or else last in its section. A `Noted` value brings a comment, which the
        next one replaces and which takes no other comment's place.

    Raises
    ------
    OutingError
        For a value that cannot be written, or a layout in which the key cannot be set alone.

    Examples
    --------
    >>> from backbearing.outing.toml_edit import changed_toml
    >>> text = "[subject]\nheight_m = 6.0  # a guess\nname = 'Tree'\n"
    >>> print(changed_toml(text, {"subject": {"height_m": 7.2, "height_sigma_m": 0.3}}), end="")
    [subject]
    height_m = 7.2  # a guess
    height_sigma_m = 0.3
    name = 'Tree'
    """
    before = tomllib.loads(text.replace("\r\n", "\n"))
    keys, headers = scan(text)
    edits: list[Edit] = []
    for section, wanted in changes.items():
        edits += _edits(text, section, wanted, keys, headers)
    made = text
    for start, end, new in sorted(edits, key=lambda edit: edit[:2], reverse=True):
        made = made[:start] + new + made[end:]
    _check(made, _merged(before, changes), changes)
    return made


def toml_value(value: Any) -> str:
    """Write a value as TOML has it.

    Raises
    ------
    OutingError
        For one that no outing holds, also for a number that is not finite.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) or (isinstance(value, float) and math.isfinite(value)):
        return repr(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return f"[{', '.join(toml_value(one) for one in value)}]"
    raise OutingError(f"{value!r} cannot be written into an outing", hint="pass a number or a text")


def _edits(
    text: str,
    section: str,
    wanted: Mapping[str, Any],
    keys: Sequence[Key],
    headers: Sequence[Header],
) -> list[Edit]:
    """Say what to put where for one section: from, to, new text."""
    prefix, place = _place(section, keys, headers)
    line_end = "\r\n" if "\r\n" in text else "\n"
    own = [one for one in keys if one.header == place]
    if place == -1 and prefix:
        own = [one for one in own if one.path[:1] == prefix]
    dotted = place == -1 and bool(prefix)
    known = {one.path: one for one in own}
    anchor = own[-1] if own else None
    edits: list[Edit] = []
    new: dict[int, list[str]] = {}
    for key, value in wanted.items():
        here = known.get((*prefix, key))
        if here is not None:
            edits.append(_replaced(text, here, value))
            anchor = here
            continue
        line = f"{section}.{key}" if dotted and own else key
        line += f" = {_written(value)}"
        after = headers[place].end if place >= 0 else 0
        indent = ""
        if anchor is not None:
            after = anchor.value_end
            begins = text.rfind("\n", 0, anchor.start) + 1
            indent = text[begins : anchor.start]
        new.setdefault(after, []).append(indent + line)
    for after, lines in new.items():
        edits.append(_inserted(text, after, lines, section if dotted and not own else "", line_end))
    return edits


def _replaced(text: str, here: Key, value: Any) -> Edit:
    """Put a value in another's place, and its note where no comment of the author's stands."""
    end = here.value_end
    found = _COMMENT.match(text, end)
    if isinstance(value, Noted) and (found is None or found[1] == _MARK):
        return here.value_start, end if found is None else found.end(), _written(value)
    return here.value_start, end, toml_value(_bare(value))


def _written(value: Any) -> str:
    """A value, and its note behind it."""
    if not isinstance(value, Noted):
        return toml_value(value)
    note = "".join(sign if sign.isprintable() else " " for sign in value.note)
    return f"{toml_value(value.value)}  # {_MARK}{note}"


def _bare(value: Any) -> Any:
    return value.value if isinstance(value, Noted) else value


def _place(
    section: str, keys: Sequence[Key], headers: Sequence[Header]
) -> tuple[tuple[str, ...], int]:
    """Find a section's header: its name, and which it is; -1 where it has none."""
    numbered = _NUMBERED.fullmatch(section)
    if numbered:
        prefix: tuple[str, ...] = (numbered[1],)
        number = int(numbered[2])
        found = [i for i, one in enumerate(headers) if one.path == prefix and one.several]
        if not 1 <= number <= len(found):
            raise OutingError(
                f"There is no [[{numbered[1]}]] number {number}",
                hint=f"write a number from 1 to {len(found)}" if found else "add one",
                key=section,
            )
        return prefix, found[number - 1]
    prefix = (section,) if section else ()
    found = [i for i, one in enumerate(headers) if prefix and one.path == prefix]
    if any(one.path == prefix for one in keys) or any(headers[i].several for i in found):
        raise OutingError(
            f"[{section}] is not written as one section with its keys below it",
            hint="write it so, and let it be filled in again",
            key=section,
        )
    return prefix, found[0] if found else -1


def _inserted(text: str, after: int, lines: Sequence[str], section: str, line_end: str) -> Edit:
    """Put lines below the line in which a place stands, or with their section at the end."""
    if section:
        ended = "" if not text or text.endswith("\n") else line_end
        block = [f"[{section}]", *lines]
        space = line_end if text.strip() else ""
        return len(text), len(text), ended + space + "".join(one + line_end for one in block)
    if not after:
        return 0, 0, "".join(line + line_end for line in lines)
    at = text.find("\n", after) + 1
    if not at:
        return len(text), len(text), "".join(line_end + line for line in lines)
    return at, at, "".join(line + line_end for line in lines)


def _merged(before: dict[str, Any], changes: Changes) -> dict[str, Any]:
    after = dict(before)
    for section, told in changes.items():
        wanted = {key: _bare(value) for key, value in told.items()}
        numbered = _NUMBERED.fullmatch(section)
        if numbered:
            several = list(after[numbered[1]])
            several[int(numbered[2]) - 1] = {**several[int(numbered[2]) - 1], **wanted}
            after[numbered[1]] = several
        elif section:
            after[section] = {**after.get(section, {}), **wanted}
        else:
            after |= wanted
    return after


def _check(made: str, wanted: dict[str, Any], changes: Changes) -> None:
    """Hold the new text to what it must say."""
    try:
        read: Any = tomllib.loads(made.replace("\r\n", "\n"))
    except (tomllib.TOMLDecodeError, RecursionError):
        read = None
    if read is None or _plain(read) != _plain(wanted):
        lines = "; ".join(
            f"{key} = {toml_value(_bare(value))} under [{section}]"
            for section, keys in changes.items()
            for key, value in keys.items()
        )
        raise OutingError("The file is laid out so that keys cannot be set alone", hint=lines)


def _plain(value: Any) -> Any:
    """Lists for tuples, and numbers with their kind, since 1 is no truth value and no 1.0."""
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return type(value).__name__, value
