"""The session as text on the terminal: order, walks, late table, light, cautions."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.base.numbers import num
from backbearing.base.text import length, terminal_safe
from backbearing.base.wall_clock import hm
from backbearing.drawing.number_words import climb_words

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable

    from rich.console import Console
    from rich.table import Table

    from backbearing.plan.one_line import OneLine
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Session, Shot, Walk


def print_session(out: Console, plan: Plan) -> None:
    """Print the plan's session; nothing when it has none."""
    session = plan.session
    if session is None:
        return
    from rich.text import Text

    zone = ZoneInfo(plan.zone)
    out.print()
    out.print(Text("The session", style="bold"))
    out.print(Text(terminal_safe(session.sentence)))
    if session.shots:
        out.print(_turns(session, zone))
        _print_choices(out, session)
        _print_ways(out, session, zone)
        _print_placing(out, session)
        out.print(_late_table(session, zone))
    for left in session.left_out:
        out.print(Text(terminal_safe(f"{left.lens.label} is left out. {left.why}"), style="bold"))
        for remedy in left.remedies:
            out.print(Text(terminal_safe(f"  {remedy}")))
    if session.one_line is not None:
        out.print(_line_table(session.one_line, zone))
        out.print(Text(terminal_safe(session.one_line.sentence)))
    _print_light(out, session)
    for caution in session.cautions:
        out.print(Text(terminal_safe(f"  ! {caution}")))
    for note in session.notes:
        out.print(Text(terminal_safe(f"  {note}")))
    number = plan.emergency_number or "not filled in; write it under [safety] emergency_number"
    out.print(Text(terminal_safe(f"Emergency number: {number}.")))


def _turns(session: Session, zone: dt.tzinfo) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    table.add_column("turn", no_wrap=True, min_width=14)
    for shot in session.shots:
        label = terminal_safe(f"{shot.number}. {shot.lens.label}")
        table.add_column(label, justify="right", no_wrap=True)
    rows: tuple[tuple[str, Callable[[Shot], str]], ...] = (
        ("set up", lambda s: _clock(s.setup_start, zone)),
        ("focus", lambda s: _clock(s.focus_start, zone)),
        ("frames from", lambda s: _clock(s.frames_start, zone)),
        ("frames to", lambda s: _clock(s.frames_end, zone)),
        ("wait before", lambda s: f"{num(s.wait_minutes, 0)} min"),
        ("bearing", lambda s: f"{num(s.stand.bearing_deg, 1)}°"),
        ("distance", lambda s: length(s.stand.distance_m)),
        ("step back", lambda s: _metres(s.back_m)),
        ("step left", lambda s: _metres(s.left_m)),
        ("sky turns by", lambda s: f"{num(s.drift_deg, 1)}°"),
        ("shutter", lambda s: _shutter(s.figures.shutter_s)),
        ("frames that fit", lambda s: str(s.figures.frames_that_fit)),
        ("play", lambda s: f"{num(s.stand.play_m, 2)} m"),
        ("play in time", lambda s: f"{num(s.stand.play_minutes, 1)} min"),
        ("time to spare", lambda s: f"{num(s.spare_minutes, 1)} min"),
        ("room to be late", lambda s: f"{num(s.room_minutes, 0)} min"),
        ("over the ridge", lambda s: f"{num(s.least_clearance_deg, 1)}°"),
        ("over the top", lambda s: f"{num(s.stand.above_top_deg, 1)}°"),
        ("top over land", lambda s: f"{num(s.stand.skyline_break_deg, 1)}°"),
        ("within, along", lambda s: f"{num(s.placing.along_m, 1)} m"),
        ("within, across", lambda s: f"{num(s.placing.across_m, 1)} m"),
    )
    for name, write in rows:
        table.add_row(name, *(Text(write(shot)) for shot in session.shots))
    return table


def _print_choices(out: Console, session: Session) -> None:
    """Print what heeding the picture costs, and what other starts would give."""
    from rich.text import Text

    if session.price is not None:
        out.print(Text(terminal_safe(session.price.sentence)))
    for shot in session.shots:
        for other in shot.other_starts:
            out.print(Text(terminal_safe(f"  {shot.lens.label}: {other.sentence}")))


def _line_table(line: OneLine, zone: dt.tzinfo) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, title="All from one line")
    for name in ("lens", "frames at", "distance", "off its place", "aside", "over the ridge"):
        table.add_column(name)
    for one in line.lenses:
        table.add_row(
            Text(terminal_safe(one.lens.label)),
            _clock(one.frames_start, zone),
            length(one.distance_m),
            f"{num(one.off_deg, 1)}°",
            f"{num(one.aside_m, 1, sign=True)} m",
            f"{num(one.least_clearance_deg, 1)}°",
        )
    return table


def _clock(time: dt.datetime, zone: dt.tzinfo) -> str:
    return hm(time, zone)


def _shutter(seconds: float) -> str:
    return f"{num(seconds)} s" if isfinite(seconds) else "none short enough"


def _metres(value: float) -> str:
    return f"{num(value, 1, sign=True)} m" if isfinite(value) else ""


def _print_ways(out: Console, session: Session, zone: dt.tzinfo) -> None:
    from rich.text import Text

    if session.leave_by is not None:
        out.print(Text(f"Leave the parking by {_clock(session.leave_by, zone)}."))
    for walk in session.walks_in_order:
        out.print(Text(terminal_safe(_walk_line(walk))))
    for shot in session.shots:
        if shot.moved is not None:
            out.print(Text(terminal_safe(f"{shot.lens.label}: {shot.moved.sentence}")))
        for caution in shot.stand.cautions:
            out.print(Text(terminal_safe(f"  {shot.lens.label} ! {caution}")))


def _walk_line(walk: Walk) -> str:
    climb = climb_words(walk.climb_m, walk.descent_m)
    there, back = walk.night_minutes, walk.night_minutes_back
    time = (
        "under a minute each way"
        if max(there, back) < 1.0
        else f"about {num(there, 0)} min there and {num(back, 0)} back in the dark"
    )
    return f"{walk.start} to {walk.end}: {length(walk.distance_m)}, {climb}, {time}."


def _print_placing(out: Console, session: Session) -> None:
    from rich.text import Text

    for shot in session.shots:
        out.print(Text(terminal_safe(f"{shot.lens.label}, from the subject outward"), style="bold"))
        for step in shot.placing.instructions:
            out.print(Text(terminal_safe(f"  {step}")))


def _late_table(session: Session, zone: dt.tzinfo) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, title="Late, or a cloud")
    for name in ("lens", "late by", "frames at", "from the planned stand"):
        table.add_column(name)
    for shot in session.shots:
        for late in shot.late:
            table.add_row(
                Text(terminal_safe(shot.lens.label)),
                f"{num(late.late_minutes)} min",
                _clock(late.frames_start, zone),
                Text(late.sentence),
            )
    return table


def _print_light(out: Console, session: Session) -> None:
    from rich.text import Text

    light = session.lighting
    if light is None:
        return
    said = [light.blind.sentence]
    said += [side.sentence for side in light.side_lights]
    said += [light.later_sentence] if light.later_sentence else []
    out.print(Text("Light", style="bold"))
    for sentence in (*said, *light.notes):
        out.print(Text(terminal_safe(f"  {sentence}")))
