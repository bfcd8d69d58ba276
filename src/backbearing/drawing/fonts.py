"""The sheet's letters in PDF: DejaVu Sans set narrow, measured, wrapped, and never missing.

A letter that the font lacks is shown by its code point. Right-to-left words are put into
reading order by the simple case of [UAX9]_ (no nesting); letters of cursive scripts stay
unjoined, which the HTML sheet does better.
"""

from __future__ import annotations

import unicodedata
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.errors import BackbearingError

if TYPE_CHECKING:
    from collections.abc import Iterator

NARROW: Final = 0.9
"""Horizontal scale of the letters."""

_FILES: Final = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}
_RIGHT: Final = {"R", "AL"}
_WITHIN: Final = {"R", "AL", "NSM", "WS", "ON", "CS", "ES", "ET", "EN", "AN"}


class Face:
    """One weight of the font."""

    def __init__(self, *, bold: bool) -> None:
        from importlib.util import find_spec

        from reportlab.pdfbase import pdfmetrics
        from reportlab.pdfbase.ttfonts import TTFont

        spec = find_spec("matplotlib")
        if spec is None or spec.origin is None:
            raise BackbearingError("The sheet's letters come with matplotlib", hint="install it")
        file = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / _FILES[bold]
        self.name = Path(_FILES[bold]).stem
        font: Any = TTFont(self.name, str(file))
        pdfmetrics.registerFont(font)
        self.widths: dict[int, float] = font.face.charWidths
        self.known: dict[int, int] = font.face.charToGlyph
        self._wrapped: dict[tuple[str, float, float], list[str]] = {}

    def shown(self, text: str) -> str:
        """Put code points for what the font lacks."""
        return "".join(c if ord(c) in self.known else f"<U+{ord(c):04X}>" for c in text)

    def width(self, text: str, size: float) -> float:
        """Width of a line, points."""
        return sum(self.widths[ord(c)] for c in text) * size * NARROW / 1000.0

    def wrap(self, text: str, size: float, room: float) -> list[str]:
        """Break into lines that fit; a word longer than a line is broken too."""
        key = (text, size, round(room, 2))
        if key not in self._wrapped:
            self._wrapped[key] = self._lines(text, size, room)
        return self._wrapped[key]

    def _lines(self, text: str, size: float, room: float) -> list[str]:
        lines, line = [], ""
        for word in self.shown(text).split():
            longer = f"{line} {word}" if line else word
            if self.width(longer, size) <= room:
                line = longer
                continue
            if line:
                lines.append(line)
            *full, line = self._pieces(word, size, room)
            lines += full
        return [*lines, line] if line or not lines else lines

    def _pieces(self, word: str, size: float, room: float) -> Iterator[str]:
        piece = ""
        for c in word:
            if piece and self.width(piece + c, size) > room:
                yield piece
                piece = ""
            piece += c
        yield piece

    def fit(self, text: str, size: float, room: float) -> str:
        """One line, cut with an ellipsis where it is too long."""
        line = self.shown(text)
        if self.width(line, size) <= room:
            return line
        while line and self.width(line + "…", size) > room:
            line = line[:-1]
        return line.rstrip() + "…"


def face(*, bold: bool = False) -> Face:
    """The font, read once."""
    return _faces()[bold]


@cache
def _faces() -> tuple[Face, Face]:
    return Face(bold=False), Face(bold=True)


def in_order(text: str) -> str:
    """Turn right-to-left stretches into the order in which they are set from the left."""
    if not any(unicodedata.bidirectional(c) in _RIGHT for c in text):
        return text
    out, i = "", 0
    while i < len(text):
        if unicodedata.bidirectional(text[i]) not in _RIGHT:
            out += text[i]
            i += 1
            continue
        end = last = i
        while end < len(text) and unicodedata.bidirectional(text[end]) in _WITHIN:
            if unicodedata.bidirectional(text[end]) in _RIGHT | {"NSM"}:
                last = end
            end += 1
        out += _reversed(text[i : last + 1])
        i = last + 1
    return out


def _reversed(run: str) -> str:
    """Reverse a stretch; numbers keep their order, marks their letter, brackets are mirrored."""
    clusters: list[str] = []
    for c in run:
        kind = unicodedata.bidirectional(c)
        number = kind in {"EN", "AN"} and clusters and clusters[-1][-1:].isdigit()
        if clusters and (kind == "NSM" or number):
            clusters[-1] += c
        else:
            clusters.append(c.translate(_MIRROR))
    return "".join(reversed(clusters))


_MIRROR: Final = str.maketrans("()[]{}<>«»", ")(][}{><»«")
