"""The best of a season's nights: the one with the longest good stretch."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from backbearing.base.numbers import counted, num
from backbearing.base.wall_clock import hm

if TYPE_CHECKING:
    from backbearing.plan.season import Night, Season, Stretch


class BestNight(NamedTuple):
    """A night, its longest stretch, and why it: among what, and what there is of it."""

    night: Night
    stretch: Stretch
    among: str
    of_it: str

    @property
    def why(self) -> str:
        """Both, to stand behind the night's name."""
        return f"{self.among}: {self.of_it}"


def best_night(season: Season) -> BestNight | None:
    """Choose the night with the longest stretch that is as asked; the first of equals.

    Returns
    -------
    BestNight or None
        None where no night has such a stretch.
    """
    of = [(stretch, night) for night in season.nights for stretch in night.windows]
    if not of:
        return None
    stretch, night = max(of, key=lambda pair: pair[0].minutes)
    span = f"{hm(stretch.start, season.zone)} to {hm(stretch.end, season.zone)}"
    among = f"the longest of {counted(len(season.nights), 'nights')}"
    if len(season.nights) == 1:
        among = "the only night looked at"
    minutes = num(stretch.minutes, 0)
    of_it = f"{minutes} minutes dark with the target clear of the ridge, {span}"
    return BestNight(night, stretch, among, of_it)
