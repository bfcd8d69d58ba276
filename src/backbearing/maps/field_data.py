"""What the page needs in the field, as plain data: the night's clock, its turns, the way back.

The stands themselves for any minute and any correction come from what the page's solver
carries; here is only what was planned, and when.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import math
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.numbers import rounded
from backbearing.base.text import night_label
from backbearing.maps.turn_text import way_out
from backbearing.plan.turns import order_of, turn_of_each

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.drawing.texts import Texts
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot

CIVIL_SHARE: Final = 1.0 / 3.0
"""So far from sunset to the Sun 18 degrees down it is dusk: about 6 degrees."""

HALF_DAY: Final = dt.timedelta(hours=12)


def field_data(plan: Plan, clock: WallClock, texts: Texts, units: Units) -> dict[str, Any]:
    """Everything that the page's field scripts read besides the carried plan.

    Parameters
    ----------
    plan : Plan
        With one stand a lens, as :func:`backbearing.plan.turns.as_planned` gives it.
    clock : WallClock
    texts : Texts
        Takes what comes from files.
    units : Units
        In which lengths are read; everything here stays metric.
    """
    first, last = night_ends(plan, clock)
    turns = turn_of_each(plan)
    return {
        "key": plan_key(plan),
        "outing": texts.add(plan.name),
        "zone": plan.zone,
        "offsets": _offsets(clock, first - 4 * HALF_DAY, last + 4 * HALF_DAY),
        "evening": plan.evening.isoformat(),
        "night": night_label(plan.evening),
        "start_s": rounded(first.timestamp(), 0),
        "end_s": rounded(last.timestamp(), 0),
        "word": plan.target_word.lower(),
        "fixed": plan.target.body_name is None,
        "units": units.name,
        "subject": {
            "lat": rounded(plan.subject.lat, 8),
            "lon": rounded(plan.subject.lon, 8),
            "height_m": rounded(plan.subject.height_m, 3),
            "width_m": rounded(plan.subject.shown_width_m, 3),
        },
        "eye_height_m": rounded(plan.framing.eye_height_m, 3),
        "light": plan.session is not None and plan.session.lighting is not None,
        "late_minutes": _late_minutes(plan),
        "turns": [_turn(plan, i, turns[i]) for i in order_of(plan) if plan.lenses[i].stand],
        "car": _car(plan, texts),
    }


def plan_key(plan: Plan) -> str:
    """Name under which a device keeps what was corrected and ticked of this very plan."""
    told = (plan.name, plan.evening.isoformat(), plan.subject.lat, plan.subject.lon, plan.zone)
    return hashlib.sha256(repr(told).encode("utf-8", "backslashreplace")).hexdigest()[:16]


def night_ends(plan: Plan, clock: WallClock) -> tuple[dt.datetime, dt.datetime]:
    """From when to when the plan knows its night: the target's path, or noon to noon."""
    if len(plan.sky_path) > 1:
        return plan.sky_path[0].time, plan.sky_path[-1].time
    noon = dt.datetime.combine(plan.evening, dt.time(12), tzinfo=clock.zone)
    return noon, noon + 2 * HALF_DAY


def dusk_and_dawn_s(plan: Plan) -> tuple[float, float] | None:
    """From when to when the page is red of itself, seconds since 1970; None for never.

    From about the end of civil twilight to its beginning. Where the Sun does not rise or set
    it is the plan's dark window, if there is one.
    """
    events = {event.name: event.time.timestamp() for event in plan.events}
    if {"sunset", "dark", "dawn", "sunrise"} <= events.keys():
        dusk = events["sunset"] + CIVIL_SHARE * (events["dark"] - events["sunset"])
        dawn = events["sunrise"] - CIVIL_SHARE * (events["sunrise"] - events["dawn"])
        return rounded(dusk, 0), rounded(dawn, 0)
    if plan.dark:
        return rounded(plan.dark[0].start.timestamp(), 0), rounded(plan.dark[-1].end.timestamp(), 0)
    return None


def _offsets(clock: WallClock, first: dt.datetime, last: dt.datetime) -> list[list[Any]]:
    """From when on the plan's zone is how far ahead of UTC, and what it is called then."""
    found: list[list[Any]] = []
    time = first.astimezone(dt.UTC).replace(minute=0, second=0, microsecond=0)
    while time <= last:
        ahead = clock.local(time).utcoffset() or dt.timedelta()
        seconds = round(ahead.total_seconds())
        if not found or found[-1][1] != seconds:
            found.append([round(time.timestamp()), seconds, clock.letters(time)])
        time += dt.timedelta(minutes=30)
    return found


def _turn(plan: Plan, i: int, shot: Shot | None) -> dict[str, Any]:
    lens = plan.lenses[i]
    stand = lens.stand
    assert stand is not None  # noqa: S101  # asked only of lenses that have one
    _, needle = way_out(stand, lens.placing)
    return {
        "index": i,
        "number": shot.number if shot else None,
        "label": lens.lens.label,
        "steps_s": _steps(stand.time, shot),
        "pace_m": _number(lens.placing.pace_m if lens.placing else math.nan, 3),
        "frames": lens.light.stack_frames if lens.light else None,
        "f_number": rounded(lens.lens.f_number, 2),
        "iso": _number(lens.light.asked.iso if lens.light else math.nan, 0),
        "stand": {
            "lat": rounded(stand.lat, 8),
            "lon": rounded(stand.lon, 8),
            "distance_m": rounded(stand.distance_m, 3),
            "bearing_deg": rounded(stand.bearing_deg, 3),
            "outward_compass_deg": _number(needle, 2),
            "sigma_m": _number(stand.position_sigma_m, 2),
        },
    }


def _late_minutes(plan: Plan) -> list[float]:
    """The columns of the late table, as the page's own words have them."""
    shots = plan.session.shots if plan.session is not None else ()
    return sorted({rounded(late.late_minutes, 2) for shot in shots for late in shot.late})


def _steps(at: dt.datetime, shot: Shot | None) -> dict[str, float]:
    """When a turn's parts begin and end, seconds since 1970; of a lens by itself its minute."""
    if shot is None:
        times = dict.fromkeys(("walk", "setup", "focus", "frames", "end"), at)
    else:
        times = {
            "walk": shot.walk_start,
            "setup": shot.setup_start,
            "focus": shot.focus_start,
            "frames": shot.frames_start,
            "end": shot.frames_end,
        }
    return {name: rounded(time.timestamp(), 0) for name, time in times.items()} | {
        "for": rounded(at.timestamp(), 0)
    }


def _car(plan: Plan, texts: Texts) -> dict[str, Any] | None:
    """Where the way back ends: the session's, else the one parking of the user's own file."""
    home = plan.session.home if plan.session is not None else None
    if home is not None:
        lon, lat = home.line.coords[-1][:2]
        return {
            "lat": rounded(lat, 7),
            "lon": rounded(lon, 7),
            "name": texts.add(home.end),
            "walk_m": _number(home.distance_m, 0),
            "walk_minutes": _number(home.night_minutes, 0),
            "from": texts.add(home.start),
        }
    parked = [place for place in plan.places if place.kind == "parking"]
    if len(parked) != 1:
        return None
    at = parked[0].geometry.representative_point()
    name = texts.add(parked[0].name or "the parking")
    return {"lat": rounded(at.y, 7), "lon": rounded(at.x, 7), "name": name,
            "walk_m": None, "walk_minutes": None, "from": None}  # fmt: skip


def _number(value: float, places: int) -> float | None:
    return rounded(value, places) if math.isfinite(value) else None
