"""What the sheet says, as text, once: the PDF and the HTML set the same words.

All text from files has passed :func:`tame` here: no control or direction-override
characters, no line ends, no endless names.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Final

from backbearing.base.grouped import FieldOf
from backbearing.base.numbers import num
from backbearing.base.text import night_label
from backbearing.base.units import METRIC
from backbearing.drawing.number_words import ground_words as ground_credit
from backbearing.drawing.wall_clock import WallClock
from backbearing.sheet import ground_words, late_table, shot_rows
from backbearing.sheet.table_cells import NAME_CHARACTERS, SheetTable, ShotRow, tame

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.base.units import Units
    from backbearing.plan.plan import Plan
    from backbearing.plan.session import Session


@dataclass(frozen=True, slots=True)
class SheetCautions:
    """What to heed, and whom to call."""

    emergency: str
    own_cautions: tuple[str, ...]
    cautions: tuple[str, ...]
    cannot_see: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SheetContent:
    """Every word of the sheet; empty tuples where there is nothing to say."""

    title: str
    night: str
    name: str
    lead: tuple[str, ...]
    events: tuple[tuple[str, str], ...]
    shots: tuple[ShotRow, ...]
    without: tuple[str, ...]
    placing: SheetTable
    placing_steps: tuple[str, ...]
    late: SheetTable
    light: tuple[str, ...]
    walk: tuple[str, ...]
    heed: SheetCautions
    emergency: ClassVar[FieldOf[str]] = FieldOf("heed")
    own_cautions: ClassVar[FieldOf[tuple[str, ...]]] = FieldOf("heed")
    cautions: ClassVar[FieldOf[tuple[str, ...]]] = FieldOf("heed")
    cannot_see: ClassVar[FieldOf[tuple[str, ...]]] = FieldOf("heed")
    made: str
    credit: str


MOST_WITH_CHOICES: Final = 4
"""More turns leave no room on two pages for what was chosen against what."""

SHOT_COLUMNS: Final = (
    "Lens",
    "Frames",
    "Bearing, true",
    "Distance",
    "Tilt",
    "Exposure",
    "Focus on",
)
BLANKS: Final = ("Someone who knows where we are", "Back by", "Landowner told, and when")
"""Lines to fill in by hand."""
LATE_HEAD: Final = "If you are late, or cloud passes: step, facing the subject"


def sheet_content(plan: Plan, units: Units = METRIC) -> SheetContent:
    """Put a plan into the sheet's words, its sentences as they are."""
    clock = WallClock(plan.zone)
    shots = shot_rows.turns(plan, units)
    return SheetContent(
        title=tame(plan.subject.name, NAME_CHARACTERS),
        night=night_label(plan.evening),
        name=tame(plan.name, NAME_CHARACTERS),
        lead=_lead(plan, clock),
        events=tuple((clock.hm(e.time), tame(e.name, NAME_CHARACTERS)) for e in plan.events),
        shots=tuple(shot_rows.shot_row(plan, turn, clock) for turn in shots),
        without=shot_rows.without_turn(plan),
        placing=shot_rows.placing_table(plan, shots),
        placing_steps=shot_rows.placing_steps(plan, shots),
        late=late_table.late_table(plan, shots),
        light=ground_words.light_lines(plan),
        walk=ground_words.walk_lines(plan, clock, units),
        heed=SheetCautions(
            emergency=tame(plan.emergency_number, NAME_CHARACTERS),
            own_cautions=ground_words.own_cautions(plan, shots),
            cautions=tuple(tame(c) for c in plan.cautions),
            cannot_see=tuple(dict.fromkeys(tame(n) for n in plan.notes)),
        ),
        made=f"{clock.local(plan.made):%Y-%m-%d %H:%M} {clock.letters(plan.made)}, "
        f"Backbearing {tame(plan.version, 30)}",
        credit=_credit(plan),
    )


def _credit(plan: Plan) -> str:
    """Whose the raster is, behind a sentence; nothing where nobody is named."""
    words = ground_credit(tame(plan.ground.credit, 2 * NAME_CHARACTERS))
    return words and f"{words.removesuffix('.')}."


def _lead(plan: Plan, clock: WallClock) -> tuple[str, ...]:
    """Zone, dark window, and what the session comes to."""
    times = f"Times are local: {clock.night_letters(plan)} ({tame(plan.zone, NAME_CHARACTERS)})."
    if plan.dark:
        spans = " and ".join(f"{clock.hm(d.start)}–{clock.hm(d.end)}" for d in plan.dark)
        dark = f"Dark, with {tame(plan.target.name, NAME_CHARACTERS)} clear of the ridge: {spans}."
    else:
        dark = tame(plan.dark_reason or "No dark window this night.")
    lead = [f"{times} {dark}"]
    if plan.session is not None:
        breaks = " ".join(_breaks(plan, clock))
        lead.append(f"{tame(plan.session.sentence)} {breaks}".strip())
        lead += _choices(plan.session, clock)
    return tuple(line for line in lead if line)


def _choices(session: Session, clock: WallClock) -> list[str]:
    """What heeding the picture costs, and in short the kit from one line."""
    if len(session.shots) > MOST_WITH_CHOICES:
        return []
    told = [session.price.sentence] if session.price is not None else []
    line = session.one_line
    if line is not None:
        names = ", ".join(one.lens.label for one in line.lenses)
        way = "in" if line.inward else "back"
        told.append(
            f"Another way: {names} from one line, bearing {num(line.bearing_deg, 1)}°, stepping "
            f"{way}, {clock.hm(line.start)}–{clock.hm(line.end)}."
        )
    return [tame(one) for one in told]


def _breaks(plan: Plan, clock: WallClock) -> Sequence[str]:
    pauses = plan.session.pauses if plan.session else ()
    return [f"Break {clock.hm(p.start)}–{clock.hm(p.end)}." for p in pauses]
