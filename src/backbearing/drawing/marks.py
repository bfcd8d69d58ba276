"""What a drawing is made of: panels with a picture of the sky, and a few kinds of marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from backbearing.drawing.palette import Colour

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Dot:
    """A filled circle, pixels."""

    x: float
    y: float
    radius: float
    ink: Colour
    alpha: float = 1.0


@dataclass(frozen=True, slots=True)
class Area:
    """Rings filled by the even-odd rule, with a thin edge where one is given."""

    rings: tuple[Points, ...]
    ink: Colour
    edge: Colour | None = None


@dataclass(frozen=True, slots=True)
class Stroke:
    """A thin line, dashed where asked."""

    points: Points
    ink: Colour
    alpha: float = 1.0
    width: float = 1.0
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; ``anchor`` is ``"start"``, ``"middle"`` or ``"end"``."""

    x: float
    y: float
    text: str
    ink: Colour
    size: float
    anchor: str = "start"
    bold: bool = False


Mark = Dot | Area | Stroke | Words


@dataclass(frozen=True, slots=True)
class Panel:
    """One frame: its place on the sheet, the sky behind, and marks clipped to it, pixels."""

    x: float
    y: float
    width: float
    height: float
    sky: NDArray[np.uint8]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole picture: paper, panels, and marks outside of them."""

    width: int
    height: int
    paper: Colour
    panels: tuple[Panel, ...]
    marks: tuple[Mark, ...]
    title: str
    description: str
