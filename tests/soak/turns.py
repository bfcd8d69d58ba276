"""A session's turns, held against the night, the clock and each other."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from typing import TYPE_CHECKING, Final

from backbearing.sky.zones import at_clock, named_zone
from soak.behind import frames_behind
from soak.claims import SKY_DEG, Looked, stand_contradictions
from soak.raw_ground import WGS84

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.plan.session import Shot

SECOND: Final = dt.timedelta(seconds=1)
BESIDE: Final = dt.timedelta(minutes=2)
"""A turn's middle lies in its lens's stretches to within a step of their sampling."""


def turn_contradictions(looked: Looked) -> Iterator[str]:
    """Everything in a session that does not fit."""
    session = looked.plan.session
    if session is None:
        return
    asked = sorted(one.lens.label for one in looked.outing.lenses)
    given = sorted(one.lens.label for one in (*session.shots, *session.left_out))
    if asked != given:
        yield f"lenses {given}, asked {asked}"
    for shot in session.shots:
        for wrong in (*_times(shot), *_night(looked, shot), *_hours(looked, shot)):
            yield f"turn {shot.number}: {wrong}"
    for one, after in itertools.pairwise(session.shots):
        for wrong in _between(one, after):
            yield f"turn {after.number}: {wrong}"
    walked = sum(shot.walk.distance_m for shot in session.shots if shot.walk is not None)
    if math.isfinite(walked) and abs(walked - session.walked_m) > 0.01:
        yield f"walks add up to {walked:.2f} m, said {session.walked_m:.2f}"


def _times(shot: Shot) -> Iterator[str]:
    minutes = shot.minutes
    steps = {
        "set up": (shot.setup_start, shot.focus_start, minutes.setup_minutes),
        "focus": (shot.focus_start, shot.frames_start, minutes.focus_minutes),
        "frames": (shot.frames_start, shot.frames_end, minutes.frames_minutes),
    }
    for name, (start, end, given) in steps.items():
        if abs((end - start).total_seconds() / 60.0 - given) > 1e-3:
            yield f"{name} from {start} to {end}, given {given} minutes"
    walk = 0.0 if shot.walk is None else shot.walk.night_minutes
    if math.isfinite(walk):
        given = (shot.setup_start - shot.walk_start).total_seconds() / 60.0
        if given < max(walk, minutes.walk_minutes) - 1e-3:
            yield f"{given:.2f} minutes for a walk of {walk:.2f}"
    middle = shot.frames_start + (shot.frames_end - shot.frames_start) / 2
    if abs(shot.stand.time - middle) > SECOND:
        yield f"its stand is for {shot.stand.time}, its frames' middle {middle}"


def _night(looked: Looked, shot: Shot) -> Iterator[str]:
    outing = looked.outing
    mine = [one for one in looked.plan.lenses if one.lens == shot.lens]
    share = mine[0].asked_share
    yield from stand_contradictions(looked, shot.stand, share, claimed=True)
    if not any(
        span.start - BESIDE <= shot.stand.time <= span.end + BESIDE
        for one in mine
        for span in one.usable
    ):
        yield "outside its lens's stretches"
    minute, length = dt.timedelta(minutes=1), shot.frames_end - shot.frames_start
    times = [shot.frames_start + i * minute for i in range(int(length / minute) + 1)]
    yield from looked.too_light([*times, shot.frames_end])
    yield from frames_behind(looked, shot)
    _, altitude = looked.target(times, shot.stand)
    if altitude.min() < -SKY_DEG:
        yield f"the target goes down to {altitude.min():.2f}"
    if shot.least_clearance_deg < outing.night.clear_by_deg - SKY_DEG:
        yield f"clears by {shot.least_clearance_deg:.2f}"
    if shot.drift_deg > outing.framing.play_deg + 1e-6:
        yield f"drifts {shot.drift_deg:.3f}"
    seconds = shot.figures.shutter_s + outing.exposure.pause_s
    if math.isfinite(seconds):
        fit = shot.figures.frames_that_fit
        if fit * seconds > shot.minutes.frames_minutes * 60.0 + 1e-3:
            yield f"{fit} frames of {seconds:.2f} s do not fit"
        if (fit + 1) * seconds <= shot.minutes.frames_minutes * 60.0 - 1e-3:
            yield f"one more than {fit} frames of {seconds:.2f} s fits"
        open_ended = {
            request.lens.label
            for request, given in zip(outing.lenses, outing.session.minutes, strict=True)
            if given[3] is None
        } if outing.session else set()  # fmt: skip
        if shot.lens.label in open_ended and fit < outing.exposure.frames:
            yield f"{fit} frames of the {outing.exposure.frames} asked"


def _hours(looked: Looked, shot: Shot) -> Iterator[str]:
    asked, session = looked.outing.session, looked.plan.session
    assert asked is not None
    assert session is not None
    zone, evening = named_zone(looked.plan.zone), looked.plan.evening
    if asked.not_before and shot.setup_start < at_clock(evening, asked.not_before, zone) - SECOND:
        yield f"set up before {asked.not_before}"
    if asked.not_after and shot.frames_end > at_clock(evening, asked.not_after, zone) + SECOND:
        yield f"ends after {asked.not_after}"
    for pause in session.pauses:
        if shot.setup_start < pause.end - SECOND and shot.frames_end > pause.start + SECOND:
            yield "runs into a break"


def _between(one: Shot, after: Shot) -> Iterator[str]:
    if after.walk_start < one.frames_end - SECOND:
        yield f"begins at {after.walk_start}, before the frames end at {one.frames_end}"
    _, _, away = WGS84.inv(one.stand.lon, one.stand.lat, after.stand.lon, after.stand.lat)
    if abs(math.hypot(after.left_m, after.back_m) - away) > 0.01 + 1e-4 * away:
        yield f"the step is {math.hypot(after.left_m, after.back_m):.2f} m, the way {away:.2f}"
    if after.walk is not None and after.walk.distance_m < away - 0.01 - 1e-3 * away:
        yield f"walks {after.walk.distance_m:.2f} m over {away:.2f}"
