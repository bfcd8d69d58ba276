"""What the stars of one frame tell of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from backbearing.review.where_stood import Stood


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
