"""All of the sheet's drawings of one plan, for PDF and HTML alike."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from backbearing.base.units import METRIC
from backbearing.drawing.marks import Dot, Drawing, Panel, Words
from backbearing.drawing.palette import VIEW_PRINT, VIEW_PRINT_RED
from backbearing.drawing.wall_clock import WallClock
from backbearing.pictures.preview_frame import frame_panel
from backbearing.plan.in_units import view_in_units
from backbearing.plan.turns import at_turns
from backbearing.sheet.ground_map import stands_map, way_map
from backbearing.sheet.map_key import map_key
from backbearing.sheet.shot_rows import turns
from backbearing.sheet.timeline import night_timeline

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.drawing.marks import Mark
    from backbearing.drawing.palette import SheetPalette
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

TIMELINE_WIDTH: Final = 544.0
CLOSE_WIDTH, WAY_WIDTH, MAP_HEIGHT = 206.0, 150.0, 184.0
PICTURE_WIDTH: Final = 180.0


@dataclass(frozen=True, slots=True)
class Drawings:
    """The night by the clock, one or two maps, and a picture for each lens with its words.

    ``key`` says what the marks on them mean.
    """

    timeline: Drawing | None
    maps: tuple[tuple[Drawing, str], ...]
    pictures: tuple[tuple[Drawing, str], ...]
    key: str


def drawings(
    plan: Plan,
    seen: Sequence[View],
    palette: SheetPalette,
    units: Units = METRIC,
    *,
    picture_width: float = PICTURE_WIDTH,
) -> Drawings:
    """Draw everything once.

    ``seen`` is what the lenses with a stand see, in the plan's order, each at its turn where it
    has one.
    """
    clock, shots = WallClock(plan.zone), turns(plan)
    stood = [i for i, lens in enumerate(at_turns(plan).lenses) if lens.stand is not None]
    view_of = dict(zip(stood, seen, strict=True))
    way = way_map(plan, shots, palette, width=WAY_WIDTH, height=MAP_HEIGHT, units=units)
    wide = CLOSE_WIDTH if way is not None else CLOSE_WIDTH + WAY_WIDTH
    close = stands_map(plan, shots, clock, palette, width=wide, height=MAP_HEIGHT, units=units)
    pictures = []
    for turn in shots:
        view = view_of[turn.lens_index]
        words = f"{turn.number}  {turn.label}, {clock.hm(turn.stand.time)}"
        paper = view_in_units(view, units)
        pictures.append((paper_picture(paper, width=picture_width, red=palette.red), words))
    return Drawings(
        night_timeline(plan, shots, clock, palette, width=TIMELINE_WIDTH),
        ((close, ""),) if way is None else ((close, ""), (way, "")),
        tuple(pictures),
        map_key(plan, seen),
    )


def paper_picture(view: View, *, width: float, red: bool) -> Drawing:
    """Draw one view, stars no smaller than a printer can set."""
    palette = VIEW_PRINT_RED if red else VIEW_PRINT
    panel = frame_panel(view, x=0.0, y=0.0, width=width, palette=palette, guides=False)
    marks = tuple(m for mark in panel.marks if (m := _fit(mark, red=red)) is not None)
    framed = Panel(0.0, 0.0, panel.width, panel.height, panel.sky, marks)
    return Drawing(
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
