"""The correction card as PDF: large letters, one page for a short night, more for a long one."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

from backbearing.drawing.palette import SHEET, SHEET_RED
from backbearing.sheet.pdf import built_pages, page_room
from backbearing.sheet.table_cells import SheetTable

if TYPE_CHECKING:
    from reportlab.platypus import Flowable

    from backbearing.sheet.correction_card import CardContent
    from backbearing.sheet.flowables import Setter
    from backbearing.sheet.pdf import Paper

CARD_SIZES: Final = (12.0, 11.0, 10.0)
"""Letters, points: the largest of which the fewest pages are needed. Never smaller."""

FIRST_COLUMN: Final = 0.13
MOST_COLUMNS: Final = 5
"""Lenses beside one another, for a cell must hold two steps in a line."""


def set_card(content: CardContent, *, red: bool, paper: Paper) -> bytes:
    """Set the card."""
    # Classes of reportlab's, which is slow to load.
    from backbearing.sheet.flowables import Setter

    palette = SHEET_RED if red else SHEET
    width, _ = page_room(paper)
    setters = [Setter(size, width, palette, blank=True) for size in CARD_SIZES]
    counts = [built_pages(_story(content, one), content, palette, paper)[1] for one in setters]
    best = counts.index(min(counts))
    setter = replace(setters[best], blank=False)
    return built_pages(_story(content, setter), content, palette, paper, counts[best])[0]


def _story(content: CardContent, setter: Setter) -> list[Flowable]:
    large = setter.size + 6.0
    story: list[Flowable] = [
        setter.words(f"{content.title}, {content.night}", size=large, bold=True, after=0.1),
        setter.words(content.lead),
        *(setter.words(note, after=0.1) for note in content.notes),
    ]
    for head, table in (
        (content.heights_head, content.heights),
        (content.minutes_head, content.minutes),
    ):
        if table.rows and len(table.heads) > 1:
            story.append(setter.head(head))
            story += [setter.grid(part, _shares(part)) for part in _side_by_side(table)]
    return story


def _side_by_side(table: SheetTable) -> list[SheetTable]:
    """Cut a table of many lenses into tables of as many columns as a page holds legibly."""
    many = len(table.heads) - 1
    return [
        SheetTable(
            (table.heads[0], *table.heads[start : start + MOST_COLUMNS]),
            tuple((row[0], *row[start : start + MOST_COLUMNS]) for row in table.rows),
        )
        for start in range(1, many + 1, MOST_COLUMNS)
    ]


def _shares(table: SheetTable) -> tuple[float, ...]:
    columns = len(table.heads) - 1
    return (FIRST_COLUMN, *[(1.0 - FIRST_COLUMN) / columns] * columns)
