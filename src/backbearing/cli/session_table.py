"""The session as text on the terminal: order, walks, late table, light, cautions."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.base.wall_clock import hm
from backbearing.drawing.number_words import climb_words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.one_line import OneLine
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Session, Shot, Walk


def print_session(out: Screen, plan: Plan, units: Units = METRIC) -> None:
    """Print the plan's session; nothing when it has none."""
    session = plan.session
    if session is None:
        return

    zone = ZoneInfo(plan.zone)
    out.blank()
    out.title("The session")
    out.say(session.sentence)
    if session.shots:
        _turns(out, session, zone, units)
        _print_choices(out, session)
        _print_ways(out, session, zone, units)
        _print_placing(out, session)
        _late_table(out, session, zone)
    for left in session.left_out:
        out.title(f"{left.lens.label} is left out. {left.why}")
        for remedy in left.remedies:
            out.say(f"{remedy}", indent=2)
    if session.one_line is not None:
        _line_table(out, session.one_line, zone, units)
        out.say(session.one_line.sentence)
    _print_light(out, session)
    for caution in session.cautions:
        out.say(f"! {caution}", indent=2)
    for note in session.notes:
        out.say(f"{note}", indent=2)
    number = plan.emergency_number or "not filled in; write it under [safety] emergency_number"
    out.say(f"Emergency number: {number}.")


def _turns(out: Screen, session: Session, zone: dt.tzinfo, units: Units) -> None:

    names = ["turn", *(f"{shot.number}. {shot.lens.label}" for shot in session.shots)]
    rows: tuple[tuple[str, Callable[[Shot], str]], ...] = (
        ("set up", lambda s: _clock(s.setup_start, zone)),
        ("focus", lambda s: _clock(s.focus_start, zone)),
        ("frames from", lambda s: _clock(s.frames_start, zone)),
        ("frames to", lambda s: _clock(s.frames_end, zone)),
        ("wait before", lambda s: f"{num(s.wait_minutes, 0)} min"),
        ("bearing", lambda s: f"{num(s.stand.bearing_deg, 1)}°"),
        ("distance", lambda s: units.length(s.stand.distance_m)),
        ("step back", lambda s: _step(s.back_m, units, "back", "forward")),
        ("step aside", lambda s: _step(s.left_m, units, "left", "right")),
        ("sky turns by", lambda s: f"{num(s.drift_deg, 1)}°"),
        ("shutter", lambda s: _shutter(s.figures.shutter_s)),
        ("frames that fit", lambda s: str(s.figures.frames_that_fit)),
        ("play", lambda s: units.small(s.stand.play_m, 2)),
        ("play in time", lambda s: f"{num(s.stand.play_minutes, 1)} min"),
        ("time to spare", lambda s: f"{num(s.spare_minutes, 1)} min"),
        ("room to be late", lambda s: f"{num(s.room_minutes, 0)} min"),
        ("over the ridge", lambda s: f"{num(s.least_clearance_deg, 1)}°"),
        ("over the top", lambda s: f"{num(s.stand.above_top_deg, 1)}°"),
        ("top over land", lambda s: f"{num(s.stand.skyline_break_deg, 1)}°"),
        ("within, along", lambda s: units.small(s.placing.along_m)),
        ("within, across", lambda s: units.small(s.placing.across_m)),
    )
    out.facts(names, [(name, *(write(shot) for shot in session.shots)) for name, write in rows])


def _print_choices(out: Screen, session: Session) -> None:
    """Print what heeding the picture costs, and what other starts would give."""
    if session.price is not None:
        out.say(session.price.sentence)
    for shot in session.shots:
        for other in shot.other_starts:
            out.say(f"{shot.lens.label}: {other.sentence}", indent=2)


def _line_table(out: Screen, line: OneLine, zone: dt.tzinfo, units: Units) -> None:
    out.title("All from one line")
    out.listing(
        ("lens", "frames at", "distance", "off its place", "aside", "over the ridge"),
        [
            (
                one.lens.label,
                _clock(one.frames_start, zone),
                units.length(one.distance_m),
                f"{num(one.off_deg, 1)}°",
                units.small(one.aside_m, sign=True),
                f"{num(one.least_clearance_deg, 1)}°",
            )
            for one in line.lenses
        ],
    )


def _clock(time: dt.datetime, zone: dt.tzinfo) -> str:
    return hm(time, zone)


def _shutter(seconds: float) -> str:
    return f"{num(seconds)} s" if isfinite(seconds) else "none short enough"


def _step(metres: float, units: Units, ahead: str, behind: str) -> str:
    """A step and the side it goes to: ``24.6 m forward``; nothing for the first turn."""
    if not isfinite(metres):
        return ""
    return f"{units.small(abs(metres))} {behind if metres < 0.0 else ahead}"


def _print_ways(out: Screen, session: Session, zone: dt.tzinfo, units: Units) -> None:

    if session.leave_by is not None:
        out.say(f"Leave the parking by {_clock(session.leave_by, zone)}.")
    for walk in session.walks_in_order:
        out.say(_walk_line(walk, units))
    for shot in session.shots:
        if shot.moved is not None:
            out.say(f"{shot.lens.label}: {shot.moved.sentence}")
        for caution in shot.stand.cautions:
            out.say(f"{shot.lens.label} ! {caution}", indent=2)


def _walk_line(walk: Walk, units: Units) -> str:
    climb = climb_words(walk.climb_m, walk.descent_m, units)
    there, back = walk.night_minutes, walk.night_minutes_back
    time = (
        "under a minute each way"
        if max(there, back) < 1.0
        else f"about {num(there, 0)} min there and {num(back, 0)} back in the dark"
    )
    return f"{walk.start} to {walk.end}: {units.length(walk.distance_m)}, {climb}, {time}."


def _print_placing(out: Screen, session: Session) -> None:

    for shot in session.shots:
        out.title(f"{shot.lens.label}, from the subject outward")
        for step in shot.placing.instructions:
            out.say(f"{step}", indent=2)


def _late_table(out: Screen, session: Session, zone: dt.tzinfo) -> None:
    out.title("Late, or a cloud")
    out.listing(
        ("lens", "late by", "frames at", "from the planned stand"),
        [
            (
                shot.lens.label,
                f"{num(late.late_minutes)} min",
                _clock(late.frames_start, zone),
                late.sentence,
            )
            for shot in session.shots
            for late in shot.late
        ],
        words={"from the planned stand"},
    )


def _print_light(out: Screen, session: Session) -> None:

    light = session.lighting
    if light is None:
        return
    said = [light.blind.sentence]
    said += [side.sentence for side in light.side_lights]
    said += [light.later_sentence] if light.later_sentence else []
    out.title("Light")
    for sentence in (*said, *light.notes):
        out.say(f"{sentence}", indent=2)
