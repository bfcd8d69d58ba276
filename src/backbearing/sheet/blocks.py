"""Blocks of the printed sheet: each knows its height at a width, and draws itself."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

from backbearing.drawing.fonts import face

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.drawing.marks import Sheet
    from backbearing.drawing.pdf_canvas import Pen
    from backbearing.sheet.cells import ShotRow, Table

LEAD = 1.21
"""Line spacing by letter size."""


class Block(Protocol):
    """Something on the page."""

    def height(self, width: float) -> float:
        """Height that it takes at a width, points."""
        ...

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:
        """Draw it with its upper left corner there."""
        ...


@dataclass(frozen=True, slots=True)
class Head:
    """A heading with a rule over it."""

    text: str
    size: float

    def height(self, width: float) -> float:  # noqa: D102
        return self.size * 1.8

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        pen.rule(x, y + self.size * 0.35, width, thick=1.1, ink=pen.inks.ink)
        pen.words(x, y + self.size * 1.4, self.text, self.size, bold=True)


@dataclass(frozen=True, slots=True)
class Title:
    """The subject large, and the night at the right end of the line where both fit."""

    text: str
    night: str
    size: float

    def _beside(self, width: float) -> bool:
        room = width - face(bold=True).width(self.night, self.size * 0.8) - 12.0
        return len(face(bold=True).wrap(self.text, self.size, room)) == 1

    def height(self, width: float) -> float:  # noqa: D102
        lines = len(face(bold=True).wrap(self.text, self.size, width))
        return (lines + (0 if self._beside(width) else 1)) * LEAD * self.size

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        lines = face(bold=True).wrap(self.text, self.size, width)
        for i, line in enumerate(lines):
            pen.words(x, y + self.size * (0.95 + i * LEAD), line, self.size, bold=True)
        last = len(lines) - (1 if self._beside(width) else 0)
        base = y + self.size * (0.95 + last * LEAD)
        pen.words(x + width, base, self.night, self.size * 0.8, bold=True, anchor="end")


@dataclass(frozen=True, slots=True)
class Para:
    """A paragraph, with a sign before it where one is given."""

    text: str
    size: float
    sign: str = ""
    bold: bool = False
    soft: bool = False
    after: float = 0.18
    drop: float = 0.0

    def _indent(self) -> float:
        return self.size * 1.05 if self.sign else 0.0

    def lines(self, width: float) -> list[str]:
        """The text in lines of a width."""
        return face(bold=self.bold).wrap(self.text, self.size, width - self._indent())

    def height(self, width: float) -> float:  # noqa: D102
        return (len(self.lines(width)) * LEAD + self.after) * self.size

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        ink = pen.inks.soft if self.soft else pen.inks.ink
        base = y + self.size * (0.95 + self.drop)
        if self.sign:
            pen.words(x, base, self.sign, self.size, bold=True)
        for i, line in enumerate(self.lines(width)):
            at = base + i * LEAD * self.size
            pen.words(x + self._indent(), at, line, self.size, bold=self.bold, ink=ink)


@dataclass(frozen=True, slots=True)
class Grid:
    """A plain table; ``shares`` are the columns' parts of the width."""

    table: Table
    shares: tuple[float, ...]
    size: float

    def _cells(self, row: Sequence[str], width: float, *, bold: bool) -> list[list[str]]:
        return [
            face(bold=bold or i == 0).wrap(cell, self.size, width * share - 5.0)
            for i, (cell, share) in enumerate(zip(row, self.shares, strict=True))
        ]

    def _rows(self, width: float) -> list[tuple[list[list[str]], bool]]:
        rows = [(self._cells(self.table.heads, width, bold=False), True)]
        return rows + [(self._cells(row, width, bold=False), False) for row in self.table.rows]

    def _tall(self, cells: list[list[str]]) -> float:
        return (max(map(len, cells)) * LEAD + 0.3) * self.size

    def height(self, width: float) -> float:  # noqa: D102
        return sum(self._tall(cells) for cells, _ in self._rows(width)) + 0.3 * self.size

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        for cells, is_head in self._rows(width):
            left = x
            for i, (lines, share) in enumerate(zip(cells, self.shares, strict=True)):
                for k, line in enumerate(lines):
                    at = y + self.size * (1.0 + k * LEAD)
                    ink = pen.inks.soft if is_head else pen.inks.ink
                    pen.words(left, at, line, self.size, bold=i == 0 and not is_head, ink=ink)
                left += width * share
            y += self._tall(cells)
            pen.rule(x, y, width, thick=0.9 if is_head else 0.4,
                     ink=pen.inks.ink if is_head else None)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Turns:
    """The order of the night: large words in each cell, lines under them, a note below."""

    heads: tuple[str, ...]
    rows: tuple[ShotRow, ...]
    shares: tuple[float, ...]
    size: float
    large: float

    def _lines(self, row: ShotRow, width: float) -> list[list[str]]:
        return [
            [w for line in cell.lines for w in face().wrap(line, self.size, width * share - 5.0)]
            for cell, share in zip(row.cells, self.shares, strict=True)
        ]

    def _note(self, row: ShotRow, width: float) -> list[str]:
        room = width * (1.0 - self.shares[0])
        return face().wrap(row.note, self.size, room) if row.note else []

    def _tall(self, row: ShotRow, width: float) -> float:
        deep = max(map(len, self._lines(row, width))) + len(self._note(row, width))
        return self.large * 1.25 + deep * LEAD * self.size + 0.45 * self.size

    def height(self, width: float) -> float:  # noqa: D102
        return self.size * 1.5 + sum(self._tall(row, width) for row in self.rows) + 2.0

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        left = x
        for name, share in zip(self.heads, self.shares, strict=True):
            pen.words(left, y + self.size, name, self.size, ink=pen.inks.soft)
            left += width * share
        y += self.size * 1.5
        pen.rule(x, y, width, thick=0.9, ink=pen.inks.ink)
        for row in self.rows:
            self._row(pen, x, y, width, row)
            y += self._tall(row, width)
            pen.rule(x, y, width, thick=0.5)

    def _row(self, pen: Pen, x: float, y: float, width: float, row: ShotRow) -> None:
        left, deep = x, 0
        for cell, lines, share in zip(row.cells, self._lines(row, width), self.shares, strict=True):
            large = face(bold=True).fit(cell.large, self.large, width * share - 4.0)
            pen.words(left, y + self.large * 1.15, large, self.large, bold=True)
            for k, line in enumerate(lines):
                pen.words(left, self._base(y, k), line, self.size)
            deep = max(deep, len(lines))
            left += width * share
        for k, line in enumerate(self._note(row, width)):
            pen.words(x + width * self.shares[0], self._base(y, deep + k), line, self.size)

    def _base(self, y: float, line: int) -> float:
        return y + self.large * 1.25 + self.size * (0.95 + line * LEAD)


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures in rows of so many, with words under each."""

    sheets: tuple[tuple[Sheet, str], ...]
    columns: int
    size: float
    gap: float = 8.0

    def _wide(self, width: float) -> float:
        return (width - self.gap * (self.columns - 1)) / self.columns

    def _tall(self, sheet: Sheet, words: str, width: float) -> float:
        wide = self._wide(width)
        lines = len(face().wrap(words, self.size, wide)) if words else 0
        return wide * sheet.height / sheet.width + (lines * LEAD + 0.5) * self.size

    def _rows(self) -> list[tuple[tuple[Sheet, str], ...]]:
        return [self.sheets[i : i + self.columns] for i in range(0, len(self.sheets), self.columns)]

    def height(self, width: float) -> float:  # noqa: D102
        return sum(max(self._tall(*pair, width) for pair in row) for row in self._rows())

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        wide = self._wide(width)
        for row in self._rows():
            for i, (sheet, words) in enumerate(row):
                left = x + i * (wide + self.gap)
                pen.picture(sheet, left, y, wide)
                base = y + wide * sheet.height / sheet.width + self.size
                for k, line in enumerate(face().wrap(words, self.size, wide) if words else ()):
                    pen.words(left, base + k * LEAD * self.size, line, self.size)
            y += max(self._tall(*pair, width) for pair in row)


@dataclass(frozen=True, slots=True)
class FillIn:
    """A line to write on, after its words; several to a row."""

    names: tuple[str, ...]
    size: float
    shares: tuple[float, ...] = field(default=(1.0,))

    def height(self, width: float) -> float:  # noqa: D102
        return self.size * 1.95

    def draw(self, pen: Pen, x: float, y: float, width: float) -> None:  # noqa: D102
        base = y + self.size * 1.45
        for name, share in zip(self.names, self.shares, strict=True):
            pen.words(x, base, name, self.size)
            start = face().width(name, self.size) + 5.0 if name else 0.0
            pen.rule(x + start, base + 1.5, width * share - start - 6.0, ink=pen.inks.ink)
            x += width * share
