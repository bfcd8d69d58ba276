"""A drawing as PNG, painted at twice the size and brought down."""

from __future__ import annotations

import io
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.text import terminal_safe
from backbearing.drawing.marks import Area, Dot, Stroke

if TYPE_CHECKING:
    from collections.abc import Iterable

    from PIL.Image import Image as Picture
    from PIL.ImageDraw import ImageDraw

    from backbearing.drawing.marks import Drawing, Mark, Panel, Points, Words

FINER: Final = 2
"""Painted so many times larger than shown, for smooth edges."""


def drawing_png(drawing: Drawing) -> bytes:
    """Paint a drawing as PNG."""
    stream = io.BytesIO()
    painted(drawing).save(stream, format="PNG", optimize=False, compress_level=6)
    return stream.getvalue()


def drawing_webp(drawing: Drawing) -> bytes:
    """Paint a drawing as WebP, a quarter of the size, for the page."""
    stream = io.BytesIO()
    painted(drawing).save(stream, format="WEBP", quality=82, method=4)
    return stream.getvalue()


def painted(drawing: Drawing) -> Picture:
    """Paint a drawing."""
    from PIL import Image

    size = (drawing.width * FINER, drawing.height * FINER)
    picture = Image.new("RGB", size, drawing.paper)
    for panel in drawing.panels:
        box = (round(panel.x * FINER), round(panel.y * FINER))
        picture.paste(_panel(panel), box)
    _paint(picture, drawing.marks)
    return picture.resize((drawing.width, drawing.height), Image.Resampling.BOX)


def _panel(panel: Panel) -> Picture:
    from PIL import Image

    size = (round(panel.width * FINER), round(panel.height * FINER))
    picture = Image.fromarray(panel.sky).resize(size, Image.Resampling.BICUBIC)
    _paint(picture, panel.marks)
    return picture


def _paint(picture: Picture, marks: Iterable[Mark]) -> None:
    from PIL import ImageDraw

    draw = ImageDraw.Draw(picture, "RGBA")
    for mark in marks:
        if isinstance(mark, Dot):
            x, y, r = (v * FINER for v in (mark.x, mark.y, mark.radius))
            draw.ellipse((x - r, y - r, x + r, y + r), fill=(*mark.ink, round(255 * mark.alpha)))
        elif isinstance(mark, Area):
            _fill(picture, draw, mark)
        elif isinstance(mark, Stroke):
            _stroke(draw, mark)
        else:
            _write(draw, mark)


def _fill(picture: Picture, draw: ImageDraw, area: Area) -> None:
    from PIL import Image, ImageChops, ImageDraw

    mask = Image.new("1", picture.size)
    for ring in area.rings:
        one = Image.new("1", picture.size)
        ImageDraw.Draw(one).polygon(_scaled(ring), fill=1)
        mask = ImageChops.logical_xor(mask, one)
    picture.paste(area.ink, (0, 0, *picture.size), mask.convert("L"))
    if area.edge is not None:
        for ring in area.rings:
            draw.line([*_scaled(ring), _scaled(ring)[0]], fill=(*area.edge, 255), width=1)


def _stroke(draw: ImageDraw, line: Stroke) -> None:
    ink = (*line.ink, round(255 * line.alpha))
    wide = max(1, round(line.width * FINER))
    points = _scaled(line.points)
    if not line.dashed:
        draw.line(points, fill=ink, width=wide, joint="curve")
        return
    for (ax, ay), (bx, by) in pairwise(points):
        length = max(1e-9, ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5)
        at = 0.0
        while at < length:
            end = min(at + 5.0 * FINER, length)
            p, q = at / length, end / length
            draw.line(
                [ax + (bx - ax) * p, ay + (by - ay) * p, ax + (bx - ax) * q, ay + (by - ay) * q],
                fill=ink,
                width=wide,
            )
            at += 9.0 * FINER


def _write(draw: ImageDraw, words: Words) -> None:
    anchor = {"start": "ls", "middle": "ms", "end": "rs"}[words.anchor]
    draw.text(
        (words.x * FINER, words.y * FINER),
        terminal_safe(words.text),
        fill=(*words.ink, 255),
        font=_font(round(words.size * FINER), words.bold),
        anchor=anchor,
    )


def _scaled(points: Points) -> list[tuple[float, float]]:
    return [(x * FINER, y * FINER) for x, y in points]


@cache
def _font(size: int, bold: bool) -> Any:
    """DejaVu Sans as matplotlib ships it, found without importing matplotlib."""
    from importlib.util import find_spec

    from PIL import ImageFont

    spec = find_spec("matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    if spec is not None and spec.origin is not None:
        path = Path(spec.origin).parent / "mpl-data" / "fonts" / "ttf" / name
        if path.exists():
            return ImageFont.truetype(str(path), size)
    return ImageFont.load_default(size)
