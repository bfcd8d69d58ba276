"""Where keys and sections stand in a TOML file's text [TOML2021]_, for who changes it there."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import Final

from backbearing.base.errors import OutingError

_BLANK: Final = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE: Final = re.compile(r"[ \t]*")
_NAME: Final = re.compile(r"[A-Za-z0-9_-]+|\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'")
_TEXT: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|' r"'''.*?'{3,5}|" r'"(?:\\.|[^"\\\n])*"|' r"'[^'\n]*'", re.S
)
_BARE: Final = re.compile(r"[^#\n\r,\[\]{}]*[^#\n\r,\[\]{} \t]")
_PART: Final = re.compile(rf"(?:{_TEXT.pattern})|#[^\n]*|[\[\]{{}}]", re.S)


@dataclass(frozen=True, slots=True)
class Key:
    """A key with its value: whole name, under which header, where its line and value stand.

    The header is counted from 0, and -1 for a key before the first.
    """

    path: tuple[str, ...]
    header: int
    start: int
    value_start: int
    value_end: int


@dataclass(frozen=True, slots=True)
class Header:
    """A ``[section]``: its name, whether it is one of several, where it stands."""

    path: tuple[str, ...]
    several: bool
    start: int
    end: int


def scan(text: str) -> tuple[list[Key], list[Header]]:
    """Find all keys and sections of valid TOML; what stands within a value is no key."""
    keys: list[Key] = []
    headers: list[Header] = []
    under: tuple[str, ...] = ()
    at = _past(_BLANK, text, 0)
    while at < len(text):
        start = at
        if text[at] == "[":
            several = text.startswith("[[", at)
            under, at = _name(text, at + 1 + several)
            at += 1 + several
            headers.append(Header(under, several, start, at))
        else:
            name, at = _name(text, at)
            at = _past(_SPACE, text, at + 1)
            end = _value_end(text, at)
            keys.append(Key((*under, *name), len(headers) - 1, start, at, end))
            at = end
        at = _past(_BLANK, text, at)
    return keys, headers


def _name(text: str, at: int) -> tuple[tuple[str, ...], int]:
    """Read a dotted name; give its parts and where the next sign after it stands."""
    parts: list[str] = []
    while True:
        found = _NAME.match(text, _past(_SPACE, text, at))
        if found is None:
            raise _beyond(text, at)
        quoted = found.group()[0] in "\"'"
        parts.append(tomllib.loads(f"k = {found.group()}")["k"] if quoted else found.group())
        at = _past(_SPACE, text, found.end())
        if not text.startswith(".", at):
            return tuple(parts), at
        at += 1


def _value_end(text: str, at: int) -> int:
    if text[at : at + 1] in ("[", "{"):
        depth = 0
        for part in _PART.finditer(text, at):
            depth += {"[": 1, "{": 1, "]": -1, "}": -1}.get(part.group(), 0)
            if not depth:
                return part.end()
    found = _TEXT.match(text, at) or _BARE.match(text, at)
    if found is None:
        raise _beyond(text, at)
    return found.end()


def _past(pattern: re.Pattern[str], text: str, at: int) -> int:
    found = pattern.match(text, at)
    return found.end() if found else at


def _beyond(text: str, at: int) -> OutingError:
    line = text.count("\n", 0, at) + 1
    return OutingError(f"Line {line} is laid out so that keys cannot be set", hint="set them there")
