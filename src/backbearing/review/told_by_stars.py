"""What the stars of one frame tell of it, and those of a night of its camera."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backbearing.review.where_stood import Stood


@dataclass(frozen=True, slots=True)
class SkylinePoint:
    """A corner of the land's edge in a frame, and what the raster says there.

    Attributes
    ----------
    azimuth_deg, altitude_deg : float
        True azimuth, apparent altitude.
    sigma_deg, azimuth_sigma_deg : float
        One standard deviation of either, the clock's doubt in it.
    raster_deg, raster_sigma_deg, raster_distance_m : float
        The raster's skyline on this azimuth from where the frame was taken, its doubt, and how
        far away it is; NaN where unknown.
    over_deg : float
        How much higher than the raster the frame has it.
    """

    azimuth_deg: float
    altitude_deg: float
    sigma_deg: float
    azimuth_sigma_deg: float
    raster_deg: float
    raster_sigma_deg: float
    raster_distance_m: float
    over_deg: float

    @property
    def as_raster(self) -> bool:
        """Whether frame and raster agree within their doubts."""
        doubt: float = (self.sigma_deg**2 + self.raster_sigma_deg**2) ** 0.5
        return abs(self.over_deg) <= 2.5 * doubt


@dataclass(frozen=True, slots=True)
class FrameSkyline:
    """The land's edge as one frame shows it, corner by corner: between two of them it is straight.

    Attributes
    ----------
    runs : tuple of tuple of SkylinePoint
        Stretches of it without a gap, in order of azimuth.
    azimuths, read : int
        How many were looked at, and at how many the edge was clear.
    middle_over_deg, most_over_deg, most_at_deg : float
        Over the raster: the median of all, the most, and on which azimuth.
    sentence : str
    """

    runs: tuple[tuple[SkylinePoint, ...], ...]
    azimuths: int
    read: int
    middle_over_deg: float
    most_over_deg: float
    most_at_deg: float
    sentence: str

    @property
    def points(self) -> tuple[SkylinePoint, ...]:
        """All corners."""
        return tuple(point for run in self.runs for point in run)


@dataclass(frozen=True, slots=True)
class CompassSaid:
    """What a camera's compass said beside where the stars say that the lens pointed.

    Attributes
    ----------
    said_deg : float
        As written in the frame.
    from_magnetic : bool
    declination_deg : float
        Taken to turn it to true north; NaN where it was from true north.
    off_deg, sigma_deg : float
        How far clockwise of the truth it was, and the declination's own doubt.
    sentence : str
    """

    said_deg: float
    from_magnetic: bool
    declination_deg: float
    off_deg: float
    sigma_deg: float
    sentence: str


@dataclass(frozen=True, slots=True)
class CompassOff:
    """How far a camera's compass was off over a night: mean of its frames, and one sigma."""

    off_deg: float
    sigma_deg: float
    frames: int
    sentence: str


@dataclass(frozen=True, slots=True)
class FromStars:
    """What the stars of one frame tell.

    Attributes
    ----------
    azimuth_deg, pitch_deg, roll_deg : float
        Of the lens's axis, true; NaN where the stars could not be matched.
    focal_length_mm, distortion : float
        As `PlateSolution`.
    stars : int
    misfit_px : float
    subject_azimuth_deg, subject_top_deg, subject_width_deg : float
        Of the subject as it stands in the picture; NaN where it was not found.
    stood : Stood or None
        Where the frame was taken from, settled over all frames.
    sentence : str
    skyline : FrameSkyline or None
    compass : CompassSaid or None
    """

    azimuth_deg: float
    pitch_deg: float
    roll_deg: float
    focal_length_mm: float
    distortion: float
    stars: int
    misfit_px: float
    subject_azimuth_deg: float
    subject_top_deg: float
    subject_width_deg: float
    stood: Stood | None
    sentence: str
    skyline: FrameSkyline | None = None
    compass: CompassSaid | None = None
