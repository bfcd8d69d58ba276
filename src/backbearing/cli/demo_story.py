"""The demo's night told by the clock: one line for each thing that happens."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.base.text import night_label
from backbearing.base.wall_clock import hm
from backbearing.cli.plan_answer import by_compass, care, spoilers
from backbearing.plan.turns import at_turn, turn_of_each

if TYPE_CHECKING:
    import datetime as dt

    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Session, Shot
    from backbearing.plan.stand import LensPlan

TOLD = {"sunset": "The Sun sets.", "dark": "Dark.", "moonrise": "The Moon rises.",
        "moonset": "The Moon sets.", "dawn": "Dawn begins."}  # fmt: skip


def print_story(out: Screen, plan: Plan, session: Session, *, units: Units, then: str) -> None:
    """Tell a session's night from sunset to dawn, what spoils it, and what to open next."""
    high = units.length(plan.subject.height_m)
    out.title(f"{plan.subject.name}, night of {night_label(plan.evening)}")
    out.say(
        f"{high} high, and over it {plan.target.name}: where {len(session.shots)} of "
        f"{len(plan.lenses)} lenses go, and when. Directions by compass, times in {plan.zone}."
    )
    out.blank()
    for time, said in sorted(told(plan, session, units), key=lambda row: row[0]):
        out.say(f"{hm(time, plan.zone)}  {said}", hang=7)
    out.blank()
    if wrong := spoilers(plan):
        out.title("What spoils it")
        out.some(wrong, 2)
    out.say(care(plan))
    out.say(f"Next: {then}", hang=2)


def told(plan: Plan, session: Session, units: Units) -> list[tuple[dt.datetime, str]]:
    """Rows of time and sentence: of sky, ridge, walks and turns, in no order."""
    rows = [*_sky(plan)]
    way = session.approach
    if session.leave_by is not None and way is not None:
        far, minutes = units.length(way.distance_m), num(way.night_minutes, 0)
        said = f"Leave {way.start} by now: {far}, about {minutes} min in the dark."
        rows.append((session.leave_by, said))
    rows += [
        (pause.start, f"Break, {num((pause.end - pause.start).total_seconds() / 60.0, 0)} min.")
        for pause in session.pauses
    ]
    turns = zip(plan.lenses, turn_of_each(plan), strict=True)
    rows += [
        (shot.setup_start, _turn(at_turn(lens, shot), shot, plan.zone, units))
        for lens, shot in turns
        if shot is not None
    ]
    if session.shots:
        rows.append((session.shots[-1].frames_end, "Done; pack and walk back."))
    return rows


def _sky(plan: Plan) -> list[tuple[dt.datetime, str]]:
    """The night's events from sunset to dawn, and when the target comes over the ridge."""
    times = {event.name: event.time for event in plan.events}
    first, last = times.get("sunset"), times.get("dawn")
    rows = [
        (event.time, TOLD[event.name])
        for event in plan.events
        if event.name in TOLD
        and (first is None or event.time >= first)
        and (last is None or event.time <= last)
    ]
    dark = times.get("dark")
    return rows + [
        (window.start, f"{plan.target.name} comes clear of the ridge.")
        for window in plan.dark
        if dark is not None and (window.start - dark).total_seconds() > 60.0
    ]


def _turn(lens: LensPlan, shot: Shot, zone: str, units: Units) -> str:
    stand = lens.stand
    assert stand is not None  # noqa: S101  # a turn has a stand
    outward = by_compass((stand.bearing_magnetic_deg + 180.0) % 360.0,
                         (stand.bearing_deg + 180.0) % 360.0)  # fmt: skip
    return (
        f"{shot.number}. {lens.lens.label}: set up {units.length(stand.distance_m)} out on "
        f"{outward}; frames {hm(shot.frames_start, zone)}–{hm(shot.frames_end, zone)}."
    )
