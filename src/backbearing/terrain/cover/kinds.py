"""Kinds of cover: the words for them, and how high they are taken to be where nobody says."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

TALLEST_TREE_M: Final = 120.0
"""No tree stands higher: the tallest known, a coast redwood, is some 116 m (from memory)."""

UNDER_COVER_M: Final = 2.0
"""From this height on one stands under the cover and not in it (common practice, no source)."""


class CoverKind(IntEnum):
    """What the height at a place comes from."""

    NONE = 0
    CANOPY = 1
    SURFACE = 2
    WOOD = 3
    TREE = 4
    BUILDING = 5
    GUESSED_WOOD = 6
    GUESSED_TREE = 7
    GUESSED_BUILDING = 8

    @property
    def is_guess(self) -> bool:
        """Whether its height is no more than usual for its kind, or an estimate."""
        return self >= CoverKind.GUESSED_WOOD


WORDS: Final = {
    CoverKind.CANOPY: "trees",
    CoverKind.SURFACE: "trees or buildings",
    CoverKind.WOOD: "the wood",
    CoverKind.TREE: "trees",
    CoverKind.BUILDING: "a building",
    CoverKind.GUESSED_WOOD: "the wood",
    CoverKind.GUESSED_TREE: "trees",
    CoverKind.GUESSED_BUILDING: "a building",
}
"""What a person reads of each."""

SIGMA_SHARE_OF_GUESS: Final = 0.4
"""One standard deviation of a guessed height, as a share of it (common practice, no source)."""

SIGMA_OF_RASTER_M: Final = 4.0
"""One standard deviation of a raster's or a tag's height of cover, metres: models of canopy
heights from space state mean errors of 3 to 7 m (from memory, no source looked up)."""


@dataclass(frozen=True, slots=True)
class UsualHeight:
    """How high a kind of mapped thing is where no tag says; all common practice, no source."""

    wood_m: float = 18.0
    tree_m: float = 10.0
    building_m: float = 6.0
    tree_width_m: float = 8.0


USUAL: Final = UsualHeight()
