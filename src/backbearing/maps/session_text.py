"""The session in the page's words: order, placing, late stands, light, walks, cautions."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import counted, num
from backbearing.base.text import length
from backbearing.drawing.number_words import (
    bearing_words,
    climb_words,
    direction_words,
    magnetic_words,
    minutes,
    over,
    seconds,
    tilt,
)
from backbearing.plan.steps import step_words

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.one_line import OneLine
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Session, Shot, Walk

    Row = tuple[str, str | Markup]


def session_text(plan: Plan, clock: WallClock, texts: Texts) -> dict[str, Any] | None:
    """Everything that the page says of the session; None where the plan has none."""
    session = plan.session
    if session is None:
        return None
    late = sorted({stand.late_minutes for shot in session.shots for stand in shot.late})
    return {
        "sentence": texts.element(session.sentence),
        "pauses": [f"{clock.hm(p.start)}–{clock.hm(p.end)}" for p in session.pauses],
        "turns": [_turn(shot, clock, texts) for shot in session.shots],
        "late_heads": [f"{num(minutes_late)} min late" for minutes_late in late],
        "late": [(_name(shot), _late(shot, late, texts)) for shot in session.shots],
        "left_out": [
            (left.lens.label, texts.element(left.why), [texts.element(r) for r in left.remedies])
            for left in session.left_out
        ],
        "price": texts.element(session.price.sentence) if session.price else "",
        "line": _line(session.one_line, clock, texts) if session.one_line else None,
        "light": _light(session, texts),
        "walks": _walks(session, clock, texts),
        "cautions": [texts.element(c) for c in _cautions(session)],
        "notes": [texts.element(n) for n in _notes(session)],
    }


def _name(shot: Shot) -> str:
    return f"{shot.number}. {shot.lens.label}"


def _turn(shot: Shot, clock: WallClock, texts: Texts) -> dict[str, Any]:
    stand = shot.stand
    return {
        "number": shot.number,
        "label": shot.lens.label,
        "set_up": clock.hm(shot.setup_start),
        "frames": f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}",
        "bearing": bearing_words(stand.bearing_deg),
        "distance": length(stand.distance_m),
        "rows": [*_time_rows(shot, clock), *_stand_rows(shot), *_camera_rows(shot)],
        "instructions": [texts.element(step) for step in shot.placing.instructions],
        "moved": texts.element(shot.moved.sentence) if shot.moved else "",
        "others": [texts.element(other.sentence) for other in shot.other_starts],
        "cautions": [texts.element(c) for c in _turn_cautions(shot)],
    }


def _turn_cautions(shot: Shot) -> list[str]:
    walk = shot.walk.cautions if shot.walk else ()
    return list(dict.fromkeys((*shot.stand.cautions, *walk)))


def _time_rows(shot: Shot, clock: WallClock) -> list[Row]:
    rows: list[Row] = []
    if shot.wait_minutes >= 0.5:
        rows.append(("Wait before", minutes(shot.wait_minutes)))
    if math.isfinite(shot.left_m):
        step = step_words(shot.left_m, shot.back_m)
        rows.append(("From the last stand", f"{clock.hm(shot.walk_start)}, {step}"))
    return [
        *rows,
        ("Set up", clock.hm(shot.setup_start)),
        ("Focus", clock.hm(shot.focus_start)),
        ("Frames", f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}"),
        ("From the same stand", f"up to {minutes(shot.spare_minutes)} earlier or later"),
    ]


def _stand_rows(shot: Shot) -> list[Row]:
    stand, placing = shot.stand, shot.placing
    magnetic = magnetic_words(stand.bearing_magnetic_deg)
    far = length(stand.distance_m)
    if math.isfinite(placing.paces):
        far += f", {num(placing.paces, 1)} paces of {num(placing.pace_m)} m"
    within = f"{length(placing.along_m)} along, {length(placing.across_m)} across"
    clear = over(shot.least_clearance_deg)
    return [
        ("Bearing to subject", f"{direction_words(stand.bearing_deg)} true; {magnetic}"),
        ("Distance", far),
        ("Play", f"{length(stand.play_m)} sideways, or {minutes(stand.play_minutes)}"),
        ("Placed within", f"{within}, by {placing.way}"),
        ("Over the skyline", f"{clear} at least, ± {num(stand.clearance_sigma_deg, 1)}°"),
        *_picture_rows(shot),
        ("Tilt", tilt(stand.pitch_deg)),
    ]


def _picture_rows(shot: Shot) -> list[Row]:
    picture, behind = shot.picture, shot.stand.skyline_break_deg
    rows: list[Row] = []
    if picture is not None:
        wanted = f"{num(picture.above_top_wanted_deg, 1)}° wanted"
        rows.append(("Over the subject's top", f"{num(picture.above_top_deg, 1)}°; {wanted}"))
    if math.isfinite(behind):
        rows.append(("Subject's top over the land behind", f"{num(behind, 1)}°"))
    return rows


def _line(line: OneLine, clock: WallClock, texts: Texts) -> dict[str, Any]:
    """The kit from one line, as a sentence and a row for each lens."""
    return {
        "sentence": texts.element(line.sentence),
        "rows": [
            (
                one.lens.label,
                f"{clock.hm(one.frames_start)}–{clock.hm(one.frames_end)}",
                length(one.distance_m),
                f"{num(one.off_deg, 1)}°",
                f"{length(abs(one.aside_m))} {'left' if one.aside_m >= 0.0 else 'right'}",
                over(one.least_clearance_deg),
            )
            for one in line.lenses
        ],
    }


def _camera_rows(shot: Shot) -> list[Row]:
    figures = shot.figures
    rows: list[Row] = [("Shutter", f"{seconds(figures.shutter_s)} at f/{num(shot.lens.f_number)}")]
    if figures.light is not None:
        asked = (
            f"ISO {num(figures.light.asked.iso)}, {counted(figures.light.stack_frames, 'frames')}"
        )
        rows.append(("Exposure", f"{asked}; {figures.frames_that_fit} fit into the turn"))
    if figures.focus is not None:
        second = figures.focus.second_focus_m
        words = "on a star, one frame" if math.isnan(second) else f"a star, then {length(second)}"
        rows.append(("Focus on", words))
    return rows


def _late(shot: Shot, minutes_late: list[float], texts: Texts) -> list[str | Markup]:
    said = {stand.late_minutes: stand.sentence for stand in shot.late}
    return [texts.element(said[m]) if m in said else "not worked out" for m in minutes_late]


def _light(session: Session, texts: Texts) -> list[Markup]:
    lighting = session.lighting
    if lighting is None:
        return []
    said = [lighting.blind.sentence]
    said += [side.sentence for side in lighting.side_lights]
    said.append(lighting.later_sentence)
    said += lighting.notes
    return [texts.element(line) for line in said if line]


def _walks(session: Session, clock: WallClock, texts: Texts) -> list[dict[str, Any]]:
    found = []
    for name, walk in (("There", session.approach), ("Home", session.home)):
        if walk is None:
            continue
        leave = clock.hm(session.leave_by) if session.leave_by and name == "There" else ""
        found.append(
            {
                "name": name,
                "leave": leave,
                "start": texts.element(walk.start),
                "end": texts.element(walk.end),
                "words": _way(walk),
            }
        )
    return found


def _way(walk: Walk) -> str:
    heights = climb_words(walk.climb_m, walk.descent_m)
    tracks = f", {length(walk.on_track_m)} of it on tracks" if walk.on_track_m >= 1.0 else ""
    times = f"{minutes(walk.minutes)} by day, {minutes(walk.night_minutes)} by night"
    return f"{length(walk.distance_m)}{tracks}, {heights}; {times}, by {walk.rule}"


def _cautions(session: Session) -> list[str]:
    """Of the session and of its walks; those of the stands are with their turns."""
    walks = [c for w in (session.approach, session.home) if w is not None for c in w.cautions]
    return list(dict.fromkeys((*session.cautions, *walks)))


def _notes(session: Session) -> tuple[str, ...]:
    return tuple(dict.fromkeys(session.notes))
