"""What every page and table says about going out there at night.

The list is general care, common practice; it is not a risk assessment, and what the
data can see (steep ground, closed land) is added to it for each plan.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class CoverKnown(StrEnum):
    """Whether skylines know the trees and buildings of their ground."""

    NONE = "none"
    PART = "part"
    """Some kinds of them, or some of them, alone."""
    ALL = "all"
    """As well as a surface model has them."""


STEEP_DEG: Final = 20.0
"""Ground this steep over a raster cell is called steep (common practice, no source)."""

_UNSEEN: Final = {
    CoverKnown.NONE: "Neither do trees, buildings, vehicles or people.",
    CoverKnown.PART: "Of trees and buildings only a part is known; vehicles and people never are.",
    CoverKnown.ALL: "Trees and buildings are as old as their file; vehicles and people in none.",
}

_CARE: Final[tuple[str, ...]] = (
    (
        "This plan is arithmetic on maps and the sky. It is no promise that a place is safe, "
        "open or reachable."
    ),
    "Visit by daylight first. Walk every stand and the way back before you do it in the dark.",
    (
        "Ask the landowner. Landowners, local law and rangers decide where you may be, by night "
        "as well as by day; where work needs a licence or a guide, take one."
    ),
    (
        "Cliffs, old mines, wells, fences, bogs and water do not show in an elevation raster. "
        "{unseen}"
    ),
    "Never step back while looking through the camera. Turn round, light the ground, then move.",
    "Livestock and wildlife are about at night; so is hunting in season. Give them room.",
    "Look at the weather, river levels and fire bans on the day; turn round when they turn.",
    (
        "Tell someone where you park, where you stand and when you will be back. "
        "Do not count on a phone signal."
    ),
    (
        "Drive slowly in the dark: animals and people are on the road. Rest before you drive home; "
        "a night without sleep slows you as drink does."
    ),
)


def general(known: CoverKnown) -> tuple[str, ...]:
    """Care that every plan is read with, by what its skylines know of trees and buildings."""
    return tuple(line.format(unseen=_UNSEEN[known]) for line in _CARE)


GENERAL: Final = general(CoverKnown.NONE)
"""The same where nothing is known of trees and buildings."""

_CELLS: Final = (
    "{raster} in cells many metres wide: a stand lies inside one cell, so heights around the "
    "subject are a slope, not a survey."
)

_RASTER: Final = "The raster is bare or nearly bare ground"

_LEFT_OUT: Final = {
    CoverKnown.NONE: "Trees, houses, masts, fog, cloud and haze are not in it.",
    CoverKnown.PART: (
        "Of trees and houses only a part is in the skylines; masts, fog, cloud and haze are not."
    ),
    CoverKnown.ALL: (
        "Trees and houses are in the skylines as a surface model has them; thin masts, fog, cloud "
        "and haze are not."
    ),
}


def cannot_see(known: CoverKnown, *, surface: bool = False) -> tuple[str, ...]:
    """What no skyline here can see; ``surface`` says that the raster itself holds the cover."""
    raster = "The raster is the top of whatever stands there" if surface else _RASTER
    return _CELLS.format(raster=raster), _LEFT_OUT[known]


IN_NO_RASTER: Final = {
    CoverKnown.NONE: "trees, fences and people are in no raster",
    CoverKnown.PART: "trees are known in part, fences and people not at all",
    CoverKnown.ALL: "trees are as old as their file, fences and people in none",
}
"""The same in a few words."""

VISIT: Final = (
    "Never walk backwards with an eye at an instrument. Keep out of roads, off edges and away from "
    "livestock, and measure only where you may be."
)
"""Said with every result of a visit by day."""
