"""The plan's answer on one screen: what is in the hand first, what spoils it, what comes next."""

from __future__ import annotations

from math import isfinite
from typing import TYPE_CHECKING

from backbearing.base.cautions import IN_NO_RASTER
from backbearing.base.numbers import num, rounded
from backbearing.base.text import degrees, night_label
from backbearing.base.units import METRIC
from backbearing.base.wall_clock import hm
from backbearing.cli.screen import SCREEN_COLUMNS, SCREEN_LINES
from backbearing.plan.marks import marks_line
from backbearing.plan.turns import at_turn, turn_of_each

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.cli.screen import Screen
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan

CARE = (
    "Care: no promise of safety, access or a clear view; {unseen}. Visit by daylight, ask the "
    "owner. The rest: --all."
)


def care(plan: Plan) -> str:
    """Two lines that end every short answer."""
    return CARE.format(unseen=IN_NO_RASTER[plan.ground.cover_known])


ROWS = (
    "walk out, by compass",
    "distance",
    "{first}",
    "{then}",
    "shutter",
    "aim, by compass",
    "tilt",
    "over the ridge",
)


def print_answer(
    out: Screen, plan: Plan, *, then: str, units: Units = METRIC, lines: int = SCREEN_LINES
) -> None:
    """Say where each lens goes and when, what spoils it, and the command to type next.

    Parameters
    ----------
    out : Screen
    plan : Plan
    then : str
        The command that follows.
    units : Units
        How lengths are said.
    lines : int
        So many in all, at 80 columns; what spoils a plan is cut to fit them.
    """
    start = len(out.lines)
    out.title(f"{plan.subject.name}, night of {night_label(plan.evening)}")
    out.say(_when(plan))
    if plan.land.marks is not None:
        out.say(marks_line(plan.land.marks))
    if plan.lamp is not None:
        out.say(plan.lamp.line)
    out.blank()
    turns = in_order(plan)
    if any(lens.stand is not None for lens, _ in turns):
        names = [
            "turn" if plan.session is not None else "lens",
            *(f"{turn.number}. {lens.lens.label}" if turn else lens.lens.label
              for lens, turn in turns if lens.stand is not None),
        ]  # fmt: skip
        columns = [_column(plan, *one, units) for one in turns if one[0].stand is not None]
        when = ("stand at", "works") if plan.session is None else ("set up at", "frames")
        rows = [row.format(first=when[0], then=when[1]) for row in ROWS]
        out.facts(names, list(zip(rows, *columns, strict=True)))
        out.blank()
    # Left free: the heading, two lines of care, the next command. Below 80 columns what
    # spoils a plan goes before the count of lines.
    free = lines - (len(out.lines) - start) - 4
    if said := spoilers(plan):
        out.title("What spoils it")
        out.some(said, max(free, 3 if out.width >= SCREEN_COLUMNS else lines))
    out.say(care(plan))
    out.say(f"Next: {then}", hang=2)


def in_order(plan: Plan) -> list[tuple[LensPlan, Shot | None]]:
    """Give the lenses at their turns, in the order of the turns; without any, as they are asked.

    With a session a lens that has no turn has no place in the plan.
    """
    pairs = list(zip(plan.lenses, turn_of_each(plan), strict=True))
    if plan.session is None:
        return pairs
    turned = {turn.number: (at_turn(lens, turn), turn) for lens, turn in pairs if turn is not None}
    return [turned[number] for number in sorted(turned)]


def spoilers(plan: Plan) -> list[str]:
    """Say what spoils the plan, the worst first; of several lenses what they share once."""
    said = []
    session = plan.session
    if session is None:
        said += [f"{one.lens.label}: {one.sentence}" for one in plan.lenses if one.stand is None]
    else:
        said += [f"{one.lens.label} is left out. {one.why}" for one in session.left_out]
        said += [] if session.shots else [session.sentence]
    shared: dict[str, list[str]] = {}
    placed = in_order(plan)
    for lens, _ in placed:
        for sentence in _of_lens(lens):
            shared.setdefault(sentence, []).append(lens.lens.label)
    for sentence, labels in shared.items():
        of = "" if len(labels) == len(placed) and len(placed) > 1 else f"{', '.join(labels)}: "
        said.append(of + sentence)
    if session is not None:
        said += session.cautions
        if not plan.emergency_number:
            said.append("No emergency number: write it under [safety] emergency_number.")
    if not plan.dark and plan.dark_reason:
        said.insert(0, plan.dark_reason)
    return list(dict.fromkeys(said))


def _of_lens(lens: LensPlan) -> list[str]:
    stand = lens.stand
    if stand is None:
        return []
    said = [] if stand.verdict == "clears" else [f"Over the ridge: {stand.verdict}."]
    said += [] if isfinite(lens.shutter_s) else ["No shutter is short enough for your trail."]
    return said + list(stand.cautions)


def _when(plan: Plan) -> str:
    spans = " and ".join(f"{hm(w.start, plan.zone)} to {hm(w.end, plan.zone)}" for w in plan.dark)
    said = f"Times in {plan.zone}."
    if spans:
        said += f" Dark with the target clear: {spans}."
    session = plan.session
    if session is not None and session.shots:
        if session.leave_by is not None:
            said += f" Leave the parking by {hm(session.leave_by, plan.zone)};"
        else:
            said += f" Begin at {hm(session.shots[0].walk_start, plan.zone)};"
        said += f" done at {hm(session.shots[-1].frames_end, plan.zone)}."
    return said


def _column(plan: Plan, lens: LensPlan, shot: Shot | None, units: Units) -> tuple[str, ...]:
    stand = lens.stand
    assert stand is not None  # noqa: S101  # asked only of lenses that have one
    zone = plan.zone
    outward = (stand.bearing_deg + 180.0) % 360.0
    outward_magnetic = (stand.bearing_magnetic_deg + 180.0) % 360.0
    over = stand.clearance_deg if shot is None else shot.least_clearance_deg
    return (
        by_compass(outward_magnetic, outward),
        units.length(stand.distance_m),
        hm(stand.time if shot is None else shot.setup_start, zone),
        _works(lens, zone)
        if shot is None
        else f"{hm(shot.frames_start, zone)}–{hm(shot.frames_end, zone)}",
        f"{num(lens.shutter_s)} s" if isfinite(lens.shutter_s) else "none",
        by_compass(stand.bearing_magnetic_deg, stand.bearing_deg),
        f"{num(stand.pitch_deg, 1, sign=True)}°",
        f"{degrees(over)} ± {degrees(stand.clearance_sigma_deg)}",
    )


def _works(lens: LensPlan, zone: str) -> str:
    """The stretch about the stand's minute in which nothing spoils the lens."""
    assert lens.stand is not None  # noqa: S101  # asked only of lenses that have one
    time = lens.stand.time
    about = [
        f"{hm(s.start, zone)}–{hm(s.end, zone)}" for s in lens.usable if s.start <= time <= s.end
    ]
    return about[0] if about else "not then"


def by_compass(magnetic_deg: float, true_deg: float) -> str:
    """A bearing as the compass shows it; where that is unknown the true one, and that it is."""
    if not isfinite(magnetic_deg):
        return f"{num(rounded(true_deg, 1) % 360.0, 1)}° true"
    return f"{num(round(magnetic_deg) % 360, 0)}°"
