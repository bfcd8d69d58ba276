"""All of the sheet's drawings of one plan, for PDF and HTML alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.drawing.clock import Clock
from backbearing.plan.turns import at_turns
from backbearing.sheet.ground_map import stands_map, way_map
from backbearing.sheet.pictures import paper_picture
from backbearing.sheet.shot_rows import turns
from backbearing.sheet.timeline import night_strip

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.drawing.marks import Sheet
    from backbearing.drawing.palette import SheetPalette
    from backbearing.plan.plan import Plan
    from backbearing.plan.view import View

STRIP_WIDTH: Final = 544.0
CLOSE_WIDTH, WAY_WIDTH, MAP_HEIGHT = 206.0, 150.0, 184.0
PICTURE_WIDTH: Final = 180.0


@dataclass(frozen=True, slots=True)
class Drawings:
    """The night by the clock, one or two maps, and a picture for each lens with its words."""

    strip: Sheet | None
    maps: tuple[tuple[Sheet, str], ...]
    pictures: tuple[tuple[Sheet, str], ...]


def drawings(plan: Plan, seen: Sequence[View], inks: SheetPalette) -> Drawings:
    """Draw everything once.

    ``seen`` is what the lenses with a stand see, in the plan's order, each at its turn where it
    has one.
    """
    clock, shots = Clock(plan.zone), turns(plan)
    stood = [i for i, lens in enumerate(at_turns(plan).lenses) if lens.stand is not None]
    view_of = dict(zip(stood, seen, strict=True))
    way = way_map(plan, shots, inks, width=WAY_WIDTH, height=MAP_HEIGHT)
    wide = CLOSE_WIDTH if way is not None else CLOSE_WIDTH + WAY_WIDTH
    close = stands_map(plan, shots, clock, inks, width=wide, height=MAP_HEIGHT)
    pictures = []
    for turn in shots:
        view = view_of[turn.lens_index]
        words = f"{turn.number}  {turn.label}, {clock.hm(turn.stand.time)}"
        pictures.append((paper_picture(view, width=PICTURE_WIDTH, red=inks.red), words))
    return Drawings(
        night_strip(plan, shots, clock, inks, width=STRIP_WIDTH),
        ((close, ""),) if way is None else ((close, ""), (way, "")),
        tuple(pictures),
    )
