"""A session in sentences: what it is, what to heed, what was assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from backbearing.alignment.walks import OFF_TRACK, RULE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session_plan import LeftOut, Shot, Walk
    from backbearing.alignment.session_request import SessionRequest


def session_sentence(shots: Sequence[Shot], left: Sequence[LeftOut], zone: str) -> str:
    """Say in one or two sentences what the session holds."""
    missing = ", ".join(one.lens.label for one in left)
    if not shots:
        return f"No lens has a turn this night: {missing}."
    local = ZoneInfo(zone)
    order = ", ".join(f"{s.lens.label} at {s.frames_start.astimezone(local):%H:%M}" for s in shots)
    said = (
        f"{len(shots)} of {len(shots) + len(left)} lenses have a turn: {order}; "
        f"done at {shots[-1].frames_end.astimezone(local):%H:%M}."
    )
    return f"{said} Left out: {missing}." if left else said


def session_cautions(
    shots: Sequence[Shot], there: Walk | None, back: Walk | None
) -> tuple[str, ...]:
    """Gather what lies on the ways, each said once; each walk carries its own too."""
    said: list[str] = []
    for walk in (there, *(shot.walk for shot in shots), back):
        if walk is not None:
            said.extend(walk.cautions)
    if any(shot.wait_minutes < 0.0 for shot in shots):
        said.append("A walk takes longer than its minutes: one turn begins before it ends.")
    if shots:
        said.append(
            "Ways between stands are straight lines on the map. Look at the ground by daylight; "
            "nothing here says that a way is safe or open."
        )
    return tuple(dict.fromkeys(said))


def session_notes(asked: SessionRequest, there: Walk | None) -> tuple[str, ...]:
    """Say what the clock times of walks and turns rest on."""
    notes = [
        (
            f"Walking times follow {RULE}, off tracks at {OFF_TRACK:g} of that speed, times "
            f"{asked.night_factor:g} for the dark (no source). They leave out rests and loads."
        ),
        (
            "Order and minutes are the best on a grid of whole minutes: most lenses, then least "
            f"walking, with a minute of waiting counted as {asked.wait_costs_m:g} m and a minute "
            f"short of {asked.room_minutes:g} to be late in as twice that."
        ),
    ]
    notes.append(
        "A lens that can have the target clear of the subject's outline by the play is given no "
        "turn in which the subject hides it."
    )
    if there is None:
        notes.append("No parking is named in the places file, so the way there is not measured.")
    return tuple(notes)
