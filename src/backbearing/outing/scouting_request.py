"""What counts how much in a ranking, and what else an outing asks of scouting."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from backbearing.base.errors import OutingError

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


class PartWords(NamedTuple):
    """A part of a score in words: what earns it, and the figure that it is made of."""

    earned_by: str
    figure: str


PART_WORDS: Final = {
    "dark": PartWords("dark, clear time", "dark minutes"),
    "altitude": PartWords("height of the target", "altitude"),
    "skyline_break": PartWords("stands against the sky", "skyline break"),
    "isolation": PartWords("stands alone", "isolation"),
    "ground": PartWords("ground for the tripod", "ground"),
    "walk": PartWords("walk", "walk"),
    "town_glow": PartWords("no town glow behind", "town glow"),
    "sky": PartWords("dark sky", "sky brightness"),
    "air": PartWords("little air before the target", "air"),
    "behind": PartWords("dark sky behind the target", "sky behind"),
}
PARTS: Final = tuple(PART_WORDS)
"""The parts of a score, in the order in which they are shown."""

SkyUnit = Literal["mag/arcsec2", "ratio", "mcd/m2"]

MOST_NIGHTS: Final = 732


@dataclass(frozen=True, slots=True)
class Weights:
    """How much each part of a score counts; only their ratios matter.

    A part that is unknown for a candidate counts nothing there, and the others share its
    weight.

    Parameters
    ----------
    dark : float
        Dark minutes with the target clear, on the ten best nights.
    altitude : float
        How well the target sits over the subject in the frames of the kit.
    skyline_break : float
        How much of the subject stands against the sky.
    isolation : float
        How little else stands in the frame.
    ground : float
        Slope at the stand, and how many lenses have a stand at all.
    walk : float
        From the nearest way that is known.
    town_glow : float
        Glow of towns behind the target.
    sky : float
        Brightness of the site's sky.
    air : float
        How much the air dims the target at its best minute.
    behind : float
        Brightness of the sky behind the target then, from the towns.
    cloud : float
        Cloud in the line of sight then, where a ranking is put in order by a forecast; 0
        multiplies the score with what the cloud leaves.

    Raises
    ------
    OutingError
        For a weight below zero, or when all are zero.

    Examples
    --------
    >>> from dataclasses import astuple
    >>> from backbearing.scouting import Weights
    >>> weights = Weights(dark=5.0, walk=0.0)
    >>> f"darkness makes {weights.dark / sum(astuple(weights)):.0%} of the score"
    'darkness makes 36% of the score'
    """

    dark: float = 3.0
    altitude: float = 2.0
    skyline_break: float = 2.0
    isolation: float = 2.0
    ground: float = 1.0
    walk: float = 1.0
    town_glow: float = 1.0
    sky: float = 1.0
    air: float = 0.0
    behind: float = 0.0
    cloud: float = 0.0

    def __post_init__(self) -> None:
        for name, value in asdict(self).items():
            if not (math.isfinite(value) and value >= 0.0):
                raise OutingError(
                    f"The weight {name} is {value}", hint="write 0 or a positive number", key=name
                )
        if not any(self.values()):
            raise OutingError(
                "All weights are 0 and nothing can be ranked",
                hint=f"give at least one of {', '.join(PARTS)} a positive number",
                key="weights",
            )

    def values(self) -> tuple[float, ...]:
        """Weights in the order of `PARTS`."""
        return tuple(getattr(self, name) for name in PARTS)


@dataclass(frozen=True, slots=True)
class ScoutRequest:
    """[scouting] of an outing file; paths are absolute.

    Attributes
    ----------
    weights : Weights
    candidates, ways, towns, sky_brightness : Path or None
        Files of candidates, of tracks, parking and land, of towns, and of the sky's
        brightness.
    sky_unit : str
        What the numbers of the last are.
    first_night : date or None
        The outing's evening when None.
    nights : int
    least_minutes : float
        Minutes that make a night a good one.
    longest_walk_m : float
        A walk of this length scores nothing.
    steepest_deg : float
        No tripod is put on ground that the raster shows as steeper.

    Examples
    --------
    >>> from backbearing.scouting import ScoutRequest, Weights
    >>> asked = ScoutRequest(Weights(dark=5.0, town_glow=0.0), nights=90, longest_walk_m=800.0)
    >>> f"{asked.nights} nights, no walk over {asked.longest_walk_m:.0f} m scores"
    '90 nights, no walk over 800 m scores'
    """

    weights: Weights = field(default_factory=Weights)
    candidates: Path | None = None
    ways: Path | None = None
    towns: Path | None = None
    sky_brightness: Path | None = None
    sky_unit: SkyUnit = "mag/arcsec2"
    first_night: dt.date | None = None
    nights: int = 30
    least_minutes: float = 30.0
    longest_walk_m: float = 2000.0
    steepest_deg: float = 25.0
