"""The previews for paper: dark stars on a white sky, or red on black."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from backbearing.drawing.marks import Dot, Panel, Sheet, Words
from backbearing.pictures.preview_frame import RED as SCREEN_RED
from backbearing.pictures.preview_frame import Inks, frame_panel

if TYPE_CHECKING:
    from backbearing.drawing.marks import Mark
    from backbearing.plan.view import View

PAPER = Inks(
    paper=(255, 255, 255),
    ink=(0, 0, 0),
    soft=(60, 60, 60),
    high=(255, 255, 255),
    low=(236, 236, 236),
    band=(120, 120, 120),
    ridge=(172, 172, 172),
    near=(146, 146, 146),
    subject=(0, 0, 0),
    edge=(255, 255, 255),
    guide=(0, 0, 0),
    red=False,
)
RED = replace(SCREEN_RED, low=(78, 0, 0), high=(26, 0, 0), ridge=(30, 0, 0), edge=(200, 0, 0))
"""A little brighter than on a screen, for a printer."""


def paper_picture(view: View, *, width: float, red: bool) -> Sheet:
    """Draw one view, stars no smaller than a printer can set."""
    panel = frame_panel(view, x=0.0, y=0.0, width=width, inks=RED if red else PAPER, guides=False)
    marks = tuple(m for mark in panel.marks if (m := _fit(mark, red=red)) is not None)
    framed = Panel(0.0, 0.0, panel.width, panel.height, panel.sky, marks)
    return Sheet(
        round(panel.width), round(panel.height), (0, 0, 0) if red else (255, 255, 255), (framed,),
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
    return replace(mark, radius=radius, ink=(0, 0, 0), alpha=1.0)
