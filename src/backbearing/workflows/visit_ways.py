"""The ways to measure on a visit: what each asks for, and what it makes of the answers.

One table serves the flags, the questions on a terminal and the notebook: a way's keys are the
same in all three.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

from backbearing.workflows.visit_makers import (
    by_angles,
    by_bearings,
    by_picture,
    by_pole,
    by_shadow,
    by_sights,
    by_staff,
    by_stand,
    by_step_back,
    by_track,
    by_two_shadows,
    drop_by_one_angle,
    wide_by_bearings,
    wide_by_picture,
    wide_by_staff,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from backbearing.measuring.places import MeasuredPlace
    from backbearing.measuring.readings import Measured
    from backbearing.outing.request import Outing

    Result = Measured | MeasuredPlace
    Answers = Mapping[str, Any]
    Make = Callable[[Answers, Outing | None], Result]

Kind = Literal["number", "angle", "spot", "path", "text", "date", "place", "sightings"]
What = Literal["height", "width", "place", "drop"]


@dataclass(frozen=True, slots=True)
class Asked:
    """One answer that a way asks for.

    Attributes
    ----------
    key : str
        In a notebook; its flag is the same with dashes. An angle ends in ``_deg`` and may be
        given as a percent scale's reading under ``_percent``.
    words : str
        What it is, for help and questions.
    kind : str
        A ``spot`` is a column and a row; ``sightings`` are rows of latitude, longitude, bearing.
    needed : bool
        Whether the way cannot do without.
    offered : bool
        Whether a person is asked for it all the same, and may say nothing.
    outing_tells : bool
        Whether an outing stands in for it, so that it is needed only without one.
    """

    key: str
    words: str
    kind: Kind = "number"
    needed: bool = True
    offered: bool = False
    outing_tells: bool = False

    def is_needed(self, *, with_outing: bool) -> bool:
        """Whether the way cannot do without, an outing at hand or not."""
        return self.needed or (self.outing_tells and not with_outing)


@dataclass(frozen=True, slots=True)
class Way:
    """A way to measure: its line of help, what it asks for, and how the result comes about."""

    line: str
    asked: tuple[Asked, ...]
    make: Make


def more(key: str, words: str, kind: Kind = "number") -> Asked:
    """An answer that may be left out."""
    return Asked(key, words, kind, needed=False)


DISTANCE = Asked("distance_m", "level distance to the subject, metres")
DISTANCE_SIGMA = more("distance_sigma_m", "one sigma of the distances; a tape's when left out")
ANGLE_SIGMA = more("angle_sigma_deg", "one sigma of the angles; 0.5 when left out")
TOP = Asked("top_deg", "angle to the top, upward positive", "angle")
BASE = Asked("base_deg", "angle to the base, downward negative", "angle")
TAPE = more("tape", 'how the tape was held: "level", or "sight" from the eye to the base', "text")
STAFF = Asked("staff_m", "height of the person or staff, metres")
STAFF_SIGMA = more("staff_sigma_m", "one sigma of that height; 0.02 when left out")
PICTURE: Final = (
    Asked("picture", "the picture, not cropped", "path"),
    more("focal_length_mm", "focal length; the picture's own when left out"),
    more("sensor_width_mm", "long side of the sensor; the outing's camera when left out"),
    more("pitch_deg", "tilt of the camera, upward positive; bounded when left out", "angle"),
    more("pitch_sigma_deg", "one sigma of the tilt; 0.5 when left out"),
    more("horizon_row_px", "row of a level horizon, which tells the tilt"),
    more("px_sigma", "one sigma of the pixels; 3 when left out"),
)


SPOTS: Final = {
    key: Asked(key, f"{words}, pixels from the left and from the top", "spot")
    for key, words in (
        ("top_px", "the subject's top"),
        ("base_px", "the subject's base"),
        ("left_px", "the subject's left edge"),
        ("right_px", "the subject's right edge"),
        ("staff_top_px", "top of the person or staff"),
        ("staff_base_px", "base of the person or staff"),
    )
}
_BEARING_SIGMA = more("bearing_sigma_deg", "one sigma of a bearing; 2 when left out")
_COMPASS = Asked(
    "compass_date", "day on which a compass gave the bearings; nothing for true bearings", "date",
    needed=False, offered=True,
)  # fmt: skip
_POINT_SIGMA = more("point_sigma_m", "one sigma of a known point; 3 when left out")
_APART = (
    more("distance_m", "level distance to the subject, where it differs from the staff's"),
    more("staff_distance_m", "level distance to the staff"),
)
_EYE = more("eye_m", "height of the lens over the ground; 1.6 when left out")
_SLOPE = Asked(
    "slope_deg", "slope of the ground along the tape; nothing where it is level", "angle",
    needed=False, offered=True,
)  # fmt: skip
_AT = Asked(
    "at", "the place in any notation; the outing's when left out", "place",
    needed=False, outing_tells=True,
)  # fmt: skip

WAYS: Final[dict[What, dict[str, Way]]] = {
    "height": {
        "angles": Way(
            "A tape and the angles to top and base, by clinometer.",
            (DISTANCE, TOP, BASE, TAPE, _SLOPE, DISTANCE_SIGMA, ANGLE_SIGMA),
            by_angles,
        ),
        "sights": Way(
            "Distances and angles along the sights to top and base, by laser.",
            (Asked("top_m", "distance from the eye to the top, metres"), TOP,
             Asked("base_m", "distance from the eye to the base, metres"), BASE,
             DISTANCE_SIGMA, ANGLE_SIGMA),
            by_sights,
        ),
        "pole": Way(
            "A pole of known length at the base; no distance is needed.",
            (Asked("pole_m", "length of the pole, metres"), TOP,
             Asked("pole_top_deg", "angle to the pole's top", "angle"), BASE,
             more("pole_sigma_m", "one sigma of its length; 0.02 when left out"), ANGLE_SIGMA),
            by_pole,
        ),
        "step-back": Way(
            "Angles from two places in line; the base need not be reached.",
            (Asked("step_m", "level distance between the two places, metres"),
             *(Asked(f"{place}_{end}_deg", f"angle to the {end} from the {place} place", "angle")
               for place in ("near", "far") for end in ("top", "base")),
             DISTANCE_SIGMA, ANGLE_SIGMA),
            by_step_back,
        ),
        "picture": Way(
            "A picture of known focal length from a known distance.",
            (PICTURE[0], DISTANCE, SPOTS["top_px"], SPOTS["base_px"], *PICTURE[1:], _EYE,
             DISTANCE_SIGMA),
            by_picture,
        ),
        "staff": Way(
            "A person or staff of known height in the picture.",
            (PICTURE[0], STAFF, *(SPOTS[k] for k in ("top_px", "base_px", "staff_top_px",
             "staff_base_px")), *PICTURE[1:], STAFF_SIGMA, *_APART, DISTANCE_SIGMA),
            by_staff,
        ),
        "shadow": Way(
            "The shadow's length, with the Sun's altitude at that minute.",
            (Asked("shadow_m", "length of the shadow along the ground, metres"),
             Asked("time", "date and time, such as 2027-03-04 16:30", "text"), _SLOPE,
             _AT,
             more("ground_m", "height of the ground over the sea"),
             more("time_sigma_s", "one sigma of the time; 30 when left out"), DISTANCE_SIGMA,
             ANGLE_SIGMA),
            by_shadow,
        ),
        "shadows": Way(
            "Its shadow and that of a staff on the same slope; no clock is needed.",
            (Asked("shadow_m", "length of the subject's shadow along the ground, metres"),
             Asked("staff_m", "length of the upright staff, metres"),
             Asked("staff_shadow_m", "length of the staff's shadow, metres"), DISTANCE_SIGMA,
             STAFF_SIGMA,
             more("staff_shadow_sigma_m", "one sigma of that shadow; 0.03 when left out"),
             more("apart_s", "seconds between the two marks; 60 when left out")),
            by_two_shadows,
        ),
    },
    "width": {
        "bearings": Way(
            "A tape and the bearings of both edges.",
            (DISTANCE, Asked("left_deg", "bearing of the left edge, degrees"),
             Asked("right_deg", "bearing of the right edge, degrees"), _BEARING_SIGMA,
             DISTANCE_SIGMA),
            wide_by_bearings,
        ),
        "picture": Way(
            "A picture of known focal length from a known distance.",
            (PICTURE[0], DISTANCE, SPOTS["left_px"], SPOTS["right_px"], *PICTURE[1:],
             DISTANCE_SIGMA),
            wide_by_picture,
        ),
        "staff": Way(
            "A person or staff of known height in the picture.",
            (PICTURE[0], STAFF, *(SPOTS[k] for k in ("left_px", "right_px", "staff_top_px",
             "staff_base_px")), *PICTURE[1:], STAFF_SIGMA, *_APART, DISTANCE_SIGMA),
            wide_by_staff,
        ),
    },
    "place": {
        "track": Way(
            "A receiver that lay still: the average of its track.",
            (Asked("track", "the track as a GPX file", "path"),
             more("floor_sigma_m", "what all its fixes err by alike; 3.2 when left out")),
            by_track,
        ),
        "bearings": Way(
            "Bearings from two known points or more.",
            (Asked("from", "latitude, longitude and the bearing from there", "sightings"),
             _COMPASS, _BEARING_SIGMA, _POINT_SIGMA),
            by_bearings,
        ),
        "stand": Way(
            "A known stand, and the bearing and distance from it to the subject.",
            (Asked("stand", "place of the stand, in any notation", "place"),
             Asked("bearing_deg", "bearing from the stand to the subject, degrees"), DISTANCE,
             _COMPASS, _BEARING_SIGMA, _POINT_SIGMA, DISTANCE_SIGMA),
            by_stand,
        ),
    },
    "drop": {
        "angle": Way(
            "A tape and the angle from the stand to the subject's base.",
            (DISTANCE, Asked("angle_deg", "angle to the subject's base", "angle"),
             Asked("eye_m", "height of the eye over the ground, metres"),
             more("target_m", "height over the subject's ground of what was sighted"), TAPE,
             DISTANCE_SIGMA, ANGLE_SIGMA, more("eye_sigma_m", "one sigma of both heights")),
            drop_by_one_angle,
        ),
    },
}  # fmt: skip
"""Every way, by what it measures and by its name."""
