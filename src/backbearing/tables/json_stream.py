"""Features out of GeoJSON of any length, one at a time: collections and sequences.

A collection's text is read in pieces; each feature is understood as soon as its text is whole,
and let go. A sequence has a feature on each line, or after each record separator.
"""

from __future__ import annotations

import codecs
import json
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PIECE: Final = 1 << 18
"""Bytes read at a time."""

LONGEST: Final = 32_000_000
"""Letters of one feature, or of one other member of a collection."""

SEPARATOR: Final = "\x1e"
_SPACE: Final = " \t\n\r"
_NEAR_END: Final = 64
"""Letters before the end of what was read within which a mistake may only be want of more."""


_NUMBER_GOES_ON: Final = 2


class Members:
    """The members of a collection's object, its features one by one.

    Attributes
    ----------
    others : dict
        Members other than ``features``, as far as they were read.
    """

    def __init__(self, file: Path) -> None:
        self.file = file
        self.others: dict[str, Any] = {}
        self._had_features = False
        self._text = ""
        self._at = 0
        self._before = 0
        self._ended = False

    def features(self) -> Iterator[Any]:
        """Give the features; reads the file once.

        Raises
        ------
        OutingError
            For what is no GeoJSON, where it shows.
        """
        with self.file.open("rb") as data:
            self._pieces = _decoded(data, self.file)
            if self._next() != "{":
                raise self._no_features()
            self._at += 1
            if self._next() == "}":
                self._at += 1
            else:
                yield from self._members()
            if self._next():
                raise self._broken("there is more after its end")
        if not self._had_features:
            if self.others.get("type") != "Feature":
                raise self._no_features()
            yield self.others

    def _members(self) -> Iterator[Any]:
        while True:
            key = self._value()
            if not isinstance(key, str) or self._next() != ":":
                raise self._broken("a member has no name")
            self._at += 1
            if key == "features":
                if self._had_features:
                    raise self._broken("it has two lists of features")
                self._had_features = True
                yield from self._elements()
            else:
                self.others[key] = self._value()
            if self._next() == "}":
                self._at += 1
                return
            self._expect(",")

    def _elements(self) -> Iterator[Any]:
        if self._next() != "[":
            raise self._no_features()
        self._at += 1
        if self._next() == "]":
            self._at += 1
            return
        while True:
            yield self._value()
            if self._next() == "]":
                self._at += 1
                return
            self._expect(",")

    def _expect(self, mark: str) -> None:
        if self._next() != mark:
            raise self._broken(f"a {mark!r} is missing")
        self._at += 1

    def _next(self) -> str:
        """Give the next letter that is no space, without taking it; empty at the end."""
        while True:
            while self._at < len(self._text):
                if self._text[self._at] not in _SPACE:
                    return self._text[self._at]
                self._at += 1
            if not self._more(1):
                return ""

    def _value(self) -> Any:
        """Take the next value, reading on until it is whole."""
        self._next()
        while True:
            try:
                value, end = _DECODER.raw_decode(self._text, self._at)
            except RecursionError as problem:
                raise self._broken("it is nested too deeply") from problem
            except json.JSONDecodeError as problem:
                # What is wrong well before the end is no want of more.
                cut = problem.msg.startswith("Unterminated string")
                near = problem.pos >= len(self._text) - _NEAR_END
                place = self._before + problem.pos
                if not (cut or near) or not self._more_of_one():
                    raise self._broken(problem.msg, place) from problem
            else:
                # A number may go on in what is yet to be read: of 1.5e-3 the 1, with ".", "e-".
                length = end - self._at
                if end + _NUMBER_GOES_ON < len(self._text) or not self._more_of_one():
                    self._at += length
                    return value

    def _more_of_one(self) -> bool:
        """Read on, twice as much as there is of one value; False at the end of the file."""
        have = len(self._text) - self._at
        if have > LONGEST:
            raise OutingError(
                f"{self.file.name} holds a feature of more than {LONGEST:,} letters",
                hint="take it out, or draw it with fewer corners",
                file=str(self.file),
            )
        return self._more(have)

    def _more(self, least: int) -> bool:
        parts, count = [self._text[self._at :]], 0
        while not self._ended and count < least:
            piece = next(self._pieces, None)
            if piece is None:
                self._ended = True
            else:
                parts.append(piece)
                count += len(piece)
        self._before += self._at
        self._text, self._at = "".join(parts), 0
        return count > 0

    def _broken(self, what: str, place: int | None = None) -> OutingError:
        near = self._before + self._at if place is None else place
        return refuse(
            self.file,
            f"is not GeoJSON ({what}, near letter {near + 1:,}); write a FeatureCollection",
        )

    def _no_features(self) -> OutingError:
        return refuse(self.file, "holds no list of features; write a FeatureCollection")


def features_of_sequence(file: Path) -> Iterator[Any]:
    """Give the features of a sequence, one for each line or record.

    Raises
    ------
    OutingError
        For a line that is no JSON.
    """
    with file.open("rb") as data:
        rest, number = "", 0
        for piece in _ending(_decoded(data, file)):
            lines = (rest + piece).replace(SEPARATOR, "\n").split("\n")
            rest = lines.pop()
            if len(rest) > LONGEST:
                raise refuse(
                    file, f"has more than {LONGEST:,} letters in line {number + len(lines) + 1}"
                )
            for line in lines:
                number += 1
                if line.strip():
                    yield _of_line(file, line, number)


def _ending(pieces: Iterator[str]) -> Iterator[str]:
    """The pieces, and an end of line after them."""
    yield from pieces
    yield "\n"


def _of_line(file: Path, line: str, number: int) -> Any:
    try:
        return _DECODER.decode(line)
    except (ValueError, RecursionError) as problem:
        said = str(problem)[:120] or type(problem).__name__
        raise refuse(
            file, f"has no JSON in line {number:,} ({said}); write a feature on each line"
        ) from problem


def _decoded(data: Any, file: Path) -> Iterator[str]:
    decoder = codecs.getincrementaldecoder("utf-8-sig")()
    try:
        while piece := data.read(PIECE):
            yield decoder.decode(piece)
        yield decoder.decode(b"", final=True)
    except UnicodeDecodeError as problem:
        raise refuse(file, "is not UTF-8 text; save it as UTF-8") from problem


def refuse(file: Path, what: str) -> OutingError:
    """Say of a file what is wrong with it."""
    return OutingError(f"{file.name} {what}.", file=str(file))


_DECODER: Final = json.JSONDecoder()
