"""The ranking: one row a candidate, in order, with every part and reason beside it."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import nan
from typing import TYPE_CHECKING, Final

from backbearing.base.cautions import CoverKnown
from backbearing.base.notebook import table_html
from backbearing.base.numbers import counted
from backbearing.outing.score_limits import BEST_NIGHTS

if TYPE_CHECKING:
    import datetime as dt

    import geopandas
    import numpy as np
    from numpy.typing import NDArray

    from backbearing.outing.scouting_request import Weights

SHOWN: Final = ("rank", "name", "kind", "score", "night_label", "best_lens_mm", "reasons")
"""Columns of the table that a notebook shows."""

SHOWN_ROWS: Final = 10


@dataclass(frozen=True, slots=True)
class Rejected:
    """A row that was left out or joined with another, and why.

    Attributes
    ----------
    row : int
        As the file counts: the line of a CSV file where the row begins, the number of the
        feature, waypoint or placemark from 1, the ``fid`` of a GeoPackage, or the
        OpenStreetMap element's number.
    reason : str
        A sentence that names the row.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import read_candidates
    >>> left_out = read_candidates(sample / "lone_things.csv").rejected
    >>> left_out[0].row, left_out[0].reason
    (39, 'Row 39: lat 363.81, lon -84.21 lies off the globe; write WGS84 degrees.')
    """

    row: int
    reason: str


@dataclass(frozen=True, slots=True)
class RankingAsked:
    """What a ranking was asked for, as far as its numbers are made of it; NaN where unknown.

    Attributes
    ----------
    target : str
        Its name and where its place was published.
    eye_height_m, refraction_k : float
    clear_by_deg, sun_below_deg : float
        What counts as clear of the ridge, and as dark.
    moon : str or float
        The Moon that is accepted, as the outing writes it.
    least_minutes, longest_walk_m, steepest_deg : float
        As in ``[scouting]``.
    vertical_sigma_m, position_sigma_m : float
        One standard deviation of the raster's heights and of the tripod's place.
    elevation, ways, towns, sky_brightness : str
        Names of the files; empty without one.
    """

    target: str = ""
    eye_height_m: float = nan
    refraction_k: float = nan
    clear_by_deg: float = nan
    sun_below_deg: float = nan
    moon: str | float = ""
    least_minutes: float = nan
    longest_walk_m: float = nan
    steepest_deg: float = nan
    vertical_sigma_m: float = nan
    position_sigma_m: float = nan
    elevation: str = ""
    ways: str = ""
    towns: str = ""
    sky_brightness: str = ""


@dataclass(frozen=True, eq=False)
class Ranking:
    """Candidates in rank order.

    Attributes
    ----------
    frame : geopandas.GeoDataFrame
        One row a candidate, EPSG:4326 points: first the ranked by score, then the hard
        failures. Columns are told in ``docs/scouting.md``.
    minutes : ndarray of uint16, shape (n, nights, lenses)
        Dark minutes with the target clear of the terrain from a feasible stand, the framing
        held; rows as in the frame. Shape (n, nights, 1), each night's by its best lens, where
        a ranking was read back from parts.
    first_night : date
        Evening of the first night.
    nights : int
    lenses_mm : tuple of float
    lens_names : tuple of str
        Prefixes of the lenses' columns.
    zone : str
        Time zone of the clock times.
    weights : Weights
    rejected : tuple of Rejected
        Rows of the file that were left out, and why.
    notes : tuple of str
        What the numbers stand on, and what the data cannot show.
    asked : RankingAsked
        What the numbers were asked for.
    cover_known : CoverKnown
        Whether the skylines know trees and buildings.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from backbearing import load_outing, read_candidates, scout
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> ranking = scout(load_outing(sample / "outing.toml"), candidates, nights=3, processes=1)
    >>> ranking.minutes.shape, ranking.zone
    ((39, 3, 4), 'America/New_York')
    """

    frame: geopandas.GeoDataFrame
    minutes: NDArray[np.uint16]
    first_night: dt.date
    nights: int
    lenses_mm: tuple[float, ...]
    lens_names: tuple[str, ...]
    zone: str
    weights: Weights
    rejected: tuple[Rejected, ...]
    notes: tuple[str, ...]
    asked: RankingAsked = field(default=RankingAsked())
    cover_known: CoverKnown = CoverKnown.NONE

    def __len__(self) -> int:
        return len(self.frame)

    @property
    def ranked(self) -> int:
        """How many candidates have a rank; the rest failed."""
        return int(self.frame["rank"].notna().sum())

    def best_nights(self, row: int) -> list[int]:
        """Minutes of a row's best nights by the best lens of each: what its dark part counts."""
        each = sorted(self.minutes[row].max(axis=1, initial=0).tolist(), reverse=True)
        return each[:BEST_NIGHTS]

    def top(self, n: int = 3) -> geopandas.GeoDataFrame:
        """The first n of the ranked candidates."""
        return self.frame.iloc[: min(n, self.ranked)]

    def _repr_html_(self) -> str:
        """Show the first rows as a table; every text is escaped."""
        rows = [[row[name] for name in SHOWN] for _, row in self.top(SHOWN_ROWS).iterrows()]
        count = f"{self.ranked} of {len(self)} candidates ranked"
        nights = counted(self.nights, "nights")
        said = f"{count}, {nights} from {self.first_night}, times in {self.zone}."
        return table_html(said, [name.replace("_", " ") for name in SHOWN], rows, self.notes)
