"""Words on a little map, each where it covers nothing that stands there already."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.drawing.marks import Area, Words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shapely.geometry.base import BaseGeometry

    from backbearing.drawing.marks import Mark
    from backbearing.drawing.palette import Colour

    Rectangle = tuple[float, float, float, float]

WIDE: Final = 0.64
"""Width of a letter by its size, about, for the sheet's letters."""


class Labels:
    """Puts words down one by one inside a window; the important ones come first."""

    def __init__(self, width: float, height: float, paper: Colour) -> None:
        self.width, self.height, self.paper = width, height, paper
        self.taken: list[Rectangle] = []
        self.marks: list[Mark] = []
        self.waiting: list[tuple[int, dict[str, Any]]] = []

    def keep_free(self, x: float, y: float, half: float, tall: float | None = None) -> None:
        """Let no words cover a mark."""
        high = half if tall is None else tall
        self.taken.append((x - half, y - high, x + half, y + high))

    def put(
        self, x: float, y: float, text: str, ink: Colour, size: float, *, rank: int = 5, **how: Any
    ) -> None:
        """Ask for words beside a spot; they are placed when all marks are known."""
        self.waiting.append((rank, {"x": x, "y": y, "text": text, "ink": ink, "size": size, **how}))

    def settle(self) -> None:
        """Place all words: by rank, then in the order in which they were asked for."""
        for _, words in sorted(self.waiting, key=lambda asked: asked[0]):
            self._place(**words)
        self.waiting = []

    def _place(
        self, *, x: float, y: float, text: str, ink: Colour, size: float, away: float = 4.0,
        bold: bool = False, first: float | None = None, inside: BaseGeometry | None = None,
    ) -> None:  # fmt: skip
        """Right, left, above, below; ``first`` is degrees clockwise from up, tried first."""
        wide, tall = WIDE * size * len(text), size
        spots = _inside(inside) if inside is not None else _about(x, y, wide, tall, away, first)
        for mx, my in spots:
            box = (mx - wide / 2.0, my - tall / 2.0, mx + wide / 2.0, my + tall / 2.0)
            if self._free(box):
                left, top, right, bottom = box
                ground = ((left, top), (right, top), (right, bottom), (left, bottom))
                words = Words(mx, my + 0.36 * size, text, ink, size, anchor="middle", bold=bold)
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


def _about(
    x: float, y: float, wide: float, tall: float, away: float, first: float | None
) -> Iterator[tuple[float, float]]:
    """Middles of words about a spot, the nearest first."""
    ways = [90.0, 270.0, 0.0, 180.0, 45.0, 135.0, 225.0, 315.0]
    if first is not None:
        ways = [first, first - 35.0, first + 35.0, *ways]
    for far in (1.0, 2.2, 3.6):
        for way in ways:
            across, up = math.sin(math.radians(way)), math.cos(math.radians(way))
            yield x + across * (away * far + wide / 2.0), y - up * (away * far + tall / 2.0)


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
