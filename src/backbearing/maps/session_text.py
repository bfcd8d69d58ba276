"""The session in the page's words: late stands, light, walks, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import (
    climb_words,
    minutes,
    over,
)
from backbearing.plan.steps import step_words

if TYPE_CHECKING:
    from markupsafe import Markup

    from backbearing.base.units import Units
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.one_line import OneLine
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import LateStand, Session, Shot, Walk


def session_text(
    plan: Plan, clock: WallClock, texts: Texts, units: Units = METRIC
) -> dict[str, Any] | None:
    """Everything that the page says of the session; None where the plan has none."""
    session = plan.session
    if session is None:
        return None
    late = sorted({stand.late_minutes for shot in session.shots for stand in shot.late})
    return {
        "sentence": texts.element(session.sentence),
        "turned": bool(session.shots),
        "leave": clock.hm(session.leave_by) if session.leave_by else "",
        "pauses": [f"{clock.hm(p.start)}–{clock.hm(p.end)}" for p in session.pauses],
        "late_heads": [f"{num(minutes_late)} min late" for minutes_late in late],
        "late": [(_name(shot), _late(shot, late, texts, units)) for shot in session.shots],
        "left_out": [
            (
                left.lens.label,
                texts.element(left.why),
                [texts.element(r) for r in left.remedies],
            )
            for left in session.left_out
        ],
        "price": texts.element(session.price.sentence) if session.price else "",
        "line": _line(session.one_line, clock, texts, units) if session.one_line else None,
        "light": _light(session, texts, units),
        "walks": _walks(session, clock, texts, units),
        "cautions": [texts.element(c) for c in _cautions(session)],
        "notes": [texts.element(n) for n in _notes(session)],
    }


def _name(shot: Shot) -> str:
    return f"{shot.number}. {shot.lens.label}"


def _line(line: OneLine, clock: WallClock, texts: Texts, units: Units) -> dict[str, Any]:
    """The kit from one line, as a sentence and a row for each lens."""
    return {
        "sentence": texts.element(line.sentence),
        "rows": [
            (
                one.lens.label,
                f"{clock.hm(one.frames_start)}–{clock.hm(one.frames_end)}",
                units.length(one.distance_m),
                f"{num(one.off_deg, 1)}°",
                f"{units.length(abs(one.aside_m))} {'left' if one.aside_m >= 0.0 else 'right'}",
                over(one.least_clearance_deg),
            )
            for one in line.lenses
        ],
    }


def _late(shot: Shot, minutes_late: list[float], texts: Texts, units: Units) -> list[str | Markup]:
    """Where the tripod goes then: a step, or why there is none."""
    late = {stand.late_minutes: stand for stand in shot.late}
    return [
        _late_stand(late[m], texts, units) if m in late else "not worked out" for m in minutes_late
    ]


def _late_stand(late: LateStand, texts: Texts, units: Units) -> str | Markup:
    if late.limits:
        return texts.element(late.sentence)
    words = step_words(late.left_m, late.back_m, units).removesuffix(", facing the subject")
    return words.removeprefix("step ").replace(" and ", ", ")


def _light(session: Session, texts: Texts, units: Units) -> list[Markup]:
    lighting = session.lighting
    if lighting is None:
        return []
    said = [lighting.blind.sentence]
    said += [side.sentence for side in lighting.side_lights]
    said.append(lighting.later_sentence)
    said += lighting.notes
    return [texts.element(line) for line in said if line]


def _walks(session: Session, clock: WallClock, texts: Texts, units: Units) -> list[dict[str, Any]]:
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
                "words": _way(walk, units),
            }
        )
    return found


def _way(walk: Walk, units: Units) -> str:
    heights = climb_words(walk.climb_m, walk.descent_m, units)
    tracks = f", {units.length(walk.on_track_m)} of it on tracks" if walk.on_track_m >= 1.0 else ""
    times = f"{minutes(walk.minutes)} by day, {minutes(walk.night_minutes)} by night"
    return f"{units.length(walk.distance_m)}{tracks}, {heights}; {times}, by {walk.rule}"


def _cautions(session: Session) -> list[str]:
    """Of the session and of its walks; those of the stands are with their turns."""
    walks = [c for w in (session.approach, session.home) if w is not None for c in w.cautions]
    return list(dict.fromkeys((*session.cautions, *walks)))


def _notes(session: Session) -> tuple[str, ...]:
    return tuple(dict.fromkeys(session.notes))
