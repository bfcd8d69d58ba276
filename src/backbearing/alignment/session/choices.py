"""What heeding the picture costs, and what other starts of a turn would give."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.session.schedule import costs_through
from backbearing.base.numbers import num
from backbearing.plan.turn_picture import OtherStart, SessionPrice, TurnPicture

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.session.between_turns import Spoilt
    from backbearing.alignment.session.schedule import Jobs, JobStart
    from backbearing.alignment.session.session_setup import SessionSetup
    from backbearing.alignment.session.turn_pictures import TurnPictures
    from backbearing.outing.session_request import PictureRequest

    Floats = NDArray[np.float64]

WORTH_TELLING_DEG: Final = 0.1
"""Gains below this are not offered; of the sky so many magnitudes, or such a share of cloud."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A session's order and starts, and what they were chosen from.

    ``walking`` are the turns that walking and waiting alone would have.
    """

    setup: SessionSetup
    jobs: Jobs
    pictures: Sequence[TurnPictures]
    turns: Sequence[JobStart]
    walking: Sequence[JobStart]

    @property
    def wishes(self) -> PictureRequest:
        """What the pictures were held against."""
        return self.setup.asked.picture


class Change(NamedTuple):
    """How one start's picture differs from another's, degrees."""

    above_top_deg: float
    clearance_deg: float
    skyline_break_deg: float


def other_starts(choice: Choice) -> list[tuple[OtherStart, ...]]:
    """For each turn: its start by walking and waiting alone, and the best for each wish.

    The best for a wish is the start that falls least short of it with all turns kept in
    their order; of equals the cheapest. Nothing is said where it gains under a tenth of a
    degree.
    """
    through = costs_through(choice.jobs, choice.turns)
    walking = {turn.job: turn.start for turn in choice.walking}
    found = []
    for turn, costs in zip(choice.turns, through, strict=True):
        offers = []
        start = walking.get(turn.job, turn.start)
        if start != turn.start:
            offers.append(_walking(choice, turn, start))
        for why, short in _shorts(choice, turn.job):
            best = _best(short, costs)
            if best is not None and short[turn.start] - short[best] >= WORTH_TELLING_DEG:
                extra = max(0.0, float(costs[best] - costs[turn.start]))
                offers.append(_offer(choice, turn, best, why, extra))
        found.append(tuple(offers))
    return found


def _shorts(choice: Choice, job: int) -> list[tuple[str, Floats]]:
    """What of a lens's picture counts, and by how much each start misses it."""
    wishes = choice.wishes
    shorts = choice.pictures[job].shortfalls(wishes, choice.setup.sky.clear_by_deg)
    named = (
        ("above top", wishes.above_top_costs_m_per_deg, shorts.above_top_deg),
        ("ridge", wishes.ridge_costs_m_per_deg, shorts.ridge_deg),
        ("skyline break", wishes.skyline_break_costs_m_per_deg, shorts.skyline_break_deg),
    )
    told = [(why, short) for why, weight, short in named if weight > 0.0]
    return [*told, *((why, short) for why, short, _ in _sky_shorts(choice, job))]


def _sky_shorts(choice: Choice, job: int) -> list[tuple[str, Floats, str]]:
    """What of a lens's sky counts: its name, how much of it each start has, and less of what."""
    sky, wishes = choice.pictures[job].sky, choice.wishes
    if sky is None:
        return []
    named = (
        ("air", wishes.air_costs_m_per_mag, sky.air_mag, "mag less dimmed by the air"),
        (
            "bright sky",
            wishes.bright_sky_costs_m_per_mag,
            sky.bright_mag,
            "mag darker sky behind the target",
        ),
        ("cloud", wishes.cloud_costs_m, sky.cloud, "of the line of sight less in cloud"),
    )
    return [(why, short, words) for why, weight, short, words in named if weight > 0.0]


def _best(short: Floats, costs: Floats) -> int | None:
    known = np.isfinite(short) & np.isfinite(costs)
    if not known.any():
        return None
    order = np.lexsort((costs, np.where(known, short, np.inf)))
    return int(order[0])


def _changed(choice: Choice, job: int, start: int, other: int) -> Change:
    picture = choice.pictures[job]
    return Change(
        *(
            float(column[other] - column[start])
            for column in (picture.above_top_deg, picture.least_clearance_deg, picture.break_deg)
        )
    )


def _other(choice: Choice, turn: JobStart, other: int) -> tuple[dt.datetime, float, float]:
    """When another start is, how much later, and what its own picture would count less."""
    picture, times = choice.pictures[turn.job], choice.setup.times
    counted = picture.cost_m(choice.wishes, choice.setup.sky.clear_by_deg)
    later = (times[other] - times[turn.start]).total_seconds() / 60.0
    return times[other], later, float(counted[turn.start] - counted[other])


def _offer(choice: Choice, turn: JobStart, other: int, why: str, costs_m: float) -> OtherStart:
    time, later, saves = _other(choice, turn, other)
    change = _changed(choice, turn.job, turn.start, other)
    said = (
        f"{_later(later)}: {_gain_words(choice, turn, other, why)}{change_words(change)}. "
        f"It would count {num(costs_m, 0)} m more: its "
        f"own picture {num(abs(saves), 0)} m {'less' if saves >= 0.0 else 'more'}, walking, "
        f"waiting and the other turns {num(costs_m + saves, 0)} m more."
    )
    return OtherStart(why, time, later, *change, saves, costs_m, said)


def _gain_words(choice: Choice, turn: JobStart, other: int, why: str) -> str:
    """What another start gains in its sky, where it is told for that: ``0.4 mag darker ..., ``."""
    for name, short, words in _sky_shorts(choice, turn.job):
        if name == why:
            return f"{num(float(short[turn.start] - short[other]), 1)} {words}, "
    return ""


def _walking(choice: Choice, turn: JobStart, other: int) -> OtherStart:
    time, later, saves = _other(choice, turn, other)
    change = _changed(choice, turn.job, turn.start, other)
    said = f"By walking and waiting alone it would be {_later(later, '')}: {change_words(change)}."
    return OtherStart("walking", time, later, *change, saves, math.nan, said)


def _later(minutes: float, best: str = "At best ") -> str:
    way = "later" if minutes >= 0.0 else "earlier"
    return f"{best}{num(abs(minutes), 0)} min {way}"


def change_words(change: Change) -> str:
    """Say what another start changes in the picture, degrees; what is unknown is left out."""
    said = []
    for value, where in zip(
        change, ("over the top", "over the ridge", "of the top over the land behind"), strict=True
    ):
        if math.isfinite(value) and abs(value) >= 0.05:
            said.append(f"{num(abs(value), 1)}° {'more' if value > 0.0 else 'less'} {where}")
    return ", ".join(said) or "the same picture"


def turn_picture(
    picture: TurnPictures,
    wishes: PictureRequest,
    clear_by_deg: float,
    before_deg: float,
    spoilt: Spoilt,
) -> TurnPicture:
    """One settled turn's picture in figures.

    Parameters
    ----------
    picture : TurnPictures
        Arrays of shape (1,).
    wishes : PictureRequest
    clear_by_deg : float
        The clearance asked for.
    before_deg : float
        The target over the top in the turn before; NaN for the first.
    spoilt : Spoilt
        What the stand before does to the turn.
    """
    shorts = picture.shortfalls(wishes, clear_by_deg)
    above, ridge, behind = (float(cost[0]) for cost in shorts.costs_m(wishes))
    unlike = abs(float(picture.above_top_deg[0]) - before_deg)
    shows, moves = (float(cost) for cost in spoilt.costs_m(wishes))
    return TurnPicture(
        above_top_deg=float(picture.above_top_deg[0]),
        above_top_wanted_deg=float(picture.wanted_deg[0]),
        above_top_off_deg=float(shorts.above_top_deg[0]),
        ridge_doubt_deg=float(picture.doubt_deg[0]),
        ridge_short_deg=float(shorts.ridge_deg[0]),
        skyline_break_short_deg=float(shorts.skyline_break_deg[0]),
        alike_off_deg=unlike,
        above_top_cost_m=above,
        ridge_cost_m=ridge,
        skyline_break_cost_m=behind,
        alike_cost_m=wishes.alike_costs_m_per_deg * (unlike if math.isfinite(unlike) else 0.0),
        stand_before_shows=bool(spoilt.stand_before_shows),
        light_moves=bool(spoilt.light_moves),
        stand_before_shows_cost_m=shows,
        light_moves_cost_m=moves,
    )


def session_price(choice: Choice) -> SessionPrice:
    """What heeding the picture costs, against walking and waiting alone."""
    chosen, walking = (_counted(choice, turns) for turns in (choice.turns, choice.walking))
    walked, waited = (chosen[i] - walking[i] for i in (1, 2))
    said = (
        "Order and minutes are those that walking and waiting alone would choose."
        if [*choice.turns] == [*choice.walking]
        else f"Against walking and waiting alone: {_more(waited, 'min', 'waiting')} and "
        f"{_more(walked, 'm', 'walking')}, for pictures that count {num(chosen[0], 0)} m instead "
        f"of {num(walking[0], 0)} m."
    )
    return SessionPrice(chosen[0], walking[0], walked, waited, said)


def _more(value: float, unit: str, what: str) -> str:
    return f"{num(abs(value), 0)} {unit} {'more' if value >= 0.0 else 'less'} {what}"


def _counted(choice: Choice, turns: Sequence[JobStart]) -> tuple[float, float, float]:
    """What the pictures of some turns count, metres walked and minutes waited between them."""
    jobs, wishes = choice.jobs, choice.wishes
    clear_by = choice.setup.sky.clear_by_deg
    counted = sum(
        float(choice.pictures[turn.job].cost_m(wishes, clear_by)[turn.start]) for turn in turns
    )
    walked = waited = 0.0
    for one, two in pairwise(turns):
        leg = jobs.leg(one.job, two.job, one.start, two.start)
        walked, waited = walked + float(leg.walked_m), waited + float(leg.waited_minutes)
        counted += jobs.alike_costs_m_per_deg * float(leg.unlike_deg) + float(leg.between_m)
    return counted, walked, waited
