"""The map's layer of ground from which the ridge is clear: its pictures and its words.

Five tones rise in lightness, dark where the ridge hides the target: they stay apart for every
kind of colour sight, and in red on black. Unknown ground has no tone. A cell is drawn as a
whole: it speaks for its own centre.
"""

from __future__ import annotations

import base64
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.cautions import CoverKnown
from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import listed
from backbearing.drawing.palette import CLEARANCE
from backbearing.drawing.wall_clock import WallClock
from backbearing.plan.clearance import area_words, percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from backbearing.base.units import Units
    from backbearing.drawing.mercator import Box
    from backbearing.drawing.texts import Texts
    from backbearing.plan.clearance import AreaCells, ClearGround, RidgeArea
    from backbearing.plan.plan import Plan

    Singles = NDArray[np.float32]

MARGINS_DEG: Final = (0.0, 1.0, 5.0, 15.0)
"""Bounds between the classes of clearance."""

NEVER: Final = -1e6
"""Below it stands the class of cells that are never clear."""


@dataclass(frozen=True, slots=True)
class CellPixels:
    """Pixels of a picture in Web Mercator: the cell under each, -1 off the area."""

    row: NDArray[np.int64]
    col: NDArray[np.int64]
    box: Box

    def picture(self, classes: NDArray[np.int8]) -> bytes:
        """Classes of the area's cells as a lossless WebP; unknown ground is transparent."""
        from PIL import Image

        drawn = classes[self.row, self.col]
        drawn[(self.row < 0) | (self.col < 0)] = -1
        tones = np.array([*((*tone, 255) for tone in CLEARANCE), (0, 0, 0, 0)], dtype=np.uint8)
        stream = io.BytesIO()
        image = Image.fromarray(tones[drawn], "RGBA")
        image.save(stream, "WEBP", lossless=True, method=3)
        return stream.getvalue()

    def data_uri(self, classes: NDArray[np.int8]) -> str:
        """The picture as text for a page."""
        text = base64.b64encode(self.picture(classes)).decode("ascii")
        return f"data:image/webp;base64,{text}"


@dataclass(frozen=True, slots=True)
class Scale:
    """How values become classes: below the first bound is class 0, and so on."""

    bounds: tuple[float, ...]
    words: tuple[str, ...]

    def classes(self, values: Singles) -> NDArray[np.int8]:
        """Class of each value, -1 for NaN."""
        found = np.searchsorted(np.array(self.bounds), values, side="right")
        return np.where(np.isnan(values), -1, found).astype(np.int8)


MARGIN_SCALE: Final = Scale(
    MARGINS_DEG,
    ("hidden by the ridge", "up to 1° over it", "1° to 5° over it", "5° to 15°", "more than 15°"),
)


@dataclass(frozen=True, slots=True)
class AreaChoice:
    """One choice of the layer: values of an area's cells, their scale, and a sentence."""

    name: str
    said: str
    scale: Scale
    cells: AreaCells
    values: Singles
    lenses: tuple[int, ...] = ()


def area_layer(
    plan: Plan,
    texts: Texts,
    clear: Sequence[ClearGround],
    area: RidgeArea | None,
    pixels: Mapping[AreaCells, Sequence[CellPixels]],
    units: Units = METRIC,
) -> dict[str, Any] | None:
    """The layer's pictures and words, to draw; None where nothing was computed.

    Parameters
    ----------
    plan : Plan
        For the subject and the lenses' names.
    texts : Texts
        Takes the choices' names, which hold lenses' names.
    clear : sequence of ClearGround
        At the stands' minutes.
    area : RidgeArea or None
        A whole night, or another minute.
    pixels : mapping of AreaCells to sequence of CellPixels
        Where the cells of all of these lie on the map.
    units : Units
        How lengths are said.
    """
    choices = [_at_stands(plan, ground) for ground in clear]
    choices += area_choices(area) if area is not None else []
    if not choices:
        return None
    return {
        # A larger area that was asked for is what the page opens with.
        "first": len(clear) if area is not None else 0,
        "sheets": [
            {
                "name": texts.add(choice.name),
                "said": units.sentence(choice.said),
                "words": list(choice.scale.words),
                "lenses": list(choice.lenses),
                "pictures": [
                    {
                        "image": picture.data_uri(choice.scale.classes(choice.values)),
                        "box": picture.box.corners,
                    }
                    for picture in pixels[choice.cells]
                ],
            }
            for choice in choices
        ],
    }


def _at_stands(plan: Plan, ground: ClearGround) -> AreaChoice:
    """The stands' surroundings at their minute."""
    clock = WallClock(plan.zone)
    name = f"{clock.hm(ground.time)}, {listed([plan.lenses[i].lens.label for i in ground.lenses])}"
    unknown = float(np.isnan(ground.margin_deg).mean())
    said = (
        f"At {clock.hm(ground.time)} the ridge does not hide the target from "
        f"{percent(ground.share_over(0.0))} of the ground drawn; "
        f"{percent(ground.share_over(1.0))} has it 1° or more clear"
        + (f"; {percent(unknown)} is unknown." if unknown else ".")
        + (" Trees are not in it." if plan.ground.cover_known is CoverKnown.NONE else "")
    )
    if math.isfinite(ground.sigma_deg):
        said += (
            f" The raster's heights leave {num(ground.sigma_deg, 1)}° of doubt (1σ, at the stand)."
        )
    return AreaChoice(name, said, MARGIN_SCALE, ground.cells, ground.margin_deg, ground.lenses)


def area_choices(area: RidgeArea) -> list[AreaChoice]:
    """Largest clearance, first and last clear minute of a night; a minute's clearance alone."""
    clock, said = WallClock(area.zone), area_words(area)
    if area.one_minute:
        name = f"{clock.hm(area.start)}, the whole area"
        return [AreaChoice(name, said, MARGIN_SCALE, area.cells, area.margin_deg)]
    quarter = (area.end - area.start) / 4
    first, last = (
        _or_never(area, minutes) for minutes in (-area.first_clear_minutes, area.last_clear_minutes)
    )
    times = [clock.hm(area.start + n * quarter) for n in (1, 2, 3)]
    marks = [n * quarter.total_seconds() / 60.0 for n in (1, 2, 3)]
    early = Scale(
        (NEVER, *(-mark for mark in reversed(marks))),
        ("never clear", f"from {times[2]} or later", f"from {times[1]} to {times[2]} on",
         f"from {times[0]} to {times[1]} on", f"from before {times[0]} on"),
    )  # fmt: skip
    late = Scale(
        (NEVER, *marks),
        ("never clear", f"until {times[0]} or sooner", f"until {times[0]} to {times[1]}",
         f"until {times[1]} to {times[2]}", f"until after {times[2]}"),
    )  # fmt: skip
    return [
        AreaChoice("Night: largest clearance", said, MARGIN_SCALE, area.cells, area.margin_deg),
        AreaChoice("Night: first clear minute", said, early, area.cells, first),
        AreaChoice("Night: last clear minute", said, late, area.cells, last),
    ]


def _or_never(area: RidgeArea, minutes: Singles) -> Singles:
    """Minutes, and a number for never, so that only unknown ground stays NaN."""
    never = np.isfinite(area.margin_deg) & np.isnan(minutes)
    return np.where(never, np.float32(2.0 * NEVER), minutes)
