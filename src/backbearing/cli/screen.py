"""Text laid out for the terminal at hand: no word is broken and no digit is ever cut.

Signs that the terminal cannot print become plain ones before anything is measured, so that
columns stand under one another on an ASCII terminal too.
"""

from __future__ import annotations

import shutil
import sys
import unicodedata
from typing import TYPE_CHECKING, Final

import click

from backbearing.base.text import terminal_safe
from backbearing.cli.terminal import plain_for

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Sequence

SCREEN_LINES: Final = 30
SCREEN_COLUMNS: Final = 80
"""What the short answer of a command may take: so many lines where there are so many columns."""

_LEAST_WIDTH: Final = 20
_LEAST_WORDS: Final = 14
_GAP: Final = "  "


class Screen:
    """Gather what a command says, laid out for one width; ``show`` prints it.

    Parameters
    ----------
    width : int, optional
        Columns; the terminal's own (``COLUMNS``), or 80, when left out.
    encoding : str, optional
        What the terminal can print; standard output's when left out.
    """

    def __init__(self, width: int | None = None, encoding: str | None = None) -> None:
        columns = shutil.get_terminal_size((80, 24)).columns if width is None else width
        self.width = max(columns, _LEAST_WIDTH)
        self.encoding = encoding or getattr(sys.stdout, "encoding", None) or "utf-8"
        self.lines: list[tuple[str, bool]] = []

    @property
    def text(self) -> str:
        """All that was said, a line each."""
        return "\n".join(line for line, _ in self.lines)

    def show(self) -> None:
        """Print what was gathered, headings in bold where the terminal can, and forget it."""
        for line, bold in self.lines:
            click.echo(click.style(line, bold=True) if bold and line else line)
        self.lines.clear()

    def blank(self) -> None:
        """Leave a line free."""
        self.lines.append(("", False))

    def title(self, text: str) -> None:
        """Say a heading."""
        self._add(self._wrapped(text, self.width), bold=True)

    def say(self, text: str, *, indent: int = 0, hang: int = 0) -> None:
        """Say a sentence; its further lines stand ``hang`` columns further in."""
        self._add(self._indented(text, indent, hang))

    def labelled(self, label: str, text: str) -> None:
        """Say a sentence behind its label, its further lines two columns in."""
        self.say(f"{label}: {text}", hang=2)

    def some(self, sentences: Sequence[str], most: int) -> None:
        """Say sentences, two columns in, in so many lines at most, and how many are left.

        At least one is said.
        """
        made = [self._indented(one, 2, 2) for one in sentences]
        free, shown = most, 0
        for i, lines in enumerate(made):
            # The last needs no line after it for those that are left.
            kept = 0 if i == len(made) - 1 else 1
            if shown and len(lines) + kept > free:
                break
            free -= len(lines)
            shown += 1
            self._add(lines)
        if shown < len(made):
            self.say(f"and {len(made) - shown} more: --all", indent=2)

    def facts(self, names: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Set things beside one another, a column each, a line for each fact.

        Where they do not fit, the things stand in blocks below one another.

        Parameters
        ----------
        names : sequence of str
            What the lines are, then the things.
        rows : sequence of sequence of str
            For each line its name, then the fact for every thing.
        """
        grid = [[self._plain(cell) for cell in row] for row in (names, *rows)]
        widths = [max(_cells(row[i]) for row in grid) for i in range(len(names))]
        first = 1
        while first < len(names):
            last = first + 1
            while last < len(names) and self._fits([widths[0], *widths[first : last + 1]]):
                last += 1
            if first > 1:
                self.blank()
            chosen = [0, *range(first, last)]
            part = [[row[i] for i in chosen] for row in grid]
            if self._fits([widths[i] for i in chosen]):
                self._rows(part, [widths[i] for i in chosen], left={0})
            else:
                self._records([[row[1], row[0]] for row in part[:1]], part[1:])
            first = last

    def listing(
        self,
        names: Sequence[str],
        rows: Iterable[Sequence[str]],
        *,
        left: Collection[str] = (),
        words: Collection[str] = (),
    ) -> None:
        """List rows under their names.

        Where they do not fit, columns of ``words`` are wrapped; where that does not do, each
        row becomes a few lines of names and values.

        Parameters
        ----------
        names, rows : sequences of str
            Heads, and for each row as many cells.
        left, words : collections of str
            Heads of the columns set to the left, and of those that may be wrapped.
        """
        grid = [[self._plain(cell) for cell in row] for row in (names, *rows)]
        widths = [max(_cells(row[i]) for row in grid) for i in range(len(names))]
        wraps = [i for i, name in enumerate(names) if name in words]
        lefts = {i for i, name in enumerate(names) if name in left or name in words or i == 0}
        if not self._fits(widths) and wraps:
            taken = sum(w for i, w in enumerate(widths) if i not in wraps)
            free = self.width - taken - len(_GAP) * (len(names) - 1)
            share = free // len(wraps)
            if share >= _LEAST_WORDS:
                for i in wraps:
                    longest = max(_cells(word) for row in grid for word in row[i].split(" "))
                    widths[i] = min(widths[i], max(share, longest))
        if self._fits(widths):
            self._rows(grid, widths, lefts)
            return
        for row in grid[1:]:
            cells = zip(grid[0][1:], row[1:], strict=True)
            said = ", ".join(f"{name} {cell}".strip() for name, cell in cells if cell)
            self.say(f"{row[0]}: {said}", hang=2)

    def _records(self, head: list[list[str]], rows: list[list[str]]) -> None:
        """Say facts as lines of words where not even one column fits beside the names."""
        self.title(head[0][0])
        for name, cell in rows:
            if cell:
                self.say(f"{name}: {cell}", indent=2, hang=2)

    def _rows(self, grid: list[list[str]], widths: list[int], left: Collection[int]) -> None:
        for number, row in enumerate(grid):
            cells = [_wrap(cell, width) for cell, width in zip(row, widths, strict=True)]
            for line in range(max(map(len, cells))):
                parts = [
                    _padded(cell[line] if line < len(cell) else "", width, left=i in left)
                    for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
                ]
                self.lines.append((_GAP.join(parts).rstrip(), number == 0))

    def _fits(self, widths: Sequence[int]) -> bool:
        return sum(widths) + len(_GAP) * (len(widths) - 1) <= self.width

    def _plain(self, text: str) -> str:
        return plain_for(terminal_safe(text), self.encoding)

    def _wrapped(self, text: str, width: int) -> list[str]:
        return _wrap(self._plain(text), width)

    def _indented(self, text: str, indent: int, hang: int) -> list[str]:
        first, *rest = _wrap(self._plain(text), self.width - indent, hang)
        return [" " * indent + first, *(" " * (indent + hang) + line for line in rest)]

    def _add(self, lines: Iterable[str], *, bold: bool = False) -> None:
        self.lines.extend((line, bold) for line in lines)


def _wrap(text: str, width: int, hang: int = 0) -> list[str]:
    """Break a text at spaces only; a word that is too long stays whole.

    Lines after the first are ``hang`` columns shorter.
    """
    lines, now, room = [], "", width
    for word in text.split(" "):
        longer = f"{now} {word}" if now else word
        if now and _cells(longer) > room:
            lines.append(now)
            now, room = word, width - hang
        else:
            now = longer
    return [*lines, now]


def _padded(text: str, width: int, *, left: bool) -> str:
    fill = " " * max(width - _cells(text), 0)
    return text + fill if left else fill + text


def _cells(text: str) -> int:
    """Columns that a text takes: two for a wide letter, none for a mark over another."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1
        for one in text
    )
