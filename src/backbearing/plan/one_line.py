"""The kit from one line, lens after lens: what is proposed beside a session."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.camera.bodies_and_lenses import Lens


@dataclass(frozen=True, slots=True)
class OnTheLine:
    """One lens's place on the line, and what it loses by its few minutes from the line's own.

    Attributes
    ----------
    lens : Lens
    frames_start, frames_end : datetime
        UTC; its minute is the middle of them.
    lat, lon : float
        Its stand on the line, WGS84 degrees.
    distance_m : float
        To the subject.
    pitch_deg : float
        Altitude of the frame's centre.
    above_top_deg : float
        The target over the subject's top at its minute.
    least_clearance_deg : float
        Over the skyline from this stand while the frames run.
    off_deg : float
        Angle on the sky from the target's place at the line's minute to where it is at the
        lens's minute.
    right_deg : float
        How far of that it stands to the right (negative: to the left), in azimuth.
    above_top_loss_deg, clearance_loss_deg : float
        How much lower over the top, and over the skyline at the least, than at the line's
        minute; negative is higher.
    aside_m : float
        How far to the left of the line, facing the subject, the stand of its own minute lies
        (negative: right).
    """

    lens: Lens
    frames_start: dt.datetime
    frames_end: dt.datetime
    lat: float
    lon: float
    distance_m: float
    pitch_deg: float
    above_top_deg: float
    least_clearance_deg: float
    off_deg: float
    right_deg: float
    above_top_loss_deg: float
    clearance_loss_deg: float
    aside_m: float


@dataclass(frozen=True, slots=True)
class OneLine:
    """Most lenses of the kit from one line through the subject, while stepping along it.

    Attributes
    ----------
    time : datetime
        The line's minute, UTC: the line leads away from the target as it stands then.
    bearing_deg, bearing_magnetic_deg : float
        Along the line towards the subject, at the nearest stand.
    start, end : datetime
        First and last frame.
    span_minutes : float
        From the one to the other: frames, and ``change_minutes`` between lenses.
    change_minutes : float
    lenses : tuple of OnTheLine
        In order of time: from the nearest stand outward, or the farthest inward.
    left_out : tuple of Lens
        Those that do not work from that line then.
    inward : bool
        Whether one steps in instead of back: only where more lenses work so.
    sentence : str
    """

    time: dt.datetime
    bearing_deg: float
    bearing_magnetic_deg: float
    start: dt.datetime
    end: dt.datetime
    span_minutes: float
    change_minutes: float
    lenses: tuple[OnTheLine, ...]
    left_out: tuple[Lens, ...]
    inward: bool
    sentence: str
