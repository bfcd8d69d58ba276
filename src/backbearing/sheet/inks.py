"""The sheet's two sets of inks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from backbearing.drawing.marks import Ink


@dataclass(frozen=True, slots=True)
class SheetInks:
    """Inks by role: black on white, or red on black."""

    paper: Ink
    ink: Ink
    soft: Ink
    rule: Ink
    wash: Ink
    deep: Ink
    red: bool

    def css(self, name: str) -> str:
        """One ink as ``#rrggbb``."""
        red, green, blue = getattr(self, name)
        return f"#{red:02x}{green:02x}{blue:02x}"


PRINT: Final = SheetInks(
    paper=(255, 255, 255),
    ink=(0, 0, 0),
    soft=(64, 64, 64),
    rule=(150, 150, 150),
    wash=(232, 232, 232),
    deep=(196, 196, 196),
    red=False,
)
RED: Final = SheetInks(
    paper=(0, 0, 0),
    ink=(248, 0, 0),
    soft=(236, 0, 0),
    rule=(120, 0, 0),
    wash=(44, 0, 0),
    deep=(84, 0, 0),
    red=True,
)
"""Red on black, without any green or blue light."""


def inks_for(*, red: bool) -> SheetInks:
    """Choose between them."""
    return RED if red else PRINT
