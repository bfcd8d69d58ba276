"""Each lens at its turn in the page's words: the answer, its card, and its rows of figures.

Of a plan without a session a lens stands at its own minute, and the same words say so.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import counted, num, per_cent
from backbearing.base.text import degrees
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import bearing_words, direction_words, minutes, over, seconds
from backbearing.maps.lens_rows import lens_rows, stand_rows
from backbearing.plan.steps import step_words
from backbearing.plan.turns import order_of, turn_of_each

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.base.units import Units
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.placing import Placing
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan, Stand
    from backbearing.plan.turn_picture import TurnSky

    Row = tuple[str, str | Markup]


def turn_texts(
    plan: Plan, clock: WallClock, texts: Texts, units: Units = METRIC
) -> list[dict[str, Any]]:
    """Say everything of each lens, in the order of the turns.

    Parameters
    ----------
    plan : Plan
        With one stand a lens, as :func:`backbearing.plan.turns.as_planned` gives it.
    clock : WallClock
    texts : Texts
        Takes what comes from files.
    units : Units
        How lengths are said.
    """
    turns = turn_of_each(plan)
    return [
        _lens(plan, i, turns[i], texts, units) | _at_stand(plan, i, turns[i], clock, texts, units)
        for i in order_of(plan)
    ]


def way_out(stand: Stand, placing: Placing | None) -> tuple[float, float]:
    """Bearing from the subject out to a stand, true and by the compass (NaN where unknown)."""
    if placing is not None:
        return placing.outward_deg, placing.outward_magnetic_deg
    return (stand.bearing_deg + 180.0) % 360.0, (stand.bearing_magnetic_deg + 180.0) % 360.0


def needle_words(magnetic_deg: float) -> str:
    """A bearing as a compass in the hand shows it: ``335°``; empty where it is unknown."""
    if not math.isfinite(magnetic_deg):
        return ""
    return f"{num(round(magnetic_deg) % 360, 0)}°"


def _lens(plan: Plan, i: int, shot: Shot | None, texts: Texts, units: Units) -> dict[str, Any]:
    """What is said of a lens with or without a stand."""
    lens = plan.lenses[i]
    label = lens.lens.label
    return {
        "index": i,
        "number": shot.number if shot else None,
        "label": label,
        "head": f"{shot.number}. {label}" if shot else label,
        "aperture": f"f/{num(lens.lens.f_number)}",
        "name": texts.element(lens.lens.name) if lens.lens.name else "",
        "sentence": texts.element(lens.sentence),
        "stands": lens.stand is not None,
        "picture": None,
    }


def _at_stand(
    plan: Plan, i: int, shot: Shot | None, clock: WallClock, texts: Texts, units: Units
) -> dict[str, Any]:
    """What is said of a lens that has a stand."""
    lens = plan.lenses[i]
    stand = lens.stand
    if stand is None:
        rows = lens_rows(lens, clock, plan.target_word, units)
        return {"rows": rows, "cautions": [], "others": []}
    said = shot.stand.cautions if shot else stand.cautions
    walk = shot.walk.cautions if shot and shot.walk else ()
    return {
        **_when(stand, shot, clock),
        **_where(stand, lens.placing, units),
        "settings": _settings(lens),
        "tilt": _tilt(stand),
        "hand": _hand(plan, lens, shot, clock, units),
        "rows": [
            *stand_rows(stand, clock, plan.target_word, units),
            *(_turn_rows(shot, units) if shot else []),
            *lens_rows(lens, clock, plan.target_word, units),
        ],
        "instructions": [
            texts.element(step) for step in (lens.placing.instructions if lens.placing else ())
        ],
        "moved": texts.element(lens.moved.sentence) if lens.moved else "",
        "others": [texts.element(one.sentence) for one in (shot.other_starts if shot else ())],
        "cautions": [texts.element(c) for c in dict.fromkeys((*said, *walk))],
    }


def _when(stand: Stand, shot: Shot | None, clock: WallClock) -> dict[str, Any]:
    """Clock times, and for the page's script the seconds since 1970 of a turn's ends."""
    if shot is None:
        at = clock.hm(stand.time)
        return {"set_up_word": "at", "set_up": at, "when": at, "until": stand.time.timestamp()}
    return {
        "set_up_word": "set up",
        "set_up": clock.hm(shot.setup_start),
        "when": f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}",
        "until": shot.frames_end.timestamp(),
    }


def _where(stand: Stand, placing: Placing | None, units: Units) -> dict[str, str]:
    true, magnetic = way_out(stand, placing)
    paced = placing is not None and math.isfinite(placing.paces)
    return {
        "compass": needle_words(magnetic),
        "true": bearing_words(true),
        "distance": units.length(stand.distance_m),
        "paces": f"{num(placing.paces, 1)} paces" if placing is not None and paced else "",
    }


def _settings(lens: LensPlan) -> str:
    """What the camera is set to: ``8 × 6 s, f/2, ISO 3200``."""
    shutter, light = seconds(lens.shutter_s), lens.light
    if light is None:
        return f"{shutter}, f/{num(lens.lens.f_number)}"
    return (
        f"{light.stack_frames} × {shutter}, f/{num(lens.lens.f_number)}, ISO {num(light.asked.iso)}"
    )


def _tilt(stand: Stand) -> str:
    if not math.isfinite(stand.pitch_deg):
        return "tilt unknown"
    return f"{num(abs(stand.pitch_deg), 1)}° {'up' if stand.pitch_deg >= 0.0 else 'down'}"


def _hand(
    plan: Plan, lens: LensPlan, shot: Shot | None, clock: WallClock, units: Units
) -> list[Row]:
    """What is used in the dark, in the order in which it is used."""
    stand, placing = lens.stand, lens.placing
    assert stand is not None  # noqa: S101  # asked only of lenses that have one
    word = plan.target_word
    top = "below" if stand.above_top_deg < 0.0 else "over"
    rows: list[Row] = [
        *(_time_rows(shot, clock, units) if shot else []),
        ("Walk out", _both(*way_out(stand, placing))),
        ("Distance", _far(stand, placing, units)),
        ("Facing back", _both(stand.bearing_deg, stand.bearing_magnetic_deg)),
        ("Exposure", _exposure(lens, shot)),
        ("Focus on", _focus(lens, units)),
        ("Tilt", f"{_tilt(stand)} at the frame's middle"),
    ]
    if math.isfinite(stand.above_top_deg):
        rows.append((word, f"{num(abs(stand.above_top_deg), 1)}° {top} the subject's top"))
    clearance = stand.clearance_deg if shot is None else shot.least_clearance_deg
    doubt = f" ± {degrees(stand.clearance_sigma_deg)}" if math.isfinite(clearance) else ""
    rows.append((f"{word} and skyline", f"{over(clearance)}{doubt}"))
    rows.append(("Play", _play(stand, units)))
    return rows


def _both(true_deg: float, magnetic_deg: float) -> str:
    needle = needle_words(magnetic_deg)
    by = f"{needle} by compass" if needle else "by compass unknown"
    return f"{by}; {direction_words(true_deg)} true"


def _far(stand: Stand, placing: Placing | None, units: Units) -> str:
    far = f"{units.length(stand.distance_m)} from the middle of the subject"
    if placing is not None and math.isfinite(placing.paces):
        far += f", {num(placing.paces, 1)} paces of {units.small(placing.pace_m, 2)}"
    return far


def _play(stand: Stand, units: Units) -> str:
    return f"{units.small(stand.play_m, 2)} sideways, or {minutes(stand.play_minutes)}"


def _exposure(lens: LensPlan, shot: Shot | None) -> str:
    light, fit = lens.light, shot.figures.frames_that_fit if shot else 0
    said = f"{seconds(lens.shutter_s)} at f/{num(lens.lens.f_number)}"
    if light is None:
        return said
    said += f", ISO {num(light.asked.iso)}, {counted(light.stack_frames, 'frames')}"
    return f"{said}; {fit} fit into the turn" if shot else said


def _focus(lens: LensPlan, units: Units) -> str:
    focus = lens.focus
    if focus is None:
        return "a star"
    second = focus.second_focus_m
    return "a star, one frame" if math.isnan(second) else f"a star, then {units.length(second)}"


def _time_rows(shot: Shot, clock: WallClock, units: Units) -> list[Row]:
    rows: list[Row] = []
    if shot.wait_minutes >= 0.5:
        rows.append(("Wait before", minutes(shot.wait_minutes)))
    if math.isfinite(shot.left_m):
        step = step_words(shot.left_m, shot.back_m, units)
        rows.append(("From the last stand", f"{clock.hm(shot.walk_start)}, {step}"))
    return [
        *rows,
        ("Set up, focus", f"{clock.hm(shot.setup_start)}, {clock.hm(shot.focus_start)}"),
        ("Frames", f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}"),
        ("From the same stand", f"up to {minutes(shot.spare_minutes)} earlier or later"),
    ]


def _turn_rows(shot: Shot, units: Units) -> list[Row]:
    """What placing and picture add to the stand's own figures."""
    placing, picture = shot.placing, shot.picture
    within = f"{units.length(placing.along_m)} along, {units.length(placing.across_m)} across"
    rows: list[Row] = [("Placed within", f"{within}, by {placing.way}")]
    if picture is not None:
        wanted = f"{num(picture.above_top_wanted_deg, 1)}° wanted"
        rows.append(("Over the subject's top", f"{num(picture.above_top_deg, 1)}°; {wanted}"))
    if shot.sky is not None:
        rows.append(("Its sky counts", sky_words(shot.sky)))
    return rows


def sky_words(sky: TurnSky) -> str:
    """Say what of a turn's sky counted: ``air 0.4 mag (8 m), cloud 30 % (12 m)``."""
    said = []
    if math.isfinite(sky.air_mag):
        said.append(f"air {num(sky.air_mag, 1)} mag ({num(sky.air_cost_m, 0)} m)")
    if math.isfinite(sky.bright_sky_mag):
        bright = f"{num(sky.bright_sky_mag, 1)} mag over a natural zenith"
        said.append(f"{bright} ({num(sky.bright_sky_cost_m, 0)} m)")
    if math.isfinite(sky.cloud_share):
        said.append(f"cloud {per_cent(sky.cloud_share)} ({num(sky.cloud_cost_m, 0)} m)")
    return ", ".join(said) or "unknown, so nothing"


def by_itself(plan: Plan, clock: WallClock, units: Units = METRIC) -> list[tuple[str, str]]:
    """Say each lens's own best minute, which a session's turns leave aside; a remark."""
    if plan.session is None:
        return []
    return [(lens.lens.label, _own_minute(lens, clock, units)) for lens in plan.lenses]


def _own_minute(lens: LensPlan, clock: WallClock, units: Units) -> str:
    stand = lens.stand
    if stand is None:
        return "no stand"
    at = f"at {clock.hm(stand.time)} from {units.length(stand.distance_m)}"
    bearing = bearing_words(stand.bearing_deg)
    return f"{at}, subject at {bearing} true, {seconds(lens.shutter_s)}"
