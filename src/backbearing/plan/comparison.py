"""The kit's lenses beside one another at their stands, as plain data for every writer."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

from backbearing.base.grouped import FieldOf
from backbearing.base.numbers import num, per_cent
from backbearing.base.units import METRIC
from backbearing.plan.stand import StandPlay
from backbearing.plan.turns import at_turns

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

COMPARED: Final = (
    "distance",
    "subject takes",
    "core, frame heights",
    "core against widest",
    "shutter",
    "trail at target",
    "trail mid-frame",
    "trail in worst corner",
    "subject's blur",
    "hyperfocal",
    "light gathered, cm² s",
    "pixel light, stops",
    "step in 5 minutes",
    "play sideways",
    "play in time, min",
)
"""What the rows of a comparison are called, in the order of `words_of`."""

NO_PLAY: Final = StandPlay(math.nan, math.nan, math.nan)

COMPARISON_NOTE: Final = (
    "The core is ten degrees of sky about the target. Light is aperture and shutter alone."
)


def comparison_note(plan: Plan) -> str:
    """What the comparison's numbers mean, and which stand they are for."""
    if plan.session is None or not plan.session.shots:
        return COMPARISON_NOTE
    return f"{COMPARISON_NOTE} Each lens at its turn in the session, where it has one."


@dataclass(frozen=True, slots=True)
class ComparedLens:
    """One lens at its stand; every number is NaN where there is no stand.

    Attributes
    ----------
    lens : str
        Its label.
    distance_m : float
        Stand to subject.
    share : float
        Fraction of the frame's height that the subject takes.
    core_width_frame_heights : float
        How wide ten degrees of sky about the target fall.
    core_growth : float
        The same against the widest lens that has a stand.
    shutter_s, trail_core_px, trail_centre_px, trail_corner_px : float
        Longest accepted shutter, and its trails.
    blur_px : float
        Blur of the subject with the stars in focus.
    hyperfocal_m : float
        Hyperfocal distance for the classic circle.
    gathered_cm2_s : float
        Area of the entrance pupil times the shutter.
    light_stops : float
        Light on one pixel against the first lens that has a stand, stops.
    play : StandPlay
        How the stand moves, and how far off it may be; also ``swing_m_per_minute``, ``play_m``
        and ``play_minutes``.
    """

    lens: str
    distance_m: float = math.nan
    share: float = math.nan
    core_width_frame_heights: float = math.nan
    core_growth: float = math.nan
    shutter_s: float = math.nan
    trail_core_px: float = math.nan
    trail_centre_px: float = math.nan
    trail_corner_px: float = math.nan
    blur_px: float = math.nan
    hyperfocal_m: float = math.nan
    gathered_cm2_s: float = math.nan
    light_stops: float = math.nan
    play: StandPlay = NO_PLAY
    swing_m_per_minute: ClassVar[FieldOf[float]] = FieldOf("play")
    play_m: ClassVar[FieldOf[float]] = FieldOf("play", "sideways_m")
    play_minutes: ClassVar[FieldOf[float]] = FieldOf("play", "minutes")


def compare_lenses(plan: Plan) -> tuple[ComparedLens, ...]:
    """Set the plan's lenses beside one another, in the plan's order, at their turns if any.

    Examples
    --------
    Of the sample outing's ``plan``:

    >>> from backbearing.plan import compare_lenses
    >>> for lens in compare_lenses(plan):
    ...     print(f"{lens.lens}: the core {lens.core_growth:.1f} times as large")
    16 mm: the core 1.0 times as large
    24 mm: the core 1.5 times as large
    40 mm: the core 2.5 times as large
    85 mm: the core 5.2 times as large
    """
    plan = at_turns(plan)
    placed = [lens for lens in plan.lenses if lens.stand is not None]
    widest = min(placed, key=lambda one: one.lens.focal_length_mm, default=None)
    return tuple(_row(lens, widest, placed[0] if placed else None) for lens in plan.lenses)


def rules_of(plan: Plan) -> tuple[tuple[str, ...], tuple[tuple[str, tuple[str, ...]], ...]]:
    """Give what the common rules say: the lenses' labels, then each rule with its cells.

    Seconds, and the trail in pixels that they leave in the middle of the frame.
    """
    plan = at_turns(plan)
    known = [(one.lens.label, one.shutter.rules) for one in plan.lenses if one.shutter is not None]
    if not known:
        return (), ()
    names = [rule.name for rule in known[0][1]]
    return (
        tuple(label for label, _ in known),
        tuple(
            (name, tuple(_rule_words(rules[i].shutter_s, rules[i].trail_px) for _, rules in known))
            for i, name in enumerate(names)
        ),
    )


def _rule_words(shutter_s: float, trail_px: float) -> str:
    return f"{num(shutter_s, 1)} s / {num(trail_px, 1)}" if math.isfinite(shutter_s) else "no limit"


def sentences_of(one: LensPlan) -> tuple[str, ...]:
    """Focus, light, air, sky and panorama of a lens in words; nothing without a stand."""
    said = []
    if one.focus is not None:
        said.append(one.focus.sentence)
    if one.light is not None:
        said.append(one.light.sentence + _of_the_night(one, one.light.gain_minutes))
    if one.air is not None:
        said.append(one.air.sentence)
    if one.behind is not None:
        said.append(one.behind.sentence)
    if one.tracker is not None:
        said.append(one.tracker.tracker_sentence)
    if one.shutter is not None and one.shutter.panorama is not None:
        said.append(one.shutter.panorama.sentence)
    return tuple(said)


def _of_the_night(one: LensPlan, minutes: float) -> str:
    """How much of the night's good minutes the asked gain takes; empty without any."""
    good = sum(span.minutes for span in one.usable)
    if not (good > 0.0 and math.isfinite(minutes)):
        return ""
    if minutes > good:
        return (
            f" The night gives this lens {num(good, 0)} min only: fewer frames, or another night."
        )
    return f" The night gives this lens {num(good, 0)} min that nothing spoils."


def _row(one: LensPlan, widest: LensPlan | None, first: LensPlan | None) -> ComparedLens:
    stand = one.stand
    if stand is None or widest is None or first is None:
        return ComparedLens(one.lens.label)
    light = one.light
    return ComparedLens(
        lens=one.lens.label,
        distance_m=stand.distance_m,
        share=stand.share,
        core_width_frame_heights=one.core_width_frame_heights,
        core_growth=one.core_width_frame_heights / widest.core_width_frame_heights,
        shutter_s=one.shutter_s,
        trail_core_px=one.trail_core_px,
        trail_centre_px=math.nan if one.shutter is None else one.shutter.trail_centre_px,
        trail_corner_px=one.trail_corner_px,
        blur_px=one.infinity_blur_px,
        hyperfocal_m=one.hyperfocal_m,
        gathered_cm2_s=math.nan if light is None else light.gathered_cm2_s,
        light_stops=_stops(one) - _stops(first),
        play=stand.play,
    )


def _stops(one: LensPlan) -> float:
    """Light on a pixel by aperture and shutter alone, stops."""
    if not math.isfinite(one.shutter_s):
        return math.nan
    return math.log2(one.shutter_s / one.lens.f_number**2)


def words_of(row: ComparedLens, units: Units = METRIC) -> tuple[str, ...]:
    """Write one lens's column for people, one entry for each of `COMPARED`."""
    if not math.isfinite(row.distance_m):
        return ("no stand", *[""] * (len(COMPARED) - 1))
    side = "left" if row.swing_m_per_minute > 0 else "right"
    return (
        units.length(row.distance_m),
        per_cent(row.share),
        num(row.core_width_frame_heights, 2),
        _with(row.core_growth, 1, " ×"),
        f"{num(row.shutter_s)} s" if math.isfinite(row.shutter_s) else "none",
        _with(row.trail_core_px, 1, " px"),
        _with(row.trail_centre_px, 1, " px"),
        _with(row.trail_corner_px, 1, " px"),
        _with(row.blur_px, 1, " px"),
        units.length(row.hyperfocal_m),
        num(row.gathered_cm2_s, 0),
        num(row.light_stops, 1, sign=True),
        _known(abs(row.swing_m_per_minute) * 5.0, units, f" {side}"),
        _known(row.play_m, units, before="± "),
        _with(row.play_minutes, 1, before="± "),
    )


def _known(metres: float, units: Units, after: str = "", *, before: str = "") -> str:
    """A short length with what stands about it; words alone where it is none."""
    said = units.small(metres, 2)
    return f"{before}{said}{after}" if math.isfinite(metres) else said


def _with(value: float, places: int, unit: str = "", *, before: str = "") -> str:
    """A number with what stands about it; words alone where it is none."""
    return f"{before}{num(value, places)}{unit}" if math.isfinite(value) else num(value)
