"""Drawing the sheet's words and pictures on a PDF page; lengths are points from the top left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from backbearing.drawing.fonts import NARROW, face, in_order
from backbearing.drawing.marks import Area, Dot, Stroke

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backbearing.drawing.marks import Drawing, Mark, Panel, Points, Words
    from backbearing.drawing.palette import Colour, SheetPalette


@dataclass(frozen=True, slots=True)
class PdfCanvas:
    """A canvas with its colours; ``tall`` is the page's height."""

    canvas: Any
    palette: SheetPalette
    tall: float

    def words(
        self, x: float, y: float, text: str, size: float, *, bold: bool = False,
        ink: Colour | None = None, anchor: str = "start",
    ) -> None:  # fmt: skip
        """Set one line of text on its base line."""
        letters = face(bold=bold)
        shown = letters.shown(text)
        wide = letters.width(shown, size)
        x -= {"start": 0.0, "middle": wide / 2.0, "end": wide}[anchor]
        self.canvas.setFillColorRGB(*_rgb(ink or self.palette.ink), alpha=1.0)
        line = self.canvas.beginText(x, self.tall - y)
        line.setFont(letters.name, size)
        line.setHorizScale(100.0 * NARROW)
        line.textOut(in_order(shown))
        self.canvas.drawText(line)

    def fill(self, x: float, y: float, width: float, height: float, ink: Colour) -> None:
        """Fill a box."""
        self.canvas.setFillColorRGB(*_rgb(ink), alpha=1.0)
        self.canvas.rect(x, self.tall - y - height, width, height, stroke=0, fill=1)

    def picture(self, drawing: Drawing, x: float, y: float, width: float) -> None:
        """Draw a picture made of marks, at a width."""
        scale = width / drawing.width
        self.canvas.saveState()
        self.canvas.translate(x, self.tall - y)
        self.canvas.scale(scale, scale)
        inner = PdfCanvas(self.canvas, self.palette, 0.0)
        inner._clip(0.0, 0.0, drawing.width, drawing.height)
        for panel in drawing.panels:
            inner._panel(panel)
        inner.marks(drawing.marks)
        self.canvas.restoreState()

    def marks(self, marks: Iterable[Mark]) -> None:
        """Draw marks one after the other."""
        for mark in marks:
            if isinstance(mark, Dot):
                self.canvas.setFillColorRGB(*_rgb(mark.ink), alpha=mark.alpha)
                self.canvas.circle(mark.x, self.tall - mark.y, mark.radius, stroke=0, fill=1)
            elif isinstance(mark, Area):
                self._area(mark)
            elif isinstance(mark, Stroke):
                self._line(mark)
            else:
                self._word(mark)

    def _word(self, mark: Words) -> None:
        self.words(mark.x, mark.y, mark.text, mark.size, bold=mark.bold, ink=mark.ink,
                   anchor=mark.anchor)  # fmt: skip

    def _panel(self, panel: Panel) -> None:
        from PIL import Image
        from reportlab.lib.utils import ImageReader

        size = (round(panel.width * 2.0), round(panel.height * 2.0))
        sky = Image.fromarray(panel.sky).resize(size, Image.Resampling.BICUBIC)
        self.canvas.saveState()
        self._clip(panel.x, panel.y, panel.width, panel.height)
        below = self.tall - panel.y - panel.height
        self.canvas.drawImage(ImageReader(sky), panel.x, below, panel.width, panel.height)
        inner = PdfCanvas(self.canvas, self.palette, self.tall - panel.y)
        inner.marks(panel.marks)
        self.canvas.restoreState()

    def _clip(self, x: float, y: float, width: float, height: float) -> None:
        path = self.canvas.beginPath()
        path.rect(x, self.tall - y - height, width, height)
        self.canvas.clipPath(path, stroke=0, fill=0)

    def _area(self, mark: Area) -> None:
        path = self.canvas.beginPath()
        for ring in mark.rings:
            self._trace(path, ring)
            path.close()
        self.canvas.setFillColorRGB(*_rgb(mark.ink), alpha=1.0)
        if mark.edge is not None:
            self.canvas.setStrokeColorRGB(*_rgb(mark.edge), alpha=1.0)
            self.canvas.setLineWidth(0.5)
        self.canvas.drawPath(path, stroke=int(mark.edge is not None), fill=1, fillMode=0)

    def _line(self, mark: Stroke) -> None:
        path = self.canvas.beginPath()
        self._trace(path, mark.points)
        self.canvas.setStrokeColorRGB(*_rgb(mark.ink), alpha=mark.alpha)
        self.canvas.setLineWidth(mark.width)
        self.canvas.setDash([4.0, 2.6] if mark.dashed else [])
        self.canvas.drawPath(path, stroke=1, fill=0)
        self.canvas.setDash()

    def _trace(self, path: Any, points: Points) -> None:
        for i, (x, y) in enumerate(points):
            (path.lineTo if i else path.moveTo)(x, self.tall - y)


def _rgb(ink: Colour) -> tuple[float, float, float]:
    return ink[0] / 255.0, ink[1] / 255.0, ink[2] / 255.0
