"""What every page and table says about going out there at night.

The list is general care, common practice; it is not a risk assessment, and what the
data can see (steep ground, closed land) is added to it for each plan.
"""

from __future__ import annotations

from typing import Final

STEEP_DEG: Final = 20.0
"""Ground this steep over a raster cell is called steep (common practice, no source)."""

GENERAL: Final[tuple[str, ...]] = (
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
        "Neither do trees, buildings, vehicles or people."
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

CANNOT_SEE: Final[tuple[str, ...]] = (
    (
        "The raster is bare or nearly bare ground in cells many metres wide: a stand lies inside "
        "one cell, so heights around the subject are a slope, not a survey."
    ),
    "Trees, houses, masts, fog, cloud and haze are not in it.",
)

VISIT: Final = (
    "Never walk backwards with an eye at an instrument. Keep out of roads, off edges and away from "
    "livestock, and measure only where you may be."
)
"""Said with every result of a visit by day."""
