"""Where the parts of a score begin and end: this project's own choices, in one place."""

from __future__ import annotations

from typing import Final

BEST_NIGHTS: Final = 10
"""So many nights, the best ones, count for the dark; all where there are fewer."""

FULL_MINUTES: Final = 120.0
"""A night with so many clear dark minutes counts in full."""

LEVEL_DEG: Final = 5.0
"""Ground no steeper than this counts in full."""

FAINT_GLOW_MAG: Final = 1.0
"""Town glow behind the target that brightens its sky by this much counts nothing."""

BRIGHT_SKY_MAG: Final = 18.0
"""A zenith as bright as this counts nothing."""

DARK_SKY_MAG: Final = 22.0
"""A zenith as dark as this counts in full (a natural dark sky [Falchi2016]_)."""

DIM_AIR_MAG: Final = 2.0
"""A target that the air dims by this much more than overhead counts nothing."""

LEAST_LEVEL_SHARE: Final = 0.1
"""No subject is asked for less of itself against the sky than this."""
