"""Several subjects over a year: which nights to take, which to keep in hand, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import same_raster
from backbearing.alignment.year.choosing import MinuteTable, choose_nights
from backbearing.alignment.year.chosen_nights import subject_nights
from backbearing.alignment.year.subject_year import SettledSubject, YearAsked, settle_subject
from backbearing.base.errors import BackbearingError, OutingError, SkyError
from backbearing.base.numbers import counted, num
from backbearing.base.wall_clock import now_utc
from backbearing.plan.year import MOST_CHOSEN, Year, YearNight, YearRule
from backbearing.sky.earth import clock_notes

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from backbearing.alignment.year.choosing import Choice, Chosen
    from backbearing.outing.request import Outing
    from backbearing.plan.year import SubjectNight
    from backbearing.terrain.elevation import Elevation

MOST_NIGHTS = 732
MOST_SUBJECTS = 200

RESTS_ON: Final = (
    (
        "Good minutes are a plan's usable ones: Sun and Moon as each outing asks, the target clear "
        "of the ridge and in its place in the frame, the subject not before it."
    ),
    (
        "Nobody is at two subjects at once: minutes at one do not say that there is time for "
        "another on the same night, nor that all lenses fit one after another. [session] in the "
        "outing file settles that for one night."
    ),
    "Cloud, haze, trees and closed roads are in no number here.",
)
"""What every year rests on, and what it leaves open."""


def plan_year(
    outings: Sequence[Outing],
    *,
    first_night: dt.date | None = None,
    nights: int = 365,
    rule: YearRule | None = None,
    name: str = "",
    progress: Callable[[int, int], None] | None = None,
) -> Year:
    """Look through a run of nights for several subjects, and choose among them.

    Every night of every lens is what the plan of that night says: a lens's good minutes are its
    usable stretches. Minutes that an outing asks for, and its session's order, are left out.

    Parameters
    ----------
    outings : sequence of Outing
        One for each subject, with its own kit, target and darkness; their own evenings do not
        count.
    first_night : date, optional
        Today when left out.
    nights : int
        1 to 732.
    rule : YearRule, optional
        How to choose; see there.
    name : str, optional
        For a heading.
    progress : callable, optional
        Told how many subjects are done, and of how many.

    Raises
    ------
    OutingError, TerrainError, SkyError
        One sentence each.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import load_outing, plan_year
    >>> outing = load_outing(sample / "outing.toml")
    >>> year = plan_year([outing], first_night=date(2027, 5, 20), nights=20)
    >>> for night in year.best:
    ...     lenses = night.subjects[0].lenses
    ...     print(night.label, [round(lens.minutes) for lens in lenses])
    5–6 June 2027 [269, 294, 305, 74]
    4–5 June 2027 [269, 290, 301, 74]
    3–4 June 2027 [269, 287, 298, 74]
    """
    rule = rule or YearRule()
    _checked(outings, nights, rule)
    first = first_night or now_utc().date()
    asked = YearAsked(first, nights, rule.least_minutes)
    settled: list[SettledSubject] = []
    rasters: list[tuple[Outing, Elevation]] = []
    for outing in outings:
        settled.append(settle_subject(outing, _raster_of(outing, rasters), asked))
        if progress is not None:
            progress(len(settled), len(outings))
    choice = choose_nights(
        _table(settled, rule),
        count=rule.count,
        enough_minutes=rule.enough_minutes,
        one_subject=rule.one_subject,
    )
    best, spare = _told(settled, choice)
    return Year(
        name=name or _name_of(settled),
        first_evening=first,
        nights=nights,
        rule=rule,
        subjects=tuple(one.year for one in settled),
        best=best,
        spare=spare,
        said=_said(settled, best, rule, nights),
        notes=_notes(settled),
    )


def _checked(outings: Sequence[Outing], nights: int, rule: YearRule) -> None:
    if not 1 <= len(outings) <= MOST_SUBJECTS:
        raise OutingError(
            f"{counted(len(outings), 'outings')} were given", hint=f"give 1 to {MOST_SUBJECTS}"
        )
    if not 1 <= nights <= MOST_NIGHTS:
        raise SkyError(
            f"{nights} nights were asked for", hint=f"ask for 1 to {MOST_NIGHTS}", nights=nights
        )
    if not 1 <= rule.count <= MOST_CHOSEN:
        raise SkyError(f"{rule.count} nights are to be chosen", hint=f"ask for 1 to {MOST_CHOSEN}")
    for name, minutes in (
        ("enough_minutes", rule.enough_minutes),
        ("least_minutes", rule.least_minutes),
    ):
        if not 0.0 < minutes <= 1440.0:
            raise SkyError(f"{name} is {num(minutes)}", hint="write minutes, more than 0")


def _raster_of(outing: Outing, opened: list[tuple[Outing, Elevation]]) -> Elevation:
    """The bare raster of an outing, opened once for all that read the same files alike."""
    for other, raster in opened:
        if same_raster(other, outing) and other.ground.band == outing.ground.band:
            return raster
    try:
        raster = outing.ground.open()
    except BackbearingError as problem:
        problem.at(outing.place("[ground]", "elevation"))
        raise
    opened.append((outing, raster))
    return raster


def _table(settled: Sequence[SettledSubject], rule: YearRule) -> MinuteTable:
    """Good minutes by night and lens; none where the whole kit was asked for and is not there."""
    columns, owner = [], []
    for i, one in enumerate(settled):
        minutes = np.array([lens.minutes for lens in one.year.lenses]).T
        if rule.whole_kit:
            whole = np.array([one.year.whole_kit_on(n) for n in range(len(minutes))])
            minutes = np.where(whole[:, None], minutes, 0.0)
        columns.append(minutes)
        owner += [i] * minutes.shape[1]
    return MinuteTable(np.concatenate(columns, axis=1), np.array(owner, dtype=np.intp))


def _told(
    settled: Sequence[SettledSubject], choice: Choice
) -> tuple[tuple[YearNight, ...], tuple[YearNight, ...]]:
    """The chosen nights in full, all nights of a subject at once."""
    every = [*choice.best, *choice.spare]
    nights = [one.night for one in every]
    by_subject: list[list[SubjectNight]] = []
    for i, one in enumerate(settled):
        gave = [float(chosen.counted[i]) for chosen in every]
        by_subject.append(subject_nights(one, i, nights, gave) if nights else [])
    evenings = settled[0].sky.span.evenings

    def night(number: int, chosen: Chosen) -> YearNight:
        other = chosen.instead_of
        return YearNight(
            evening=evenings[chosen.night],
            counted_minutes=float(chosen.counted.sum()),
            subjects=tuple(told[number] for told in by_subject),
            equals=tuple(evenings[n] for n in chosen.equals),
            instead_of=None if other is None else evenings[other],
        )

    made = [night(number, chosen) for number, chosen in enumerate(every)]
    return tuple(made[: len(choice.best)]), tuple(made[len(choice.best) :])


def _name_of(settled: Sequence[SettledSubject]) -> str:
    names = [one.year.name for one in settled]
    return names[0] if len(names) == 1 else counted(len(names), "subjects")


def _said(
    settled: Sequence[SettledSubject], best: Sequence[YearNight], rule: YearRule, nights: int
) -> str:
    """Why there are fewer nights than wanted; empty where there are not."""
    if len(best) >= rule.count:
        return ""
    among = counted(nights, "nights")
    if best:
        only = "has" if len(best) == 1 else "have"
        return f"Only {len(best)} of {among} {only} a minute that counts, {rule.count} were wanted."
    with_minutes = [one.year for one in settled if not one.year.why_none]
    if rule.whole_kit and with_minutes:
        return f"On none of {among} does every lens of a subject have its minutes."
    reasons = dict.fromkeys(one.year.why_none for one in settled)
    if len(reasons) == 1:
        return f"No night of {among} is good. {next(iter(reasons))}"
    each = " ".join(f"{one.year.name}: {one.year.why_none}" for one in settled)
    return f"No night of {among} is good. {each}"


def _notes(settled: Sequence[SettledSubject]) -> tuple[str, ...]:
    last = settled[0].sky.span.evenings[-1]
    return (*RESTS_ON, *clock_notes(last))
