"""A session in sentences: what it is, what to heed, what was assumed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from backbearing.base.numbers import num
from backbearing.land.walks import OFF_TRACK, RULE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.session.tasks import Task
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.outing.session_request import PictureRequest, SessionRequest
    from backbearing.plan.session import LeftOut, Shot, Walk


def session_sentence(shots: Sequence[Shot], left: Sequence[LeftOut], sky: NightSky) -> str:
    """Say in one or two sentences what the session holds."""
    missing = ", ".join(one.lens.label for one in left)
    if not shots:
        return f"No lens has a turn this night: {missing}."
    order = ", ".join(f"{s.lens.label} at {sky.clock(s.frames_start)}" for s in shots)
    count, every = len(shots), len(shots) + len(left)
    have = "has" if count == 1 else "have"
    who = "The one lens has its turn" if every == 1 else f"{count} of {every} lenses {have} a turn"
    said = f"{who}: {order}; done at {sky.clock(shots[-1].frames_end)}."
    return f"{said} Left out: {missing}." if left else said


def session_cautions(
    shots: Sequence[Shot], there: Walk | None, back: Walk | None
) -> tuple[str, ...]:
    """Gather what lies on the ways, each said once; each walk carries its own too."""
    said: list[str] = []
    for walk in (there, *(shot.walk for shot in shots), back):
        if walk is not None:
            said.extend(walk.cautions)
    said += [
        f"{shot.lens.label} is late: the walk to its stand ends {num(-shot.wait_minutes, 0)} min "
        "after its set-up should begin. Give it more minutes, or see its late stands."
        for shot in shots
        if shot.wait_minutes <= -0.5
    ]
    said += [
        f"{shot.lens.label}: only {shot.figures.frames_that_fit} of the {light.stack_frames} "
        f"frames of {num(shot.figures.shutter_s)} s fit into its "
        f"{num(shot.minutes.frames_minutes)} min."
        for shot in shots
        if (light := shot.figures.light) and shot.figures.frames_that_fit < light.stack_frames
    ]
    if shots:
        said.append(
            "Off the tracks ways are lines on the map, led round what your file marks as closed, "
            "water or hazard and round nothing else. Look at the ground by daylight; nothing here "
            "says that a way is safe or open."
        )
    return tuple(dict.fromkeys(said))


def minutes_notes(given: Sequence[Task], planned: Sequence[Task]) -> tuple[str, ...]:
    """Say which minutes the plan had to make longer than they were given."""
    said = []
    for before, after in zip(given, planned, strict=True):
        for what, key in (("walk to its stand", "walk_minutes"), ("frames", "frames_minutes")):
            old, new = getattr(before.minutes, key), getattr(after.minutes, key)
            if new != old:
                said.append(
                    f"{after.lens.label}: {num(new)} min were planned for the {what} instead of "
                    f"{num(old)}, which are too few."
                )
    return tuple(said)


def _wishes_words(wishes: PictureRequest) -> str:
    """Say what pictures count, for the note on how order and minutes are chosen."""
    each = (
        (wishes.above_top_costs_m_per_deg, "off the target's wanted height over the top"),
        (wishes.ridge_costs_m_per_deg, "short of a clearance beyond doubt"),
        (wishes.skyline_break_costs_m_per_deg, "that the top stands too low over the land behind"),
        (
            wishes.alike_costs_m_per_deg,
            "by which a turn's height over the top is unlike the last's",
        ),
    )
    said = [f"{num(weight)} m for a degree {what}" for weight, what in each if weight > 0.0]
    skies = (
        (wishes.air_costs_m_per_mag, "a magnitude that the air takes more than overhead"),
        (
            wishes.bright_sky_costs_m_per_mag,
            "a magnitude that the sky behind is brighter than a natural zenith",
        ),
        (wishes.cloud_costs_m, "a line of sight all in cloud by the forecast"),
    )
    said += [f"{num(weight)} m for {what}" for weight, what in skies if weight > 0.0]
    turns = (
        (wishes.stand_before_shows_costs_m, "whose frame shows the stand before it"),
        (wishes.light_moves_costs_m, "to which a hidden light must be moved"),
    )
    said += [f"{num(weight)} m for a turn {what}" for weight, what in turns if weight > 0.0]
    return f", and for the pictures {', '.join(said)}" if said else ""


def session_notes(asked: SessionRequest, there: Walk | None) -> tuple[str, ...]:
    """Say what the clock times of walks and turns rest on."""
    notes = [
        (
            f"Walking times follow {RULE}, off tracks at {num(OFF_TRACK)} of that speed, times "
            f"{num(asked.night_factor)} for the dark (no source). They leave out rests and loads."
        ),
        (
            "Order and minutes are the best on a grid of whole minutes: most lenses, then least "
            "walking in straight lines, with a minute of waiting counted as "
            f"{num(asked.wait_costs_m)} m and a minute short of {num(asked.room_minutes)} to be "
            f"late in as twice that{_wishes_words(asked.picture)}."
        ),
    ]
    notes.append(
        "A lens that can have the target clear of the subject's outline by the play has no turn "
        "nearer to it; none has a turn in which the subject hides the target, unless that is asked."
    )
    if there is None:
        notes.append("No parking is named in the places file, so the way there is not measured.")
    return tuple(notes)
