"""The sheet as PDF: one or two pages, the largest letters that fit."""

from __future__ import annotations

import io
import math
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, Literal, Protocol

from backbearing.drawing.fonts import face
from backbearing.drawing.pdf_canvas import PdfCanvas
from backbearing.sheet.story import ORDERS, story_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reportlab.platypus import Flowable

    from backbearing.drawing.palette import SheetPalette
    from backbearing.sheet.content import SheetContent
    from backbearing.sheet.drawings import Drawings
    from backbearing.sheet.flowables import Setter

Paper = Literal["a4", "letter"]

MM: Final = 72.0 / 25.4
PAPERS: Final[dict[str, tuple[float, float]]] = {
    "a4": (210.0 * MM, 297.0 * MM),
    "letter": (612.0, 792.0),
}
"""Width and height, points: ISO 216 and ANSI/ASME Y14.1."""


class Named(Protocol):
    """What stands at the foot of every page."""

    @property
    def title(self) -> str:
        """The subject."""

    @property
    def night(self) -> str:
        """The night's two dates."""

    @property
    def made(self) -> str:
        """When and by what it was made."""


MARGIN: Final = 9.0 * MM
FOOT: Final = 10.0
SIZES: Final = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)
"""Letters of the body, points, tried in turn until all fits on two pages."""


def set_pdf(content: SheetContent, drawn: Drawings, palette: SheetPalette, paper: Paper) -> bytes:
    """Set words and drawings that are made already."""
    setter, order, pages = _fitted(content, drawn, palette, paper)
    story = story_of(content, drawn, replace(setter, blank=False), order)
    return built_pages(story, content, palette, paper, pages)[0]


def _fitted(
    content: SheetContent, drawn: Drawings, palette: SheetPalette, paper: Paper
) -> tuple[Setter, Sequence[str], int]:
    """Try without pictures which are the largest letters that need two pages, and how many it is.

    The last order of the smallest letters needs what it needs.
    """
    # Classes of reportlab's, which is slow to load.
    from backbearing.sheet.flowables import Setter

    width, height = page_room(paper)
    for size in SIZES:
        setter = Setter(size, width, palette, blank=True)
        *parts, _ = story_of(content, drawn, setter)
        least = sum(part.wrap(width, math.inf)[1] for part in parts)
        if least > 2.0 * height and size > SIZES[-1]:
            continue
        for order in ORDERS:
            _, pages = built_pages(story_of(content, drawn, setter, order), content, palette, paper)
            if pages <= 2:
                return setter, order, pages
    return setter, order, pages


def page_room(paper: Paper) -> tuple[float, float]:
    """Width and height within the margins and above the foot, points."""
    wide, tall = PAPERS[paper]
    return wide - 2.0 * MARGIN, tall - 2.0 * MARGIN - FOOT


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Leave compressed streams as bytes: ASCII 85 makes them a quarter larger, and slowly."""
    from reportlab import rl_config

    before, rl_config.useA85 = rl_config.useA85, 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def built_pages(
    story: list[Flowable],
    content: Named,
    palette: SheetPalette,
    paper: Paper,
    pages: int = 0,
) -> tuple[bytes, int]:
    """Set a story on pages; the file, and how many pages it has."""
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    wide, tall = PAPERS[paper]

    def dress(canvas: Any, doc: Any) -> None:
        # Restored, since the foot's narrow letters would go on.
        canvas.saveState()
        page = PdfCanvas(canvas, palette, tall)
        if palette.red:
            page.fill(0.0, 0.0, wide, tall, palette.paper)
        _foot(page, content, f"{doc.page} of {pages}", (wide, tall))
        canvas.restoreState()

    stream = io.BytesIO()
    frame = Frame(MARGIN, MARGIN + FOOT, *page_room(paper), 0.0, 0.0, 0.0, 0.0)
    document = BaseDocTemplate(
        stream,
        pagesize=(wide, tall),
        pageTemplates=[PageTemplate(frames=[frame], onPage=dress)],
        title=f"{content.title}, {content.night}",
        subject="Sheet for the night: stands, times and cautions",
        creator="Backbearing",
        invariant=1,
        pageCompression=1,
    )
    with _plain_streams():
        document.build(story)
    return stream.getvalue(), document.page


def _foot(canvas: PdfCanvas, content: Named, number: str, paper: tuple[float, float]) -> None:
    right, base = paper[0] - MARGIN, paper[1] - MARGIN
    words = f"{content.title}, {content.night}. Made {content.made}."
    page = f"page {number}"
    room = right - MARGIN - face().width(page, 8.0) - 10.0
    canvas.words(MARGIN, base, face().fit(words, 8.0, room), 8.0, ink=canvas.palette.soft)
    canvas.words(right, base, page, 8.0, ink=canvas.palette.soft, anchor="end")
