"""Hostile bytes from honest ones: seeds of every format, cut, repeated and salted.

A case is a reader's name and a number; both give the same bytes on any machine.
"""

from __future__ import annotations

import random
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

SALT = [
    b"", b"\x00", b"\xff", b"\xff\xfe", b"\xed\xa0\x80", "\u202e".encode(), b"\x1b[2J", b"-0", b"0",
    b"1e300", b"-1e300", b"1e-300", b"nan", b"inf", b"-inf", b"1" + b"0" * 400, b"0x10", b"1_0",
    b"true", b"null", b'"', b"'", b'"""', b"[", b"]", b"[[", b"{", b"}", b"<", b">", b"</", b"<!--",
    b"<!DOCTYPE a [", b"<![CDATA[", b"&a;", b"&#0;", b",", b";", b"\t", b"\r", b"\n", b"\r\n", b"#",
    b"=", b".", b"..", b"../", b"/", b"\\", b"://", b"a" * 300, b"180.0000001", b"-90.1", b"90",
    b"2027-02-30", b"9999-12-31", b"0001-01-01", b"24:00", b"99:99", b"EPSG:0", b"1,5", b"30 S",
]  # fmt: skip

_PIECE = re.compile(rb"[A-Za-z_]+|[-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?|\s+|.", re.DOTALL)


@dataclass(frozen=True)
class Reader:
    """A reader under trial: its file's name, honest seeds, and how it is called."""

    name: str
    file: str
    seeds: tuple[bytes, ...]
    read: Callable[[Path], Any]
    text: bool = True


def mutated(reader: Reader, number: int) -> bytes:
    """Give the bytes of a case."""
    chance = random.Random(f"{reader.name} {number}")  # noqa: S311
    data = chance.choice(reader.seeds)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 6))):
        change = chance.choice(_IN_TEXT if reader.text else _IN_BYTES)
        data = change(chance, data)
    return data[:4_000_000]


def _swap_piece(chance: random.Random, data: bytes) -> bytes:
    pieces = _PIECE.findall(data)
    if not pieces:
        return data
    at = chance.randrange(len(pieces))
    pieces[at] = chance.choice((chance.choice(SALT), chance.choice(pieces)))
    return b"".join(pieces)


def _drop(chance: random.Random, data: bytes) -> bytes:
    a, b = _cut(chance, data)
    return data[:a] + data[b:]


def _repeat(chance: random.Random, data: bytes) -> bytes:
    a, b = _cut(chance, data)
    return data[:b] + data[a:b] * chance.choice((1, 1, 2, 50)) + data[b:]


def _truncate(chance: random.Random, data: bytes) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _salt(chance: random.Random, data: bytes) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + chance.choice(SALT) + data[at:]


def _flip(chance: random.Random, data: bytes) -> bytes:
    if not data:
        return data
    at = chance.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :]


def _number(chance: random.Random, data: bytes) -> bytes:
    """Put an extreme whole number where a binary format may keep a length."""
    if len(data) < 8:
        return data
    size = chance.choice((1, 2, 4, 8))
    value = chance.choice((0, 1, 2**7, 2**15, 2**31, 2**32 - 1, 2**63, 2**64 - 1)) % 256**size
    at = chance.randrange(min(len(data) - size, 4_096) + 1)
    put = value.to_bytes(size, chance.choice(("little", "big")))
    return data[:at] + put + data[at + size :]


def _cut(chance: random.Random, data: bytes) -> tuple[int, int]:
    a = chance.randrange(len(data) + 1)
    return a, min(len(data), a + chance.choice((1, 2, 8, 40, 400)))


_IN_TEXT = (_swap_piece, _swap_piece, _swap_piece, _drop, _repeat, _truncate, _salt, _salt, _flip)
_IN_BYTES = (_flip, _flip, _number, _number, _drop, _repeat, _truncate, _salt)
