"""The sheet as PDF: one or two pages, the largest letters that fit."""

from __future__ import annotations

import io
from contextlib import contextmanager
from itertools import product
from typing import TYPE_CHECKING, Any, Final, Literal

from backbearing.drawing.fonts import face
from backbearing.drawing.pdf_canvas import Pen
from backbearing.sheet.blocks import FillIn, Head
from backbearing.sheet.layout import ORDERS, blocks_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.drawing.palette import SheetPalette
    from backbearing.sheet.blocks import Block
    from backbearing.sheet.content import SheetContent
    from backbearing.sheet.drawings import Drawings

Paper = Literal["a4", "letter"]

MM: Final = 72.0 / 25.4
PAPERS: Final[dict[str, tuple[float, float]]] = {
    "a4": (210.0 * MM, 297.0 * MM),
    "letter": (612.0, 792.0),
}
"""Width and height, points: ISO 216 and ANSI/ASME Y14.1."""

MARGIN: Final = 9.0 * MM
FOOT: Final = 10.0
SIZES: Final = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
"""Letters of the body, points, tried in turn until all fits on two pages."""


def set_pdf(content: SheetContent, drawn: Drawings, inks: SheetPalette, paper: Paper) -> bytes:
    """Set words and drawings that are made already."""
    from reportlab.pdfgen.canvas import Canvas

    wide, tall = PAPERS[paper]
    pages = _fitted(content, drawn, wide - 2.0 * MARGIN, tall - 2.0 * MARGIN - FOOT)
    stream = io.BytesIO()
    canvas: Any = Canvas(stream, pagesize=(wide, tall), invariant=1, pageCompression=1)
    canvas.setTitle(f"{content.title}, {content.night}")
    canvas.setSubject("Sheet for the night: stands, times and cautions")
    canvas.setCreator("Backbearing")
    with _plain_streams():
        for number, page in enumerate(pages, start=1):
            _draw_page(canvas, inks, (wide, tall), page, content, f"{number} of {len(pages)}")
            canvas.showPage()
        canvas.save()
    return stream.getvalue()


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Leave compressed streams as bytes: ASCII 85 makes them a quarter larger, and slowly."""
    from reportlab import rl_config

    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _fitted(
    content: SheetContent, drawn: Drawings, width: float, room: float
) -> list[list[tuple[Block, float]]]:
    """The largest letters that need two pages, the rest filled with note lines."""
    for size, order in product(SIZES, ORDERS):
        blocks = blocks_of(content, drawn, size, order)
        pages = _paged(blocks, width, room)
        if len(pages) <= 2:
            break
    last, line = pages[-1], FillIn(("",), size)
    y = last[-1][1] + last[-1][0].height(width)
    while y + line.height(width) <= room:
        last.append((line, y))
        y += line.height(width)
    return pages


def _paged(blocks: list[Block], width: float, room: float) -> list[list[tuple[Block, float]]]:
    """Fill pages from the top; a heading stays with what follows it."""
    pages: list[list[tuple[Block, float]]] = [[]]
    y = 0.0
    for i, block in enumerate(blocks):
        need = high = block.height(width)
        if isinstance(block, Head) and i + 1 < len(blocks):
            need += min(blocks[i + 1].height(width), 0.5 * room)
        if pages[-1] and y + need > room:
            pages.append([])
            y = 0.0
        pages[-1].append((block, y))
        y += high
    return pages


def _draw_page(
    canvas: Any, inks: SheetPalette, size: tuple[float, float], page: list[tuple[Block, float]],
    content: SheetContent, number: str,
) -> None:  # fmt: skip

    wide, tall = size
    pen = Pen(canvas, inks, tall)
    if inks.red:
        pen.fill(0.0, 0.0, wide, tall, inks.paper)
    width = wide - 2.0 * MARGIN
    for block, y in page:
        block.draw(pen, MARGIN, MARGIN + y, width)
    _foot(pen, content, number, MARGIN, tall - MARGIN, width)


def _foot(pen: Pen, content: SheetContent, number: str, x: float, y: float, width: float) -> None:

    words = f"{content.title}, {content.night}. Made {content.made}."
    page = f"page {number}"
    room = width - face().width(page, 8.0) - 10.0
    pen.words(x, y, face().fit(words, 8.0, room), 8.0, ink=pen.inks.soft)
    pen.words(x + width, y, page, 8.0, ink=pen.inks.soft, anchor="end")
