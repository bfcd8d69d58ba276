"""A map being drawn on the sheet: its scale, its frame, and where labels are free."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.units import METRIC
from backbearing.drawing.labels import Labels
from backbearing.drawing.map_window import MapWindow, lines_of
from backbearing.drawing.marks import Area, Drawing, Mark, Stroke, Words

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from backbearing.base.units import Units
    from backbearing.drawing.map_window import Floats
    from backbearing.drawing.marks import Points
    from backbearing.drawing.palette import SheetPalette


SMALL: Final = 8.0
"""Size of small letters on the maps, points."""


class MapDrawing:
    """A map in the making: marks from the ground up, labels last."""

    def __init__(self, window: MapWindow, palette: SheetPalette, units: Units = METRIC) -> None:
        self.window, self.palette, self.units = window, palette, units
        self.marks: list[Mark] = []
        self.labels = Labels(window.width, window.height, palette.paper)

    def line(self, points: Points, width: float = 0.8, *, soft: bool = False, dashed: bool = False,
             alpha: float = 1.0) -> None:  # fmt: skip
        """Draw a line on the paper."""
        if len(points) > 1:
            ink = self.palette.soft if soft else self.palette.ink
            self.marks.append(Stroke(points, ink, alpha, width, dashed))

    def outline(self, shape: BaseGeometry, width: float, *, dashed: bool = False) -> None:
        """Draw the lines of a shape that was cut to the window."""
        for line in lines_of(shape):
            self.line(line, width, dashed=dashed, soft=True)

    def finish(self, title: str, said: str) -> Drawing:
        """Add frame, north and scale, and close the map."""
        wide, tall, palette = self.window.width, self.window.height, self.palette
        self.labels.settle()
        self._scale_and_north()
        frame = ((0.0, 0.0), (wide, 0.0), (wide, tall), (0.0, tall), (0.0, 0.0))
        border = Stroke(frame, palette.ink, width=1.2)
        marks = (*self.marks, *self.labels.marks, border)
        return Drawing(round(wide), round(tall), palette.paper, (), marks, title, said)

    def keep_corners_free(self) -> None:
        """Keep the corners of scale and north free of words."""
        wide, tall = self.window.width, self.window.height
        self.labels.taken.append((0.0, tall - 20.0, 12.0 + self._bar()[1] + 30.0, tall))
        self.labels.taken.append((wide - 22.0, 0.0, wide, 36.0))

    def _bar(self) -> tuple[str, float]:
        """A round length for the scale bar, and its length on paper."""
        metres, shown = self.units.round_length(0.34 * self.window.width / self.window.scale)
        return shown, metres * self.window.scale

    def _scale_and_north(self) -> None:
        ink, tall = self.palette.ink, self.window.height
        shown, long = self._bar()
        y = tall - 7.0
        self.marks += [
            Area(
                (_box(0.0, tall - 21.0, 14.0 + long + 5.2 * len(shown), tall),), self.palette.paper
            ),
            Stroke(
                ((7.0, y - 4.0), (7.0, y), (7.0 + long, y), (7.0 + long, y - 4.0)), ink, width=1.6
            ),
            Words(11.0 + long, y, shown, ink, SMALL, bold=True),
        ]
        x = self.window.width - 11.0
        self.marks += [
            Area((((x, 4.0), (x + 4.5, 17.0), (x, 14.0), (x - 4.5, 17.0)),), ink),
            Stroke(((x, 14.0), (x, 24.0)), ink, width=1.2),
            Words(x, 33.0, "N", ink, SMALL + 1.0, anchor="middle", bold=True),
        ]


def _box(left: float, top: float, right: float, bottom: float) -> Points:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def turn_points(angles: int) -> Floats:
    """Unit circle as points, shape (angles, 2)."""
    a = np.linspace(0.0, 2.0 * np.pi, angles)
    return np.column_stack([np.sin(a), np.cos(a)])
