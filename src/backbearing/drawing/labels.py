"""Words on a little map, each where it covers nothing that stands there already."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.drawing.marks import Area, Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from backbearing.drawing.marks import Mark
    from backbearing.drawing.palette import Colour

    Rectangle = tuple[float, float, float, float]

WIDE: Final = 0.64
"""Width of a letter by its size, about, for the sheet's letters."""


@dataclass(frozen=True, slots=True)
class Label:
    """Words that want a place beside a spot, lengths in points.

    Attributes
    ----------
    x, y : float
        The spot.
    text : str
    ink : Colour
    size : float
        Of the letters.
    rank : int
        The lower, the earlier it is placed.
    away : float
        How far from the spot.
    bold : bool
    first : float or None
        Where to try first: degrees clockwise from up.
    inside : geometry or None
        An area in which the words stay, anywhere.
    """

    x: float
    y: float
    text: str
    ink: Colour
    size: float
    rank: int = 5
    away: float = 4.0
    bold: bool = False
    first: float | None = None
    inside: BaseGeometry | None = None


class Labels:
    """Puts words down one by one inside a window; the important ones come first."""

    def __init__(self, width: float, height: float, paper: Colour) -> None:
        self.width, self.height, self.paper = width, height, paper
        self.taken: list[Rectangle] = []
        self.marks: list[Mark] = []
        self.waiting: list[Label] = []

    def keep_free(self, x: float, y: float, half: float) -> None:
        """Let no words cover a mark."""
        self.taken.append((x - half, y - half, x + half, y + half))

    def ask(self, label: Label) -> None:
        """Ask for words beside a spot; they are placed when all marks are known."""
        self.waiting.append(label)

    def settle(self) -> None:
        """Place all words: by rank, then in the order in which they were asked for."""
        for label in sorted(self.waiting, key=lambda asked: asked.rank):
            self._place(label)
        self.waiting = []

    def _place(self, label: Label) -> None:
        """Right, left, above, below, unless the label says where to try first."""
        size = label.size
        wide, tall = WIDE * size * len(label.text), size
        spots = _about(label, wide, tall) if label.inside is None else _inside(label.inside)
        for mx, my in spots:
            box = (mx - wide / 2.0, my - tall / 2.0, mx + wide / 2.0, my + tall / 2.0)
            if self._free(box):
                left, top, right, bottom = box
                ground = ((left, top), (right, top), (right, bottom), (left, bottom))
                words = Words(
                    mx, my + 0.36 * size, label.text, label.ink, size, "middle", label.bold
                )
                self.taken.append(box)
                self.marks += [Area((ground,), self.paper), words]
                return

    def _free(self, box: Rectangle) -> bool:
        left, top, right, bottom = box
        if left < 2.0 or top < 2.0 or right > self.width - 2.0 or bottom > self.height - 2.0:
            return False
        return not any(
            left < b[2] + 1.0 and right > b[0] - 1.0 and top < b[3] + 0.5 and bottom > b[1] - 0.5
            for b in self.taken
        )


def _about(label: Label, wide: float, tall: float) -> Iterator[tuple[float, float]]:
    """Middles of words about a spot, the nearest first."""
    ways = [90.0, 270.0, 0.0, 180.0, 45.0, 135.0, 225.0, 315.0]
    if label.first is not None:
        ways = [label.first, label.first - 35.0, label.first + 35.0, *ways]
    for far in (1.0, 2.2, 3.6):
        for way in ways:
            across, up = math.sin(math.radians(way)), math.cos(math.radians(way))
            off = label.away * far
            yield label.x + across * (off + wide / 2.0), label.y - up * (off + tall / 2.0)


def _inside(shape: BaseGeometry) -> list[tuple[float, float]]:
    """Spots inside an area, so that its name stands on no other; the middle ones first."""
    import numpy as np
    from shapely import contains_xy

    left, top, right, bottom = shape.bounds
    x, y = (
        a.ravel() for a in np.meshgrid(np.linspace(left, right, 15), np.linspace(top, bottom, 15))
    )
    keep = contains_xy(shape, x, y)
    middle = shape.centroid
    order = np.argsort(np.hypot(x[keep] - middle.x, y[keep] - middle.y), kind="stable")
    return list(zip(x[keep][order].tolist(), y[keep][order].tolist(), strict=True))
