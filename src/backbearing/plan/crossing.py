"""What a crossing is: the instant at which the target stands exactly behind the subject."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar, Literal

import numpy as np

from backbearing.base.grouped import FieldOf
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

Spoiler = Literal["daylight", "twilight", "moon", "ridge", "unknown ground", "subject"]
"""What may spoil a crossing; "subject": it hides the target, and that was not asked for."""

SAID: dict[Spoiler, str] = {
    "daylight": "the Sun is up",
    "twilight": "it is not dark enough",
    "moon": "the Moon is up",
    "ridge": "the ridge hides the target or comes too near",
    "unknown ground": "the ground towards the target is not known",
    "subject": "the subject hides the target",
}


@dataclass(frozen=True, slots=True)
class InFrame:
    """Where a lens at the stand puts the target, its frame level and the base at its margin.

    ``share`` is the subject's fraction of the frame's height; ``target_x`` and ``target_y``
    are fractions from the left and the bottom edge.
    """

    lens: str
    share: float
    target_x: float
    target_y: float
    in_frame: bool


@dataclass(frozen=True, slots=True)
class CrossingTarget:
    """The target at a crossing.

    Attributes
    ----------
    azimuth_deg, altitude_deg : float
        Apparent.
    over_top_deg : float
        Altitude less that of the subject's top.
    turn_deg_per_minute : float
        How fast its azimuth moves; positive is to the right.
    clearance_deg : float
        Over the terrain skyline; NaN where that is not known.
    lean_deg : float
        Lean of the Milky Way's plane at it; NaN for a body.
    moon_adds_mag, glow_adds_mag : float
        How much Moon and twilight brighten the sky there; NaN where no model holds.
    """

    azimuth_deg: float
    altitude_deg: float
    over_top_deg: float
    turn_deg_per_minute: float
    clearance_deg: float
    lean_deg: float
    moon_adds_mag: float
    glow_adds_mag: float


@dataclass(frozen=True, slots=True)
class SubjectLine:
    """What stands along the bearing from a stand to the subject.

    Attributes
    ----------
    base_deg, top_deg : float
        Altitudes of the subject's visible base and top.
    skyline_deg : float
        Terrain skyline behind the subject; NaN where not known.
    """

    base_deg: float
    top_deg: float
    skyline_deg: float


@dataclass(frozen=True, slots=True)
class Crossing:
    """One instant at which the target stands exactly behind the subject.

    Attributes
    ----------
    time : datetime
        Aware, in the zone of the search.
    evening : date
        First date of the night it belongs to (noon to noon).
    target : CrossingTarget
    subject : SubjectLine
    start, end : datetime
        The target is within the asked angle of the subject's azimuth from then to then.
    minutes_within : float
        Length of that stretch.
    frames : tuple of InFrame
        One for each lens.
    spoilt_by : tuple of str
        See `Spoiler`; empty when nothing does.

    Notes
    -----
    What ``target`` and ``subject`` hold can be read from the crossing itself, as
    ``crossing.altitude_deg`` or ``crossing.subject_top_deg``, and JSON shows it so.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing import Subject, crossing_times
    >>> chapel = Subject(lat=36.30250, lon=-84.18000, height_m=7.0)
    >>> found = crossing_times(
    ...     stand_lat=36.30278, stand_lon=-84.18012, subject=chapel, first_night=date(2027, 5, 28)
    ... )
    >>> f"{found[0].altitude_deg:.1f} degrees high, for {found[0].minutes_within:.1f} minutes"
    '22.0 degrees high, for 8.9 minutes'
    """

    time: dt.datetime
    evening: dt.date
    target: CrossingTarget
    azimuth_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    altitude_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    subject: SubjectLine
    subject_base_deg: ClassVar[FieldOf[float]] = FieldOf("subject", "base_deg")
    subject_top_deg: ClassVar[FieldOf[float]] = FieldOf("subject", "top_deg")
    over_top_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    start: dt.datetime
    end: dt.datetime
    minutes_within: float
    turn_deg_per_minute: ClassVar[FieldOf[float]] = FieldOf("target")
    skyline_deg: ClassVar[FieldOf[float]] = FieldOf("subject")
    clearance_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    lean_deg: ClassVar[FieldOf[float]] = FieldOf("target")
    moon_adds_mag: ClassVar[FieldOf[float]] = FieldOf("target")
    glow_adds_mag: ClassVar[FieldOf[float]] = FieldOf("target")
    frames: tuple[InFrame, ...]
    spoilt_by: tuple[Spoiler, ...]

    @property
    def dark(self) -> bool:
        """Whether Sun and Moon leave the sky as dark as asked."""
        return not {"daylight", "twilight", "moon"} & set(self.spoilt_by)

    @property
    def usable(self) -> bool:
        """Whether nothing spoils it."""
        return not self.spoilt_by

    @property
    def sentence(self) -> str:
        """What spoils it, in words; "Nothing spoils it." when nothing does."""
        if self.usable:
            return "Nothing spoils it."
        said = " and ".join(SAID[cause] for cause in self.spoilt_by)
        return f"{said[0].upper()}{said[1:]}."


class Crossings(list[Crossing]):
    """Crossings in order of time; ``numpy.asarray`` of it gives the instants in UTC.

    Attributes
    ----------
    bearing_deg, distance_m : float
        From the stand to the subject.
    near : list of (datetime, datetime)
        Stretches within the asked angle that turn back before the crossing.
    reason : str
        Why there is none; "" when there are some.

    Examples
    --------
    >>> from datetime import date
    >>> from backbearing import Subject, crossing_times
    >>> chapel = Subject(lat=36.30250, lon=-84.18000, height_m=7.0)
    >>> found = crossing_times(
    ...     stand_lat=36.3019, stand_lon=-84.1800, subject=chapel, first_night=date(2027, 5, 28)
    ... )
    >>> len(found)
    0
    >>> found.reason.split(" when")[0]
    'Milky Way core (Sgr A*) is below the horizontal'
    """

    def __init__(self, found: Sequence[Crossing], **facts: Any) -> None:
        super().__init__(found)
        self.bearing_deg: float = facts["bearing_deg"]
        self.distance_m: float = facts["distance_m"]
        self.near: list[tuple[dt.datetime, dt.datetime]] = facts["near"]
        self.reason: str = facts["reason"]

    @property
    def instants(self) -> NDArray[np.datetime64]:
        """The crossings (n,) as ``datetime64[us]`` in UTC."""
        return utc_array([c.time for c in self])

    def __array__(self, dtype: Any = None, copy: bool | None = None) -> NDArray[Any]:
        return self.instants if dtype is None else self.instants.astype(dtype)
