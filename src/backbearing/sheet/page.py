"""The sheet as HTML: one file with print rules of its own, no script, nothing fetched."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import num
from backbearing.base.text import terminal_safe
from backbearing.drawing.page_shell import asset, filled_block, filled_page
from backbearing.drawing.png import drawing_webp
from backbearing.drawing.svg import drawing_svg
from backbearing.sheet.content import BLANKS, LATE_HEAD, SHOT_COLUMNS

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.drawing.marks import Drawing
    from backbearing.drawing.palette import SheetPalette
    from backbearing.sheet.content import SheetContent
    from backbearing.sheet.drawings import Drawings
    from backbearing.sheet.pdf import Paper

PAGE_SIZES = {"a4": "A4", "letter": "letter"}
NOTE_LINES = {"a4": 4, "letter": 2}
LETTERS_PT = {"a4": 10.0, "letter": 9.5}
PT_PER_LENS, LEAST_PT = 0.45, 8.0
"""Printed letters for up to four lenses, and how much smaller they are for each lens more."""


def set_html(content: SheetContent, drawn: Drawings, palette: SheetPalette, paper: Paper) -> str:
    """Set words and drawings that are made already."""
    style = _style(palette, paper, len(content.shots))
    return filled_page("sheet", "sheet.html", styles=[style], **_parts(content, drawn, paper))


def set_inside(
    content: SheetContent, drawn: Drawings, palette: SheetPalette, paper: Paper
) -> tuple[str, str]:
    """Set the same to stand inside another page: what its body holds, and its style.

    The pictures are painted, in a quarter of the bytes that their stars take as shapes.
    """
    parts = _parts(content, drawn, paper)
    parts["pictures"] = [(_painted(sheet), words) for sheet, words in drawn.pictures]
    body = filled_block("sheet", "sheet.html", "body", **parts)
    return body, _style(palette, paper, len(content.shots))


def _painted(sheet: Drawing) -> Markup:
    from markupsafe import Markup

    data = base64.b64encode(drawing_webp(sheet)).decode("ascii")
    picture = '<img src="data:image/webp;base64,{}" width="{}" height="{}" alt="{}">'
    words = terminal_safe(sheet.description)
    # Our own element; what is put into it is escaped.
    return Markup(picture).format(data, sheet.width, sheet.height, words)  # noqa: S704


def _parts(content: SheetContent, drawn: Drawings, paper: Paper) -> dict[str, Any]:
    from markupsafe import Markup

    # Pictures whose every word was escaped as they were drawn.
    pictures = [(Markup(drawing_svg(sheet)), words) for sheet, words in drawn.pictures]  # noqa: S704
    return {
        "content": content,
        "columns": SHOT_COLUMNS,
        "blanks": BLANKS,
        "map_key": drawn.key,
        "late_head": LATE_HEAD,
        "note_lines": NOTE_LINES[paper] if len(content.shots) <= 4 else 2,
        "timeline": Markup(drawing_svg(drawn.timeline)) if drawn.timeline else None,  # noqa: S704
        "maps": [Markup(drawing_svg(sheet)) for sheet, _ in drawn.maps],  # noqa: S704
        "pictures": pictures,
    }


def _style(palette: SheetPalette, paper: Paper, lenses: int) -> str:
    names = ("paper", "ink", "soft", "rule", "wash")
    inked = " ".join(f"--{name}: {getattr(palette, name).css};" for name in names)
    scheme = "dark" if palette.red else "light"
    page = f"@page {{ size: {PAGE_SIZES[paper]}; background: {palette.paper.css}; }}"
    letters = max(LETTERS_PT[paper] - PT_PER_LENS * max(lenses - 4, 0), LEAST_PT)
    head = f":root {{ {inked} --print: {num(letters)}pt; color-scheme: {scheme}; }}\n{page}\n"
    return head + asset("sheet", "sheet.css")
