"""Measured skyline marks as asked: what was read, from where, and how far to believe it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from backbearing.base.geodesy import point_along
from backbearing.base.limits import Limit
from backbearing.base.numbers import num
from backbearing.base.reading_errors import CLINOMETER_SIGMA_DEG, COMPASS_SIGMA_DEG

if TYPE_CHECKING:
    from collections.abc import Mapping

MARK_LIMITS: Final[Mapping[str, Limit]] = {
    "azimuth_deg": Limit(-360.0, 360.0, "degrees clockwise from true north"),
    "compass_deg": Limit(-360.0, 360.0, "degrees clockwise from magnetic north"),
    "declination_deg": Limit(-180.0, 180.0, "degrees, east of true north positive"),
    "altitude_deg": Limit(-45.0, 85.0, "degrees above the horizontal"),
    "sigma_deg": Limit(0.001, 20.0, "degrees, one standard deviation"),
    "azimuth_sigma_deg": Limit(0.0, 45.0, "degrees, one standard deviation"),
    "distance_m": Limit(1.0, 200_000.0, "metres"),
    "eye_height_m": Limit(0.0, 100.0, "metres above the ground"),
    "bearing_deg": Limit(-360.0, 360.0, "degrees clockwise from true north"),
    "from_lat": Limit(-90.0, 90.0, "degrees"),
    "from_lon": Limit(-180.0, 180.0, "degrees"),
}
"""What a reading may be; beyond lies a slip of the pencil. Nobody reads a skyline steeper than
85 degrees: he stands under the thing."""

AZIMUTH_SIGMA_DEG: Final = 1.0
"""One standard deviation of a true azimuth, off a map or by things whose places are known (common
practice, no source)."""

EYE_HEIGHT_M: Final = 1.6
"""Of a standing reader (common practice, no source)."""

MOST_MARKS: Final = 5_000
"""Readings of one outing, from its file and its table together."""


@dataclass(frozen=True, slots=True)
class ReadFrom:
    """Where marks were read: a name, a place, or a stand so far from the subject on a bearing.

    Attributes
    ----------
    name : str
        ``subject``, or the name of a place in the places file; empty for the other ways.
    lat, lon : float or None
        WGS84 degrees.
    bearing_deg, distance_m : float or None
        From the subject, true.
    """

    name: str = "subject"
    lat: float | None = None
    lon: float | None = None
    bearing_deg: float | None = None
    distance_m: float | None = None

    @property
    def words(self) -> str:
        """The place as a sentence has it, without the word "from"."""
        if self.lat is not None and self.lon is not None:
            return f"{num(self.lat, 5)}, {num(self.lon, 5)}"
        if self.distance_m is not None and self.bearing_deg is not None:
            return f"{num(self.distance_m)} m from the subject at {num(self.bearing_deg)}°"
        return "the subject" if self.name == "subject" else self.name


SUBJECT: Final = ReadFrom()


@dataclass(frozen=True, slots=True)
class MarkRequest:
    """One reading; either ``azimuth_deg`` or ``compass_deg`` is a number, the other None.

    ``declination_deg`` None stands for the magnetic model's own, ``distance_m`` None for a thing
    whose distance nobody measured, ``azimuth_sigma_deg`` None for what is usual.
    """

    altitude_deg: float
    azimuth_deg: float | None = None
    compass_deg: float | None = None
    declination_deg: float | None = None
    sigma_deg: float = CLINOMETER_SIGMA_DEG
    azimuth_sigma_deg: float | None = None
    distance_m: float | None = None
    eye_height_m: float = EYE_HEIGHT_M
    read_from: ReadFrom = SUBJECT

    @property
    def azimuth_doubt_deg(self) -> float:
        """One standard deviation of the azimuth: as told, or as usual for the way it was read."""
        if self.azimuth_sigma_deg is not None:
            return self.azimuth_sigma_deg
        return AZIMUTH_SIGMA_DEG if self.compass_deg is None else COMPASS_SIGMA_DEG


@dataclass(frozen=True, slots=True)
class MarksRequest:
    """All readings of an outing, and what to take off them.

    Attributes
    ----------
    readings : tuple of MarkRequest
    correct : bool
        Whether the tilt and the turn found against the raster are taken off.
    tilt_deg, turn_deg : float or None
        To take off all altitudes and azimuths, as the user wrote them.
    """

    readings: tuple[MarkRequest, ...] = ()
    correct: bool = False
    tilt_deg: float | None = None
    turn_deg: float | None = None

    def __bool__(self) -> bool:
        return bool(self.readings)

    def kept_at(self, *, lat: float, lon: float) -> MarksRequest:
        """The same marks for a subject that goes elsewhere: read where they were read.

        Parameters
        ----------
        lat, lon : float
            The subject's place until now, WGS84 degrees.
        """

        def there(place: ReadFrom) -> ReadFrom:
            if place.bearing_deg is not None and place.distance_m is not None:
                end = point_along(
                    lat=lat, lon=lon, azimuth_deg=place.bearing_deg, distance_m=place.distance_m
                )
                return ReadFrom("", float(end.lat), float(end.lon))
            return ReadFrom("", lat, lon) if place == SUBJECT else place

        kept = (replace(one, read_from=there(one.read_from)) for one in self.readings)
        return replace(self, readings=tuple(kept))
