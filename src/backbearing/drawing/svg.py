"""A drawing as SVG: plain attributes only, so that a strict page may hold it."""

from __future__ import annotations

import base64
import io
from html import escape
from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe
from backbearing.drawing.marks import Area, Dot, Stroke

if TYPE_CHECKING:
    from collections.abc import Iterable

    from backbearing.drawing.marks import Drawing, Mark, Panel, Points


def drawing_svg(drawing: Drawing) -> str:
    """Write a drawing as SVG; the same drawing gives the same text."""
    opening = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {drawing.width} {drawing.height}" '
        'role="img" font-family="DejaVu Sans, Verdana, sans-serif">'
    )
    parts = [
        opening,
        f"<title>{_text(drawing.title)}</title>",
        f"<desc>{_text(drawing.description)}</desc>",
        f'<rect width="{drawing.width}" height="{drawing.height}" fill="{drawing.paper.css}"/>',
        *(_panel(panel) for panel in drawing.panels),
        *_marks(drawing.marks),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _panel(panel: Panel) -> str:
    size = f'width="{_n(panel.width)}" height="{_n(panel.height)}"'
    # An inner svg element clips to its own box without a name that two pictures could share.
    return "\n".join(
        [
            f'<svg x="{_n(panel.x)}" y="{_n(panel.y)}" {size} overflow="hidden">',
            f'<image {size} preserveAspectRatio="none" href="{_data_uri(panel)}"/>',
            *_marks(panel.marks),
            "</svg>",
        ]
    )


def _data_uri(panel: Panel) -> str:
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(panel.sky).save(stream, format="PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def _marks(marks: Iterable[Mark]) -> list[str]:
    return [_mark(mark) for mark in marks]


def _mark(mark: Mark) -> str:
    if isinstance(mark, Dot):
        return (
            f'<circle cx="{_n(mark.x)}" cy="{_n(mark.y)}" r="{mark.radius:.2f}" '
            f'fill="{mark.ink.css}"{_opacity(mark.alpha)}/>'
        )
    if isinstance(mark, Area):
        shape = "".join(f"M{_path(ring)}Z" for ring in mark.rings)
        edge = f' stroke="{mark.edge.css}" stroke-width="0.6"' if mark.edge else ""
        return f'<path d="{shape}" fill="{mark.ink.css}" fill-rule="evenodd"{edge}/>'
    if isinstance(mark, Stroke):
        dash = ' stroke-dasharray="5 4"' if mark.dashed else ""
        return (
            f'<path d="M{_path(mark.points)}" fill="none" stroke="{mark.ink.css}" '
            f'stroke-width="{_n(mark.width)}"{dash}{_opacity(mark.alpha)}/>'
        )
    weight = ' font-weight="bold"' if mark.bold else ""
    return (
        f'<text x="{_n(mark.x)}" y="{_n(mark.y)}" font-size="{_n(mark.size)}" '
        f'text-anchor="{mark.anchor}" fill="{mark.ink.css}"{weight}>{_text(mark.text)}</text>'
    )


def _path(points: Points) -> str:
    return "L".join(f"{_n(x)} {_n(y)}" for x, y in points)


def _text(words: str) -> str:
    return escape(terminal_safe(words))


def _opacity(alpha: float) -> str:
    return "" if alpha >= 1.0 else f' opacity="{alpha:.2f}"'


def _n(value: float) -> str:
    return num(value, 1).removesuffix(".0")
