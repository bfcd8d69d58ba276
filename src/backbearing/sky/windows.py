"""What a search for darkness returns, and the skyline it may be given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from backbearing.base.notebook import table_html
from backbearing.base.numbers import counted

if TYPE_CHECKING:
    from datetime import date, datetime

    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    from backbearing.sky.outcomes import Outcome


class Skyline(Protocol):
    """Anything that knows the skyline's apparent altitude by true azimuth."""

    def altitude_at(self, azimuth_deg: ArrayLike) -> NDArray[np.float64]:
        """Apparent altitude in degrees, NaN where it is not known; arrays in, arrays out."""
        ...


@dataclass(frozen=True)
class DarkWindow:
    """One stretch of a night in which every condition holds.

    Attributes
    ----------
    evening : date
        The first of the night's two dates.
    start, end : datetime
        Aware, in the zone of the search.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import dark_windows
    >>> window = dark_windows(lat=36.302, lon=-84.180, first_night=date(2027, 5, 28))[0]
    >>> f"{window.evening}: {(window.end - window.start).total_seconds() / 60.0:.0f} minutes"
    '2027-05-28: 230 minutes'
    """

    evening: date
    start: datetime
    end: datetime

    @property
    def minutes(self) -> float:
        """Length in minutes of elapsed time."""
        # Subtracting local times of one zone would miss an hour when the clocks change.
        return (self.end.timestamp() - self.start.timestamp()) / 60.0


class DarkWindows(list[DarkWindow]):
    """Dark windows in order of time, and why other nights have none.

    Attributes
    ----------
    reasons : dict of date to str
        One sentence for every night without a window.
    outcomes : dict of date to str
        The same as one of `window_reasons.Outcome`, for scripts.
    notes : dict of date to str
        What is uncertain about a night that has windows (an unknown skyline).

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing.sky import dark_windows
    >>> found = dark_windows(lat=55.0, lon=-4.0, first_night=date(2027, 6, 21))
    >>> len(found), found.reasons[date(2027, 6, 21)]
    (0, 'No astronomical darkness: the Sun goes no lower than -11.6°, and -18° was asked.')
    """

    def __init__(
        self,
        windows: list[DarkWindow],
        reasons: dict[date, str],
        notes: dict[date, str] | None = None,
        outcomes: dict[date, Outcome] | None = None,
    ) -> None:
        super().__init__(windows)
        self.reasons = reasons
        self.notes = notes or {}
        self.outcomes = outcomes or {}

    def _repr_html_(self) -> str:
        """Show the windows as a table, for a notebook."""
        rows = [[one.evening, one.start, one.end, one.minutes] for one in self]
        said = f"{counted(len(self), 'dark windows')}; "
        said += f"{counted(len(self.reasons), 'nights')} without one."
        notes = [f"{night}: {why}" for night, why in sorted(self.reasons.items())]
        return table_html(said, ["evening", "from", "to", "minutes"], rows, notes)
