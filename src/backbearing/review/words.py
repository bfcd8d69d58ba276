"""Measured trails against predicted ones, in plain words with their limits.

The limits below are this package's own, common practice at best, no source: they are
wide enough for a lens's distortion, a focal length that is marked, not measured, and a
camera that is pointed by hand.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.numbers import counted, num
from backbearing.review.stars import WHERE

if TYPE_CHECKING:
    from backbearing.review.region import RegionTrails
    from backbearing.review.report import Verdict
    from backbearing.review.streaks import Streak
    from backbearing.review.trails import MeasuredTrails

LENGTH_SLACK: Final = 0.12
LENGTH_SLACK_PX: Final = 0.4
ANGLE_SLACK_DEG: Final = 8.0
SIDEWAYS_SLACK_PX: Final = 0.4
"""How far aside a trail may end: a shake so small turns a short trail and lengthens none."""

WIDE_STAR_PX: Final = 5.0
"""Stars wider than this (full width at half maximum) are called soft."""

SOFT_OUT_OF_ROUND: Final = 0.05
"""By so much wider one way than the other a soft star's own image may be (a lens's barrel cuts it,
a drop of dew bends it): what trail that would feign is left room for. No source."""

CORNERS: Final = ("upper left", "upper right", "lower left", "lower right")


def length_room_px(region: RegionTrails) -> float:
    """How far a length may be off and still count as predicted, pixels."""
    return (
        LENGTH_SLACK * region.predicted_length_px + LENGTH_SLACK_PX + 3.0 * region.length_sigma_px
    )


def feigned_px(region: RegionTrails) -> float:
    """How long a trail the shape of soft stars could feign or hide, pixels; 0 for sharp ones.

    An even spread over L adds ``L^2 / 12`` to the variance along it, which the shape of a star
    of width sigma changes by ``2 SOFT_OUT_OF_ROUND sigma^2``.
    """
    if not region.width_px > WIDE_STAR_PX:
        return 0.0
    return math.sqrt(24.0 * SOFT_OUT_OF_ROUND) * region.width_px / 2.3548


def turn_that_shows_deg(region: RegionTrails) -> float:
    """From which angle on a region's trails show that they are turned; 90 where none would.

    `ANGLE_SLACK_DEG` and three standard errors; for a short trail the angle at which it ends
    `SIDEWAYS_SLACK_PX` and three standard errors of its length aside, if that is more.
    """
    aside_px = SIDEWAYS_SLACK_PX + 3.0 * region.length_sigma_px
    feigned = feigned_px(region)
    if not region.length_px > max(aside_px, feigned):
        return 90.0
    short = math.degrees(math.asin(aside_px / region.length_px))
    soft = math.degrees(math.asin((feigned / region.length_px) ** 2)) / 2.0
    return max(ANGLE_SLACK_DEG + 3.0 * region.angle_sigma_deg, short, soft)


def judge(region: RegionTrails) -> Verdict:
    """One word for a region: as predicted, longer, shorter, turned, or why none."""
    if not region.measured:
        return "too few stars"
    if math.isnan(region.predicted_length_px):
        return "no prediction"
    feigned = feigned_px(region)
    if region.length_px == 0.0:
        at_most = math.hypot(region.at_most_px, feigned)
        hidden = region.predicted_length_px <= at_most + LENGTH_SLACK_PX
        return "as predicted" if hidden else "shorter"
    room = length_room_px(region)
    least = math.sqrt(max(0.0, region.predicted_length_px**2 - feigned**2)) - room
    if not least <= region.length_px <= math.hypot(region.predicted_length_px, feigned) + room:
        return "longer" if region.length_px > region.predicted_length_px else "shorter"
    return "turned" if abs(region.angle_off_deg) > turn_that_shows_deg(region) else "as predicted"


def say(measured: MeasuredTrails) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict on a frame's trails, and its sentences."""
    whole = measured.whole
    verdict = judge(whole)
    sentences = [_first(verdict, whole, measured)]
    if verdict in ("longer", "turned"):
        sentences.append(
            _why_longer(whole, measured) if verdict == "longer" else _why_turned(whole)
        )
    if verdict == "shorter":
        sentences.append(
            "Is the shutter in EXIF right, was the mount tracking, or is the picture sharpened?"
        )
    if verdict not in ("too few stars", "no prediction"):
        sentences += _short_of_an_angle(verdict, whole)
        odd = _odd_corners(measured, verdict)
        sentences += [odd] if odd else []
    if whole.width_px > WIDE_STAR_PX:
        sentences.append(
            f"The stars are {num(whole.width_px, 1)} px wide across their trails: focus, dew, "
            "haze or a soft lens? Trails shorter than that are hard to tell from it."
        )
    return verdict, (*sentences, *_of_the_lens(measured), *_of_streaks(measured))


def _of_the_lens(measured: MeasuredTrails) -> list[str]:
    """What the lens adds towards the corners, taken off the lengths."""
    size = abs(measured.radial_px)
    if not size > 0.0:
        return []
    way, name = (
        ("away from the middle", "coma, or focus in front of or behind them")
        if measured.radial_px > 0.0
        else ("around the middle", "astigmatism, or a barrel that cuts unsharp stars")
    )
    corner = f"by {num(size, 1)} px at the corner"
    return [f"The lens draws stars out {way}, {corner} ({name}); taken off the lengths above."]


def _of_streaks(measured: MeasuredTrails) -> list[str]:
    """Aeroplanes and satellites, the first three by their places."""
    streaks = measured.streaks
    if not streaks:
        return []
    shown = "; ".join(_streak_words(one) for one in streaks[:3])
    more = f"; and {len(streaks) - 3} more" if len(streaks) > 3 else ""
    return [f"Across the frame: {shown}{more}. Stars beneath were left out."]


def _streak_words(one: Streak) -> str:
    kind = (
        "a broken streak (an aeroplane's lights, or a satellite behind cloud)"
        if one.broken
        else "a straight streak (a satellite, or an aeroplane)"
    )
    begin, end = (_place_words(*at) for at in ((one.from_x, one.from_y), (one.to_x, one.to_y)))
    way = f"in the {begin}" if begin == end else f"from the {begin} to the {end}"
    return f"{kind} {way}"


def _place_words(x: float, y: float) -> str:
    """The window of the frame that a place lies in; fractions from the left and bottom edge."""
    return WHERE[min(int(3.0 * (1.0 - y)), 2)][min(int(3.0 * x), 2)]


def _first(verdict: Verdict, whole: RegionTrails, measured: MeasuredTrails) -> str:
    if verdict == "too few stars":
        return (
            f"Too few stars to measure: {whole.stars} of {measured.found} stand alone, unclipped "
            "and like a star."
        )
    seen = (
        f"no trail, at most {num(whole.at_most_px, 1)} px"
        if whole.length_px == 0.0
        else f"{num(whole.length_px, 1)} ± {num(whole.length_sigma_px, 1)} px"
    )
    stars = counted(whole.stars, "stars")
    if verdict == "no prediction":
        angle = "" if math.isnan(whole.angle_deg) else f" at {num(whole.angle_deg, 0)}°"
        return f"Trails measured: {seen}{angle} ({stars}); no prediction to go with it."
    word = {
        "as predicted": "as predicted",
        "longer": "longer than predicted",
        "shorter": "shorter than predicted",
        "turned": "as long as predicted, but turned",
    }[verdict]
    return (
        f"Trails {word}: {seen} measured on {stars}, "
        f"{num(whole.predicted_length_px, 1)} px expected at the same places."
    )


def _why_longer(whole: RegionTrails, measured: MeasuredTrails) -> str:
    along = abs(whole.angle_off_deg) <= ANGLE_SLACK_DEG + 3.0 * whole.angle_sigma_deg
    if along and _grows_alike(measured):
        return (
            "They run the stars' own way, by the same factor all over: was the shutter open "
            "longer than EXIF says, or the focal length longer?"
        )
    if _same_smear(measured):
        return (
            f"As if smeared by another {num(whole.extra_px, 1)} px at "
            f"{num(whole.extra_angle_deg, 0)}° from the level, the same all over: shake, wind, or "
            "a tripod that settled?"
        )
    if _centre_well(measured):
        return "The centre is as predicted: the corners are the lens's own, or its focus."
    return "The excess differs over the frame: focus, a lens off its axis, or a camera that turned?"


def _why_turned(whole: RegionTrails) -> str:
    return (
        f"By {num(whole.angle_off_deg, 0, sign=True)}° (anticlockwise is positive): the camera "
        "was not level, pointed elsewhere than planned, or shook."
    )


def _short_of_an_angle(verdict: Verdict, whole: RegionTrails) -> list[str]:
    """What so short a trail leaves open, where it is as predicted."""
    shows = turn_that_shows_deg(whole)
    if verdict != "as predicted" or shows <= ANGLE_SLACK_DEG + 0.5:
        return []
    if shows >= 90.0:
        return ["So short a trail has no angle to tell whether the camera was turned."]
    return [f"Trails so short tell a turned camera only from {num(shows, 0)}° on."]


def _known(measured: MeasuredTrails) -> list[RegionTrails]:
    return [r for r in measured.regions if r.measured and math.isfinite(r.predicted_length_px)]


def _grows_alike(measured: MeasuredTrails) -> bool:
    """Whether every region's trail is the predicted one times much the same factor."""
    ratios = [r.length_px / r.predicted_length_px for r in _known(measured) if r.length_px]
    if len(ratios) < 3:
        return True
    return float(np.ptp(ratios)) <= 2.0 * LENGTH_SLACK * float(np.median(ratios))


def _same_smear(measured: MeasuredTrails) -> bool:
    """Whether what comes on top of the prediction is the same vector in most regions."""
    extra = np.array(
        [r.extra_px**2 * np.exp(2j * math.radians(r.extra_angle_deg)) for r in _known(measured)]
    )
    if len(extra) < 3:
        return False
    middle = complex(np.median(extra.real), np.median(extra.imag))
    return float(np.median(np.abs(extra - middle))) < 0.35 * abs(middle)


def _centre_well(measured: MeasuredTrails) -> bool:
    return judge(measured.region("centre")) == "as predicted"


def _odd_corners(measured: MeasuredTrails, verdict: Verdict) -> str:
    """Name corners that differ when the frame as a whole does not."""
    if verdict != "as predicted":
        return ""
    odd = [
        f"{where} {num(region.length_px, 1)} px for {num(region.predicted_length_px, 1)}"
        for where in CORNERS
        if judge(region := measured.region(where)) in ("longer", "shorter", "turned")
    ]
    return f"Corners differ ({'; '.join(odd)}): the lens's own, or its focus." if odd else ""
