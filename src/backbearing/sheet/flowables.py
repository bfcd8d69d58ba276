"""The sheet's flowables for reportlab's platypus, which sets them on pages.

Ours is only what platypus has not: narrow letters that are never missing, pictures made of
marks, and ruled lines down to the foot of the page. Imported inside functions: reportlab is
slow to load.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from xml.sax.saxutils import escape

from reportlab.lib.colors import Color
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, Paragraph, Table

from backbearing.drawing.fonts import NARROW, face, in_order
from backbearing.drawing.pdf_canvas import PdfCanvas

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.drawing.marks import Drawing
    from backbearing.drawing.palette import Colour, SheetPalette
    from backbearing.sheet.table_cells import Cell, SheetTable, ShotRow

LEAD: Final = 1.21
"""Line spacing by letter size."""

WHOLE_LINES: Final = 12
"""Paragraphs of no more lines stay on one page."""

Rule = tuple[Any, ...]


def colour(ink: Colour) -> Color:
    """One ink as reportlab names it."""
    return Color(ink[0] / 255.0, ink[1] / 255.0, ink[2] / 255.0)


class NarrowParagraph(Paragraph):
    """A paragraph in narrow letters: set at full width, and drawn on a narrower scale."""

    blank = False
    _lines = 0
    _wrapped: tuple[float, tuple[float, float]] | None = None

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:
        """Break the words into lines of a width, points; a table asks for the same many times."""
        # A break that found no room has thrown the lines away.
        kept = self._wrapped if hasattr(self, "blPara") else None
        if kept is None or kept[0] != availWidth:
            wide, tall = super().wrap(availWidth / NARROW, availHeight)
            kept = self._wrapped = availWidth, (wide * NARROW, tall)
        return kept[1]

    def split(self, availWidth: float, availHeight: float) -> list[Flowable]:
        """Break in two where the page ends, if it is long: what is short is read in one piece."""
        if self._lines <= WHOLE_LINES:
            return []
        self.wrap(availWidth, availHeight)
        return list(super().split(availWidth / NARROW, availHeight))

    def breakLines(self, width: Any) -> Any:  # noqa: N802
        """Break into lines, and put the words of each into reading order."""
        broken = super().breakLines(width)
        self._lines = len(broken.lines)
        if broken.kind:  # a word longer than a line was broken
            for line in broken.lines:
                for fragment in line.words:
                    fragment.text = in_order(fragment.text)
        else:
            broken.lines = [
                (room, in_order(" ".join(words)).split(" ")) for room, words in broken.lines
            ]
        return broken

    def draw(self) -> None:
        """Draw the lines."""
        if self.blank:
            return
        self.canv.saveState()
        self.canv.scale(NARROW, 1.0)
        super().draw()
        self.canv.restoreState()


class MarksFlowable(Flowable):
    """A picture made of marks, at a width: its drawing is ours, as marks go to SVG too."""

    def __init__(
        self, drawing: Drawing, palette: SheetPalette, width: float, *, blank: bool
    ) -> None:
        super().__init__()
        self.drawing, self.palette, self.blank = drawing, palette, blank
        self.width, self.height = width, width * drawing.height / drawing.width

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:
        """Width and height, points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it from its upper left corner."""
        if self.blank:
            return
        PdfCanvas(self.canv, self.palette, self.height).picture(self.drawing, 0.0, 0.0, self.width)


class Ruled(Flowable):
    """Lines to write on: so many, or as many as the page still holds."""

    def __init__(self, lead: float, rule: tuple[float, Color], lines: int | None = None) -> None:
        super().__init__()
        self.lead, self.rule, self.lines = lead, rule, lines

    def wrap(self, availWidth: float, availHeight: float) -> tuple[float, float]:
        """Width and height, points."""
        lines = availHeight // self.lead if self.lines is None else self.lines
        self.width, self.height = availWidth, lines * self.lead
        return self.width, self.height

    def draw(self) -> None:
        """Draw the lines."""
        self.canv.setLineWidth(self.rule[0])
        self.canv.setStrokeColor(self.rule[1])
        for i in range(round(self.height / self.lead)):
            self.canv.line(0.0, i * self.lead, self.width, i * self.lead)


@dataclass(frozen=True)
class Setter:
    """Makes flowables of one letter size and page width, points, in one palette."""

    size: float
    width: float
    palette: SheetPalette
    blank: bool = False

    def picture(self, drawing: Drawing, width: float) -> MarksFlowable:
        """Set a picture at a width; nothing of it is drawn on a blank page."""
        picture = MarksFlowable(drawing, self.palette, width, blank=self.blank)
        picture.spaceAfter = 0.5 * self.size
        return picture

    def ruled(self, lines: int | None = None) -> Ruled:
        """Set so many lines to write on; without a number down to the foot of the page."""
        return Ruled(1.95 * self.size, self.rule(0.6), lines)

    def words(
        self, text: str, *, size: float = 0.0, bold: bool = False, soft: bool = False,
        sign: str = "", after: float = 0.18, right: bool = False,
    ) -> NarrowParagraph:  # fmt: skip
        """Set a paragraph, with a sign before it where one is given; ``after`` is in letters."""
        size = size or self.size
        style = ParagraphStyle(
            "words",
            fontName=face(bold=bold).name,
            fontSize=size,
            leading=LEAD * size,
            spaceAfter=after * size,
            textColor=colour(self.palette.soft if soft else self.palette.ink),
            leftIndent=1.05 * size / NARROW if sign else 0.0,
            bulletFontName=face(bold=True).name,
            bulletFontSize=size,
            bulletColor=colour(self.palette.ink),
            alignment=TA_RIGHT if right else TA_LEFT,
        )
        made = NarrowParagraph(
            escape(face().shown(text)).replace("  ", "\u00a0 "), style, bulletText=sign or None
        )
        made.blank = self.blank
        return made

    def table(
        self, rows: Sequence[list[Any]], widths: Sequence[float], rules: Sequence[Rule] = (),
        *, top: float = 0.0, below: float = 0.0, right: float = 0.0, heads: int = 0,
    ) -> Table:  # fmt: skip
        """Set rows of flowables in columns of widths, with no other room around them, points."""
        plain: list[Rule] = [
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0.0),
            ("RIGHTPADDING", (0, 0), (-1, -1), right),
            ("TOPPADDING", (0, 0), (-1, -1), top),
            ("BOTTOMPADDING", (0, 0), (-1, -1), below),
        ]
        return Table(
            rows, colWidths=list(widths), style=[*plain, *rules], repeatRows=heads, hAlign="LEFT"
        )

    def rule(self, thick: float, *, soft: bool = False) -> tuple[float, Color]:
        """Thickness and colour of a rule."""
        return thick, colour(self.palette.rule if soft else self.palette.ink)

    def head(self, text: str) -> Table:
        """Set a heading with a rule over it, which stays with what follows."""
        size = self.size + 1.0
        above = ("LINEABOVE", (0, 0), (0, 0), *self.rule(1.1))
        words = self.words(text, size=size, bold=True)
        head = self.table([[words]], (self.width,), (above,), top=0.05 * size, below=0.15 * size)
        head.spaceBefore, head.keepWithNext = 0.35 * size, 1
        return head

    def grid(self, table: SheetTable, shares: Sequence[float]) -> Table:
        """Set a plain table, its first column bold; ``shares`` are parts of the width."""
        rows = [[self.words(name, soft=True, after=0.0) for name in table.heads]]
        rows += [
            [self.words(cell, bold=i == 0, after=0.0) for i, cell in enumerate(row)]
            for row in table.rows
        ]
        rules = (
            ("LINEBELOW", (0, 0), (-1, 0), *self.rule(0.9)),
            ("LINEBELOW", (0, 1), (-1, -1), *self.rule(0.4, soft=True)),
        )
        widths = [self.width * share for share in shares]
        grid = self.table(rows, widths, rules, right=5.0, below=0.3 * self.size, heads=1)
        grid.spaceAfter = 0.3 * self.size
        return grid

    def turns(
        self, heads: Sequence[str], turns: Sequence[ShotRow], shares: Sequence[float]
    ) -> Table:
        """Set the order of the night: large words in each cell, lines under them, a note below."""
        widths = [self.width * share for share in shares]
        rows: list[list[Any]] = [[self.words(name, soft=True) for name in heads]]
        rules: list[Rule] = [("LINEBELOW", (0, 0), (-1, 0), *self.rule(0.9))]
        for turn in turns:
            at = len(rows)
            rows += [
                [self._turn(cell, wide) for cell, wide in zip(turn.cells, widths, strict=True)],
                ["", self.words(turn.note) if turn.note else "", *[""] * (len(heads) - 2)],
            ]
            rules += [
                ("TOPPADDING", (0, at), (-1, at), 0.2 * self.size),
                ("BOTTOMPADDING", (0, at + 1), (-1, at + 1), 0.25 * self.size),
                ("SPAN", (1, at + 1), (-1, at + 1)),
                ("NOSPLIT", (0, at), (-1, at + 1)),
                ("LINEBELOW", (0, at + 1), (-1, at + 1), *self.rule(0.5, soft=True)),
            ]
        table = self.table(rows, widths, rules, right=5.0, heads=1)
        table.spaceAfter = 2.0
        return table

    def _turn(self, cell: Cell, width: float) -> list[NarrowParagraph]:
        large = self.size + 3.0
        words = face(bold=True).fit(cell.large, large, width - 5.0)
        first = self.words(words, size=large, bold=True, after=0.0)
        return [first, *(self.words(line, after=0.0) for line in cell.lines)]

    def fill_in(
        self, names: Sequence[str], shares: Sequence[float], *, width: float, size: float = 0.0
    ) -> Table:  # fmt: skip
        """Set lines to write on side by side, each after its words, in shares of a width."""
        size = size or self.size
        cells: list[Any] = []
        widths: list[float] = []
        rules: list[Rule] = []
        for name, share in zip(names, shares, strict=True):
            start, at = face().width(name, size) + 5.0, len(cells) + 1
            rules.append(("LINEBELOW", (at, 0), (at, 0), *self.rule(0.6)))
            cells += [self.words(name, size=size, after=0.0), "", ""]
            widths += [start, width * share - start - 6.0, 6.0]
        return self.table([cells], widths, rules, top=0.6 * size, below=0.0)

    def picture_rows(
        self, pictures: Sequence[tuple[Drawing, str]], columns: int, width: float
    ) -> Table:
        """Set pictures in rows of so many, with words under each."""
        gap = 8.0
        wide = (width - gap * (columns - 1)) / columns
        cells = [
            [self.picture(drawing, wide), self.words(words, after=0.5)]
            for drawing, words in pictures
        ]
        rows = [cells[i : i + columns] for i in range(0, len(cells), columns)]
        rows[-1] += [[]] * (columns - len(rows[-1]))
        return self.table(rows, [*[wide + gap] * (columns - 1), wide])
