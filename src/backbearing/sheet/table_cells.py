"""The parts the sheet is set from: cells, rows, tables, and text made harmless."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from backbearing.base.text import terminal_safe

NAME_CHARACTERS: Final = 70


TEXT_CHARACTERS: Final = 420


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the order of the night: large words, and lines under them."""

    large: str
    lines: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ShotRow:
    """One lens's turn: a cell for each of :data:`SHOT_COLUMNS`, and a line below them."""

    number: int
    label: str
    cells: tuple[Cell, ...]
    note: str


@dataclass(frozen=True, slots=True)
class SheetTable:
    """A plain table: column heads, then rows of as many cells."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def tame(text: str, most: int = TEXT_CHARACTERS) -> str:
    """Make text from a file harmless and no longer than so many characters."""
    flat = " ".join(terminal_safe(text).split())
    return flat if len(flat) <= most else flat[: most - 1].rstrip() + "…"
