"""Late by so many minutes: where the tripod goes then, as steps from the planned stand."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from backbearing.alignment.session_plan import LateStand
from backbearing.geodesy import line_between

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.lens_starts import Starts
    from backbearing.alignment.plan import Stand

LEAST_STEP_M = 0.05
"""Steps shorter than this are not worth a word."""


def step_between(
    *, lat1: float, lon1: float, bearing_deg: float, lat2: float, lon2: float
) -> tuple[float, float]:
    """Step from one place to another, as one faces ``bearing_deg`` at the first.

    Returns
    -------
    left_m, back_m : float
        Metres; negative is right, and forward. NaN where a place is.
    """
    if not all(map(math.isfinite, (lat1, lon1, lat2, lon2))):
        return math.nan, math.nan
    line = line_between(lat1=lat1, lon1=lon1, lat2=lat2, lon2=lon2)
    turn = math.radians(float(line.azimuth_deg) - bearing_deg)
    distance = float(line.distance_m)
    return -distance * math.sin(turn), -distance * math.cos(turn)


def step_words(left_m: float, back_m: float) -> str:
    """Put a step into words: ``"step 1.3 m left and 0.2 m back, facing the subject"``."""
    parts = []
    for metres, (positive, negative) in (
        (left_m, ("left", "right")),
        (back_m, ("back", "forward")),
    ):
        if abs(metres) >= LEAST_STEP_M:
            parts.append(f"{abs(metres):.1f} m {positive if metres > 0.0 else negative}")
    if not (math.isfinite(left_m) and math.isfinite(back_m)):
        return "no stand"
    if not parts:
        return "stay where you are"
    return f"step {' and '.join(parts)}, facing the subject"


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
