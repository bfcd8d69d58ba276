"""What a review is settled to: frames beside the plan, immutable, for every writer to read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from backbearing.base.notebook import table_html

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.camera.frame_trails import FrameTrails
    from backbearing.review.exif import FrameExif
    from backbearing.review.told_by_stars import CompassOff, FromStars
    from backbearing.review.trails import MeasuredTrails
    from backbearing.review.where_stood import Adjusted

Verdict = Literal[
    "as predicted", "longer", "shorter", "turned", "too few stars", "no prediction", "not measured"
]


@dataclass(frozen=True, slots=True)
class Beside:
    """One quantity, planned and taken; NaN where one of them is unknown.

    ``what`` is ``"focal length"``, ``"shutter"``, ``"f-number"`` or ``"ISO"``; ``unit`` is
    its unit, ``as_planned`` is whether they are the same as far as cameras round, and
    ``sentence`` says how they differ.
    """

    what: str
    unit: str
    planned: float
    taken: float
    as_planned: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class PlannedTurn:
    """The part of the plan that a frame belongs to.

    Attributes
    ----------
    lens : str
        The planned lens's label.
    turn : int or None
        Its turn in the session; None without one.
    frames_start, frames_end : datetime or None
        The turn's frames, or the usable stretch nearest to the frame; UTC.
    late_minutes : float
        How far the frame lies outside of it: above zero is late, below zero early, 0
        inside, NaN where the frame has no time.
    stand_lat, stand_lon : float
        The planned stand, WGS84 degrees.
    pitch_deg, azimuth_deg : float
        Where the plan points the lens at the frame's time.
    target_x, target_y : float
        Where the target falls in that frame then: fractions from the left and the bottom
        edge; NaN where unknown.
    sentence : str
        All of it in words.
    """

    lens: str
    turn: int | None
    frames_start: dt.datetime | None
    frames_end: dt.datetime | None
    late_minutes: float
    stand_lat: float
    stand_lon: float
    pitch_deg: float
    azimuth_deg: float
    target_x: float
    target_y: float
    sentence: str


@dataclass(frozen=True, slots=True)
class PlaceOff:
    """How far a frame's position lies from the planned stand.

    Attributes
    ----------
    distance_m, azimuth_deg : float
        From the planned stand to the frame's position.
    back_m, left_m : float
        The same as one faces the subject at the planned stand; negative is forward, right.
    receiver_sigma_m : float
        What a receiver is worth: its own stated error, else the outing's.
    sentence : str
    """

    distance_m: float
    azimuth_deg: float
    back_m: float
    left_m: float
    receiver_sigma_m: float
    sentence: str


@dataclass(frozen=True, slots=True)
class FrameReview:
    """One frame beside the plan.

    Attributes
    ----------
    name : str
        The file's name: hostile text.
    exif : FrameExif
    time : datetime or None
        UTC, the camera's clock put right.
    time_sentence : str
        Where the zone comes from, and what was put right.
    planned : PlannedTurn or None
    beside : tuple of Beside
    place : PlaceOff or None
    expected : FrameTrails or None
        Trails at the shutter actually used, in the picture's own pixels.
    measured : MeasuredTrails or None
    verdict : str
    sentences : tuple of str
        The trails in plain words, then what else is worth saying.
    ticked : str
        What was ticked of its turn in the field, and when; empty where nothing was.
    stars : FromStars or None
        Where it pointed and was taken from, when that was asked of its stars.

    Examples
    --------
    A picture of nothing, into ``folder``, beside the sample outing's ``plan``:

    >>> from PIL import Image
    >>> from backbearing import load_outing, review_frames
    >>> Image.new("L", (600, 400)).save(folder / "dark.jpg")
    >>> outing = load_outing(sample / "outing.toml")
    >>> review = review_frames(outing, [folder / "dark.jpg"], plan=plan, measure=False)
    >>> frame = review.frames[0]
    >>> frame.time_sentence
    'No time in the frame.'
    """

    name: str
    exif: FrameExif
    time: dt.datetime | None
    time_sentence: str
    planned: PlannedTurn | None
    beside: tuple[Beside, ...]
    place: PlaceOff | None
    expected: FrameTrails | None
    measured: MeasuredTrails | None
    verdict: Verdict
    sentences: tuple[str, ...]
    ticked: str = ""
    stars: FromStars | None = None


@dataclass(frozen=True, slots=True)
class Unread:
    """A frame that could not be reviewed, and why."""

    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Review:
    """A night's frames beside its plan.

    Attributes
    ----------
    name : str
        The outing's.
    evening : date
        The planned night.
    zone : str
        The zone to show times in.
    clock_zone : str
        The zone that the camera's clock was taken to show, where a frame does not say.
    clock_ahead_s : float
        How far the camera's clock was said to be ahead of the true time.
    accepted_trail_px : float
        Trail at the target that the outing accepts.
    frames : tuple of FrameReview
        In order of time, those without one last.
    unread : tuple of Unread
    notes : tuple of str
        Limits of the whole.
    ticked : tuple of str
        What was ticked in the field, turn after turn, and what was corrected there.
    subject : Adjusted or None
        The subject's height by all frames whose stars were asked.
    subject_sentence : str
    clock_sentence : str
        What the stands tell of the camera's clock; empty where they tell nothing.
    compass : CompassOff or None
        How far the camera's own compass was off.

    Examples
    --------
    A file that is no picture, into ``folder``, beside the sample outing's ``plan``:

    >>> from backbearing import load_outing, review_frames
    >>> written = (folder / "notes.jpg").write_text("cloud from two o'clock")
    >>> outing = load_outing(sample / "outing.toml")
    >>> review = review_frames(outing, [folder / "notes.jpg"], plan=plan)
    >>> review.unread[0].name, len(review.frames)
    ('notes.jpg', 0)
    """

    name: str
    evening: dt.date
    zone: str
    clock_zone: str
    clock_ahead_s: float
    accepted_trail_px: float
    frames: tuple[FrameReview, ...]
    unread: tuple[Unread, ...]
    notes: tuple[str, ...]
    ticked: tuple[str, ...] = ()
    subject: Adjusted | None = None
    subject_sentence: str = ""
    clock_sentence: str = ""
    compass: CompassOff | None = None

    @property
    def placed(self) -> int:
        """How many frames belong to a lens of the plan."""
        return sum(frame.planned is not None for frame in self.frames)

    def _repr_html_(self) -> str:
        """Show the frames as a table, for a notebook."""
        from zoneinfo import ZoneInfo

        zone = ZoneInfo(self.zone)
        rows = [
            [
                frame.name,
                None if frame.time is None else frame.time.astimezone(zone),
                frame.exif.focal_length_mm,
                frame.exif.shutter_s,
                frame.verdict,
                " ".join(frame.sentences),
            ]
            for frame in self.frames
        ]
        names = ["frame", "time", "lens, mm", "shutter, s", "trails", ""]
        said = f"{self.name}: {self.placed} of {len(self.frames)} frames belong to the plan."
        return table_html(
            said, names, rows, [*(f"{u.name}: {u.why}" for u in self.unread), *self.notes]
        )
