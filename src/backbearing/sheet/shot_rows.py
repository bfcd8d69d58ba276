"""The order of the night: one row for each lens's turn, and how to place its tripod."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.base.numbers import num
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import bearing_words, magnetic_words, minutes, seconds
from backbearing.plan.cloud import short_cloud_words
from backbearing.plan.steps import step_words
from backbearing.plan.turns import at_turn, turn_of_each
from backbearing.sheet.table_cells import Cell, SheetTable, ShotRow, tame

if TYPE_CHECKING:
    from backbearing.base.units import Units
    from backbearing.drawing.wall_clock import WallClock
    from backbearing.plan.placing import Placing
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Shot
    from backbearing.plan.stand import LensPlan, Moved, Stand


MOST_WITH_SKY: Final = 4
"""Turns of a plan that still has room for the sky behind each on two pages."""


@dataclass(frozen=True, slots=True)
class LensTurn:
    """A lens and its stand, with the session's shot where there is a session.

    ``lens_index`` says which of the plan's lenses it is, ``units`` in which its lengths are read.
    """

    number: int
    lens_index: int
    lens: LensPlan
    stand: Stand
    placing: Placing | None
    moved: Moved | None
    shot: Shot | None
    units: Units = METRIC

    @property
    def label(self) -> str:
        """The lens, for people."""
        return tame(self.stand.lens.label, 30)


def turns(plan: Plan, units: Units = METRIC) -> tuple[LensTurn, ...]:
    """Every lens with a stand, in order of time: the session's, or each at its own minute."""
    if plan.session is not None:
        lens_of = {id(shot): i for i, shot in enumerate(turn_of_each(plan)) if shot is not None}
        return tuple(
            LensTurn(
                shot.number,
                lens_of[id(shot)],
                at_turn(plan.lenses[lens_of[id(shot)]], shot),
                shot.stand,
                shot.placing,
                shot.moved,
                shot,
                units,
            )
            for shot in plan.session.shots
        )
    found = [(i, lens, lens.stand) for i, lens in enumerate(plan.lenses) if lens.stand is not None]
    found.sort(key=lambda one: one[2].time)
    return tuple(
        LensTurn(number, i, lens, stand, lens.placing, lens.moved, None, units)
        for number, (i, lens, stand) in enumerate(found, start=1)
    )


def without_turn(plan: Plan) -> tuple[str, ...]:
    """Why the other lenses are not in the order, and what would save them."""
    said = []
    if plan.session is not None:
        for left in plan.session.left_out:
            help_words = " ".join(left.remedies)
            said.append(tame(f"{left.lens.label} left out: {left.why} {help_words}"))
        return tuple(said)
    return tuple(
        tame(
            " ".join(
                [
                    f"{lens.lens.label}, no stand: {lens.sentence}",
                    *(c.sentence for c in lens.compromises),
                ]
            )
        )
        for lens in plan.lenses
        if lens.stand is None
    )


def shot_row(plan: Plan, turn: LensTurn, clock: WallClock) -> ShotRow:
    """Set one turn into the cells of the order of the night."""
    return ShotRow(
        number=turn.number,
        label=turn.label,
        cells=(
            Cell(f"{turn.number}  {turn.label}", _lens_lines(turn)),
            _when(turn, clock),
            _bearing(turn.stand),
            _distance(turn),
            _tilt(turn.stand),
            _exposure(turn),
            _focus(turn),
        ),
        note=_note(plan, turn, clock),
    )


def _lens_lines(turn: LensTurn) -> tuple[str, ...]:
    return (tame(turn.stand.lens.name, 24),) if turn.stand.lens.name else ()


def _when(turn: LensTurn, clock: WallClock) -> Cell:
    shot = turn.shot
    if shot is None:
        return Cell(clock.hm(turn.stand.time), ("give or take the play",))
    frames = f"{clock.hm(shot.frames_start)}–{clock.hm(shot.frames_end)}"
    return Cell(frames, (f"set up {clock.hm(shot.setup_start)}",))


def _bearing(stand: Stand) -> Cell:
    return Cell(bearing_words(stand.bearing_deg), (magnetic_words(stand.bearing_magnetic_deg),))


def _distance(turn: LensTurn) -> Cell:
    placing = turn.placing
    if placing is None or not math.isfinite(placing.paces):
        return Cell(turn.units.length(turn.stand.distance_m), ("_____ paces",))
    return Cell(turn.units.length(turn.stand.distance_m), (f"{num(placing.paces, 1)} paces",))


def _tilt(stand: Stand) -> Cell:
    if not math.isfinite(stand.pitch_deg):
        return Cell("unknown")
    return Cell(f"{num(abs(stand.pitch_deg), 1)}°", ("up" if stand.pitch_deg >= 0.0 else "down",))


def _exposure(turn: LensTurn) -> Cell:
    light = turn.lens.light
    aperture = f"f/{num(turn.stand.lens.f_number)}"
    if light is None:
        return Cell(seconds(turn.lens.shutter_s), (aperture,))
    return Cell(
        f"{light.stack_frames} × {seconds(turn.lens.shutter_s)}",
        (f"{aperture}, ISO {num(light.asked.iso)}",),
    )


def _focus(turn: LensTurn) -> Cell:
    focus = turn.lens.focus
    if focus is None or not math.isfinite(focus.second_focus_m):
        return Cell("a star", ("one frame",) if focus is not None else ())
    return Cell("a star", (f"and {turn.units.length(focus.second_focus_m)}",))


def _note(plan: Plan, turn: LensTurn, clock: WallClock) -> str:
    """What to do before the frames, and what stands against the ridge."""
    said = []
    shot = turn.shot
    if shot is not None:
        if math.isfinite(shot.left_m):
            step = step_words(shot.left_m, shot.back_m, turn.units).removesuffix(
                ", facing the subject"
            )
            wait = f"Wait {num(shot.wait_minutes, 0)} min; " if shot.wait_minutes >= 0.5 else ""
            at = clock.hm(shot.walk_start)
            words = f"{wait}at {at} from stand {shot.number - 1} {step}."
            said.append(words[0].upper() + words[1:])
        said.append(f"Focus {clock.hm(shot.focus_start)}.")
        said.append(f"Good up to {minutes(shot.spare_minutes)} late.")
    else:
        said.append(f"No limit found {clock.spans(turn.lens.usable)}.")
    if turn.lens.hidden:
        said.append(f"Behind the subject itself {clock.spans(turn.lens.hidden)}.")
    said.append(_clear(plan, turn))
    said.extend(_air_and_sky(plan, turn.lens))
    if cloud := short_cloud_words(turn.stand.cloud):
        said.append(cloud)
    panorama = None if turn.lens.shutter is None else turn.lens.shutter.panorama
    if panorama is not None and panorama.is_asked:
        said.append(panorama.short)
    tracker = turn.lens.tracker
    if tracker is not None and math.isfinite(tracker.tracked_shutter_s):
        said.append(
            f"Track up to {num(tracker.tracked_shutter_s)} s, then the land with the mount off."
        )
    if turn.moved is not None:
        said.append(turn.moved.sentence)
    return tame(" ".join(said))


def _air_and_sky(plan: Plan, lens: LensPlan) -> list[str]:
    """``Air dims it 0.4 mag.``; ``Air -0.4, sky 20.5 mag.`` where that is more than was asked."""
    air, sky = lens.air, lens.behind
    dims = air is not None and air.dimmer_mag >= 0.05
    told = sky is not None and sky.behind_from != "asked" and len(plan.lenses) <= MOST_WITH_SKY
    if sky is not None and told and math.isfinite(sky.behind_mag_arcsec2):
        dimmer = f"Air {num(-air.dimmer_mag, 1, sign=True)}, sky" if air and dims else "Sky"
        return [f"{dimmer} {num(sky.behind_mag_arcsec2, 1)} mag."]
    return [f"Air dims it {num(air.dimmer_mag, 1)} mag."] if air and dims else []


def _clear(plan: Plan, turn: LensTurn) -> str:
    """How far the target clears the ridge: of a turn the least while its frames run."""
    stand = turn.stand
    over = stand.clearance_deg if turn.shot is None else turn.shot.least_clearance_deg
    if not math.isfinite(over):
        return "The ridge here is unknown."
    side = "over" if over >= 0.0 else "behind"
    doubt = num(stand.clearance_sigma_deg, 1)
    by = f"{num(abs(over), 1)}° ± {doubt}° {side} the ridge"
    verdict = "" if stand.verdict == "clears" else f": {stand.verdict}"
    return f"{plan.target_word} {by}{verdict}."


def placing_table(plan: Plan, shots: tuple[LensTurn, ...]) -> SheetTable:
    """Numbers with which each tripod is put down from the subject outward."""
    word = plan.target_word
    return SheetTable(
        ("Lens", "Walk out on", "Tape", f"{word} over top", "Play", "Within", "Step in 5 min"),
        tuple(_placing_row(turn) for turn in shots),
    )


def _placing_row(turn: LensTurn) -> tuple[str, ...]:
    stand, placing, units = turn.stand, turn.placing, turn.units
    if placing is not None:
        out = f"{bearing_words(placing.outward_deg)} true"
        if math.isfinite(placing.outward_magnetic_deg):
            out += f", {num(round(placing.outward_magnetic_deg) % 360, 0)}° mag."
        within, tape = _within(placing, units), units.length(placing.tape_m)
    else:
        out = f"{bearing_words(stand.bearing_deg + 180.0)} true"
        within = f"{units.length(stand.position_sigma_m)} by GPS"
        tape = units.length(stand.distance_m)
    return (
        f"{turn.number}  {turn.label}",
        out,
        tape,
        _top(stand),
        _play(stand, units),
        within,
        _five_minutes(stand, units),
    )


def _within(placing: Placing, units: Units) -> str:
    """Along and across; across alone where along is not known."""
    across = units.small(placing.across_m)
    if math.isfinite(placing.along_m):
        return f"{units.small(placing.along_m).split(' ')[0]} × {across}"
    return f"{across} across"


def _top(stand: Stand) -> str:
    if not math.isfinite(stand.above_top_deg):
        return "unknown"
    return f"{num(abs(stand.above_top_deg), 1)}°{'' if stand.above_top_deg >= 0.0 else ' below'}"


def _play(stand: Stand, units: Units) -> str:
    if not math.isfinite(stand.play_m):
        return "unknown"
    return f"{units.small(stand.play_m, 2)}, {minutes(stand.play_minutes)}"


def _five_minutes(stand: Stand, units: Units) -> str:
    if not math.isfinite(stand.swing_m_per_minute):
        return "unknown"
    side = "left" if stand.swing_m_per_minute >= 0.0 else "right"
    return f"{units.small(5.0 * abs(stand.swing_m_per_minute), 2)} {side}"


def placing_steps(plan: Plan, shots: tuple[LensTurn, ...]) -> tuple[str, ...]:
    """How to use those numbers."""
    target = tame(plan.target.name, 40)
    known = [turn.placing for turn in shots if turn.placing is not None]
    models = [p.magnetic_model for p in known if p.magnetic_model]
    paces = [p.pace_m for p in known if math.isfinite(p.pace_m)]
    units = shots[0].units if shots else METRIC
    counted = units.sentence(f" of {num(paces[0])} m") if paces else ""
    out = "Walk out on the bearing, lay the tape along the ground or count paces"
    said = [
        "Begin at the middle of the subject's base.",
        f"{out}{counted}, turn round and check the bearing back.",
    ]
    said.append(
        f"At the time {target} stands right behind the subject, so far over its top: too far "
        "right, step left; too far left, step right, facing the subject."
    )
    if known:
        ways = ", ".join(dict.fromkeys(p.way for p in known))
        alone = max(p.by_gps.across_m for p in known)
        said.append(
            f"Within: one standard deviation along and across, by {ways}; a receiver alone "
            f"{units.small(alone, 0)}."
        )
    if models:
        said.append(
            f"Magnetic: {models[0]}; the model alone errs by "
            f"{num(known[0].magnetic_sigma_deg, 1)}°."
        )
    return (" ".join(said),)
