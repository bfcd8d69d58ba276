"""Late by so many minutes: where the tripod goes then, as steps from the planned stand."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from backbearing.plan.session import LateStand
from backbearing.plan.steps import step_between, step_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.frame_starts import Starts
    from backbearing.plan.stand import Stand


def late_stand(planned: Stand, late: Starts, i: int, minutes: float) -> LateStand:
    """Describe the stand for one later start against the planned one."""
    places, time = late.settled.places, late.times[i]
    lat, lon = float(places.lat[i]), float(places.lon[i])
    left, back = step_between(
        lat1=planned.lat, lon1=planned.lon, bearing_deg=planned.bearing_deg, lat2=lat, lon2=lon
    )
    limits = tuple(name for name, holds in late.causes.items() if holds[i])
    sentence = step_words(left, back)
    if limits:
        sentence = f"too late: {spoilers(limits)}"
    return LateStand(
        late_minutes=minutes,
        frames_start=time.astimezone(dt.UTC),
        lat=lat,
        lon=lon,
        distance_m=float(places.distance_m[i]),
        bearing_deg=float(places.bearing_deg[i]),
        pitch_deg=float(late.settled.pitch_deg[i]),
        left_m=left,
        back_m=back,
        limits=limits,
        sentence=sentence[0].upper() + sentence[1:] + ".",
    )


_WORDS = {
    "no stand": "no stand gives the framing",
    "frame": "the target leaves its place in the frame",
    "play": "the frames take longer than the play",
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "horizon": "the horizon, the target being below it",
    "unknown ground": "unknown ground towards the target",
    "subject": "the subject itself, before the target",
    "barred": "the stand is barred",
    "hours": "the asked hours",
    "break": "a break",
    "asked minute": "its asked minute",
}


def spoilers(limits: Sequence[str]) -> str:
    """List what spoils a start, in words."""
    words = [_WORDS.get(name, name) for name in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
