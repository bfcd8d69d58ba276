"""The previews for paper: dark stars on a white sky, or red on black."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.drawing.marks import Dot, Panel, Sheet, Words
from backbearing.drawing.palette import VIEW_PRINT, VIEW_PRINT_RED
from backbearing.pictures.preview_frame import frame_panel

if TYPE_CHECKING:
    from backbearing.drawing.marks import Mark
    from backbearing.plan.view import View


def paper_picture(view: View, *, width: float, red: bool) -> Sheet:
    """Draw one view, stars no smaller than a printer can set."""
    palette = VIEW_PRINT_RED if red else VIEW_PRINT
    panel = frame_panel(view, x=0.0, y=0.0, width=width, palette=palette, guides=False)
    marks = tuple(m for mark in panel.marks if (m := _fit(mark, red=red)) is not None)
    framed = Panel(0.0, 0.0, panel.width, panel.height, panel.sky, marks)
    return Sheet(
        round(panel.width), round(panel.height), palette.paper, (framed,),
        (), f"{view.label}: {view.caption}", f"What the {view.label} will see.",
    )  # fmt: skip


def _fit(mark: Mark, *, red: bool) -> Mark | None:
    """Leave out what small print cannot hold: glow, faint stars, words."""
    if isinstance(mark, Words):
        return None
    if not isinstance(mark, Dot):
        return mark
    if mark.alpha < 0.62:
        return None
    radius = max(mark.radius, 0.28)
    if red:
        return replace(mark, radius=radius)
    return replace(mark, radius=radius, ink=VIEW_PRINT.ink, alpha=1.0)
