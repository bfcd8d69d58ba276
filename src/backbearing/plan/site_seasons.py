"""The seasons of many sites: how good each is, and its best night, without every night's detail."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from backbearing.plan.ranking import Rejected
    from backbearing.plan.season import SeasonLimits


@dataclass(frozen=True, slots=True)
class SiteNight:
    """The longest good stretch of a site's nights.

    Attributes
    ----------
    evening : date
    start, end : datetime
        UTC.
    minutes : float
    clearance_deg : float
        Over the skyline in the middle of it.
    highest_deg : float
        Greatest altitude of the target in it.
    moon_lit : float
        Lit fraction of the Moon's disc in its middle.
    """

    evening: dt.date
    start: dt.datetime
    end: dt.datetime
    minutes: float
    clearance_deg: float
    highest_deg: float
    moon_lit: float


@dataclass(frozen=True, slots=True)
class SiteSeason:
    """One site's run of nights.

    Attributes
    ----------
    key, name : str
        As in the file of sites.
    lat, lon, ground_m : float
        Its place, and the ground there.
    unknown_share : float
        Share of the ground around, out to the asked reach, that is unknown.
    minutes : tuple of float
        For each night, dark with the target clear of the site's own skyline and the Moon as
        asked.
    outcomes : mapping of str to int
        How many nights have a window, and what took the others.
    best : SiteNight or None
    failure : str
        Why nothing is known of it; empty where it is.
    """

    key: str
    name: str
    lat: float
    lon: float
    ground_m: float
    unknown_share: float
    minutes: tuple[float, ...]
    outcomes: Mapping[str, int]
    best: SiteNight | None
    failure: str = ""

    @property
    def good_nights(self) -> int:
        """Nights with any window."""
        return self.outcomes.get("window", 0)

    @property
    def total_minutes(self) -> float:
        """Minutes of all nights."""
        return sum(self.minutes)


@dataclass(frozen=True, slots=True)
class SiteSeasons:
    """The seasons of the sites of a file, those with the most minutes first.

    Attributes
    ----------
    source : str
        The file's name.
    zone : str
        For the clock times, and the noons that part the nights.
    target_name : str
    limits : SeasonLimits
    evenings : tuple of date
    sites : tuple of SiteSeason
        By minutes, ties as in the file; of which nothing is known last.
    rejected : tuple of Rejected
        Rows of the file that were left out.
    notes : tuple of str
    """

    source: str
    zone: str
    target_name: str
    limits: SeasonLimits
    evenings: tuple[dt.date, ...]
    sites: tuple[SiteSeason, ...]
    rejected: tuple[Rejected, ...]
    notes: tuple[str, ...]

    @property
    def found(self) -> bool:
        """Whether any site has a window."""
        return any(site.good_nights for site in self.sites)
