"""One lens through one night: its arc, the stretches that work, and the minute chosen."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import compress
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.stand.compromises import compromises
from backbearing.alignment.stand.lens_figures import LensStand
from backbearing.alignment.stand.settled_stands import LensTimes, Settled, settle_all
from backbearing.alignment.stand.spans import middle_of_longest, spans_of_each
from backbearing.alignment.stand.stands import (
    LensMoment,
    moments_about,
    settled_about,
    stands_of,
)
from backbearing.plan.stand import ArcPoint, LensPlan, Limit, Span
from backbearing.sky.instants import utc_array

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.night.from_outing import AskedMinute
    from backbearing.alignment.stand.night_sky import NightSky
    from backbearing.alignment.stand.scene import Scene
    from backbearing.alignment.stand.settled_stands import Moments
    from backbearing.camera.bodies_and_lenses import Lens
    from backbearing.plan.compromise import Compromise
    from backbearing.plan.optics import LensFigures
    from backbearing.plan.stand import Stand

    Flags = NDArray[np.bool_]
    FiguresOf = Callable[[Sequence[LensStand]], list[LensFigures]]

MOST_ADVICE = 3
"""So many compromises are put into the sentence; all of them stand in the plan."""


@dataclass(frozen=True, slots=True)
class MomentLimits:
    """Limits at ``n`` moments: for each limit, whether it holds, shape ``(n,)``."""

    settled: Settled
    limits: dict[Limit, Flags]

    @property
    def usable(self) -> Flags:
        """Where no limit holds."""
        limited: Flags = np.any(list(self.limits.values()), axis=0)
        return ~limited

    @property
    def framed(self) -> Flags:
        """Where there is a stand whose frame holds the target, whatever the sky does."""
        return ~(self.limits["no stand"] | self.limits["frame"])

    @property
    def hidden(self) -> Flags:
        """Where nothing spoils a moment but the subject itself, before the target."""
        others = [holds for limit, holds in self.limits.items() if limit != "subject"]
        return np.asarray(self.limits["subject"] & ~np.any(others, axis=0))

    def at(self, i: int) -> tuple[Limit, ...]:
        """Limits that hold at one moment."""
        return tuple(limit for limit, holds in self.limits.items() if holds[i])


class AskedLens(NamedTuple):
    """One lens of a night, framed as its scene has it, and the minute asked for, if one is."""

    scene: Scene
    lens: Lens
    asked: AskedMinute | None = None


class Spans(NamedTuple):
    """A lens's stretches: nothing spoils them, the frame holds both, only the subject hides."""

    usable: tuple[Span, ...]
    framed: tuple[Span, ...]
    hidden: tuple[Span, ...]


class Arcs(NamedTuple):
    """What a night is for each lens: limits at the night's moments, and the stretches."""

    limits: list[MomentLimits]
    spans: list[Spans]


class Chosen(NamedTuple):
    """A lens at its minute: what limits it, and its stand; None where none is a place."""

    time: dt.datetime
    limits: MomentLimits
    stand: Stand | None

    @property
    def spoilt_by(self) -> tuple[Limit, ...]:
        """Limits that hold at the minute itself, the middle one of three that were settled."""
        return self.limits.at(1)


def arcs_of(lenses: Sequence[AskedLens], sky: NightSky) -> Arcs:
    """Settle all lenses at all the night's moments, and polish all ends of all stretches.

    Both are asked as arrays over all lenses; a row's answer does not depend on the others.
    """
    found = _limits_all_night(lenses, sky)
    return Arcs(found, [Spans(*kinds) for kinds in _stretches(lenses, sky, found, Spans._fields)])


def usable_spans(lenses: Sequence[AskedLens], sky: NightSky) -> list[tuple[Span, ...]]:
    """The usable stretches of `arcs_of` alone, in half the time: for many nights at once."""
    found = _limits_all_night(lenses, sky)
    return [usable for (usable,) in _stretches(lenses, sky, found, ("usable",))]


def _limits_all_night(lenses: Sequence[AskedLens], sky: NightSky) -> list[MomentLimits]:
    times = utc_array(sky.times)
    return limits_of_each([LensTimes(one.scene, one.lens, times) for one in lenses], sky)


def _stretches(
    lenses: Sequence[AskedLens],
    sky: NightSky,
    found: Sequence[MomentLimits],
    names: Sequence[str],
) -> list[list[tuple[Span, ...]]]:
    """For each lens its stretches of some kinds, all their ends polished together."""

    def holds(which: NDArray[np.intp], utc: NDArray[np.datetime64]) -> Flags:
        """Each lens asks for its kinds of stretches in turn, a question each."""
        number, kind = np.divmod(which, len(names))
        asked, first = np.unique(number, return_index=True)
        parts = np.split(utc, first[1:])
        rows = [
            LensTimes(lenses[i].scene, lenses[i].lens, part)
            for i, part in zip(asked.tolist(), parts, strict=True)
        ]
        there = limits_of_each(rows, sky)
        return np.choose(
            kind, [np.concatenate([getattr(one, name) for one in there]) for name in names]
        )

    flags = np.array([[getattr(one, name) for name in names] for one in found]).reshape(
        len(names) * len(lenses), len(sky.times)
    )
    spans = spans_of_each(utc_array(sky.times), flags, holds)
    return [spans[i : i + len(names)] for i in range(0, len(spans), len(names))]


def settle_lenses(
    lenses: Sequence[AskedLens],
    sky: NightSky,
    figures: FiguresOf,
    arcs: Arcs | None = None,
) -> list[LensPlan]:
    """Find the lenses' arcs and usable stretches, choose their minutes, and settle the stands.

    Without an asked minute, the middle of the longest usable stretch is chosen: the
    minute with the most room before and after. Where something too short for the arc's
    samples spoils just that minute, the nearest sample that nothing spoils.

    Parameters
    ----------
    lenses : sequence of AskedLens
        Their scenes share subject, target and ground, and have their own share and drop in place.
    sky : NightSky
    figures : callable
        What lenses make of their stands.
    arcs : Arcs, optional
        Those of the lenses, where they are known already.
    """
    arcs = arcs_of(lenses, sky) if arcs is None else arcs
    wanted = [
        one.asked.time if one.asked else middle_of_longest(spans.usable)
        for one, spans in zip(lenses, arcs.spans, strict=True)
    ]
    chosen = chosen_at(lenses, sky, wanted)
    spoilt = [i for i, one in enumerate(chosen) if one and one.spoilt_by and not lenses[i].asked]
    for i in spoilt:
        time = _nearest_usable(sky, arcs.limits[i], wanted[i])
        chosen[i] = chosen_at([lenses[i]], sky, [time])[0]
    found = figures(
        [
            LensStand(one.scene, one.lens, at.stand if at else None)
            for one, at in zip(lenses, chosen, strict=True)
        ]
    )
    return [
        _lens_plan(one, sky, found[i], chosen[i], arcs.limits[i], arcs.spans[i])
        for i, one in enumerate(lenses)
    ]


def settle_lens(
    scene: Scene,
    lens: Lens,
    sky: NightSky,
    asked: AskedMinute | None,
    figures: FiguresOf,
) -> LensPlan:
    """Do as `settle_lenses` for one lens."""
    return settle_lenses([AskedLens(scene, lens, asked)], sky, figures)[0]


def chosen_at(
    lenses: Sequence[AskedLens], sky: NightSky, times: Sequence[dt.datetime | None]
) -> list[Chosen | None]:
    """Settle each lens at a minute of its own; None where it has no minute."""
    asked = {
        i: LensMoment(lens.scene, lens.lens, time)
        for i, (lens, time) in enumerate(zip(lenses, times, strict=True))
        if time is not None
    }
    found: list[Chosen | None] = [None] * len(lenses)
    if not asked:
        return found
    moments = list(asked.values())
    settled = settled_about(moments)
    limits = [
        limits_of(one, sky, moments_about(moment.time))
        for one, moment in zip(settled, moments, strict=True)
    ]
    stands = stands_of(moments, settled)
    for i, moment, limit, stand in zip(asked, moments, limits, stands, strict=True):
        found[i] = Chosen(moment.time, limit, stand if math.isfinite(stand.lat) else None)
    return found


def _nearest_usable(
    sky: NightSky, found: MomentLimits, moment: dt.datetime | None
) -> dt.datetime | None:
    """The usable sample nearest to a moment that something spoils."""
    if moment is None:
        return None
    good = [time for time, usable in zip(sky.times, found.usable, strict=True) if usable]
    return min(good, key=lambda time: abs(time - moment))


def _lens_plan(  # what a lens's plan is made of
    one: AskedLens,
    sky: NightSky,
    figures: LensFigures,
    chosen: Chosen | None,
    found: MomentLimits,
    spans: Spans,
) -> LensPlan:
    scene, lens, asked = one
    stand = chosen.stand if chosen else None
    spoilt = chosen.spoilt_by if asked and chosen else ()
    given_up: tuple[Compromise, ...] = ()
    if spoilt or not asked:
        given_up = _compromises(one, sky, found, spoilt)
    said = _asked_words(asked.clock, spoilt, spans.usable, sky) if asked and spoilt else ""
    said = said or sentence_of(found, spans, sky)
    return LensPlan(
        lens=lens,
        stand=stand,
        arc=arc_points(sky.times, found),
        usable=spans.usable,
        framed=spans.framed,
        sentence=" ".join([said, *(one.sentence for one in given_up[:MOST_ADVICE])]),
        figures=figures,
        asked_at=asked.clock if asked else None,
        asked_share=scene.framing.share,
        compromises=given_up,
        hidden=spans.hidden,
    )


def _compromises(
    one: AskedLens, sky: NightSky, found: MomentLimits, spoilt_by: Sequence[Limit]
) -> tuple[Compromise, ...]:
    """What to give up: for an asked minute that the frame spoils, or for a whole night."""
    if one.asked is not None:
        if not {"frame", "no stand", "subject"} & set(spoilt_by):
            return ()
        times: Sequence[dt.datetime] = [one.asked.time]
    elif found.usable.any() or not sky.times:
        return ()
    else:
        others = [found.limits[key] for key in ("twilight", "moon", "ridge", "horizon")]
        clear = ~np.any(others, axis=0)
        times = [t for t, good in zip(sky.times, clear, strict=True) if good]
        if not times and not found.framed.any():
            times = sky.times
    return compromises(one.scene, one.lens, times, sky.clock)


def limits_of_each(asked: Sequence[LensTimes], sky: NightSky) -> list[MomentLimits]:
    """Settle lenses at moments of their own and say what limits each of them."""
    settled = settle_all(asked)
    return [limits_of(one, sky, rows.times) for one, rows in zip(settled, asked, strict=True)]


def limits_of(settled: Settled, sky: NightSky, times: Moments) -> MomentLimits:
    """Say what limits a lens at the moments at which it was settled."""
    none, utc = ~np.isfinite(settled.places.lat), utc_array(times)
    sunless, dark = sky.sunless_at(utc), sky.dark_at(utc)
    with np.errstate(invalid="ignore"):
        down = settled.target_altitude_deg <= 0.0
        ridge = (settled.clearance_deg < sky.clear_by_deg) & ~down
    unknown = ~np.isfinite(settled.clearance_deg) & ~none
    return MomentLimits(
        settled,
        {
            "twilight": ~sunless,
            "moon": sunless & ~dark,
            "ridge": ridge,
            "horizon": down,
            "frame": ~settled.in_frame & ~none,
            "subject": settled.spoilt_behind,
            "unknown ground": unknown,
            "no stand": none,
        },
    )


def arc_points(times: Sequence[dt.datetime], found: MomentLimits) -> tuple[ArcPoint, ...]:
    """The arc of a lens: one point a moment, with all that limits it."""
    settled, places = found.settled, found.settled.places
    columns = (
        places.lat,
        places.lon,
        places.distance_m,
        places.bearing_deg,
        settled.pitch_deg,
        settled.target_altitude_deg,
        settled.skyline_deg,
        settled.clearance_deg,
        settled.target_x,
        settled.target_y,
    )
    names = tuple(found.limits)
    flags = np.array([found.limits[name] for name in names]).T.tolist()
    limits = [tuple(compress(names, limited)) for limited in flags]
    rows = zip(times, *(column.tolist() for column in columns), limits, strict=True)
    return tuple(ArcPoint(*row) for row in rows)


def sentence_of(found: MomentLimits, spans: Spans, sky: NightSky) -> str:
    """Say in words what the night gives this lens, or what takes it away."""
    usable, framed, hidden = spans
    if usable:
        held = "" if found.framed.all() else f" The frame holds both only {_clocks(framed, sky)}."
        behind = f" Behind the subject itself {_clocks(hidden, sky)}." if hidden else ""
        return f"Works {_clocks(usable, sky)}.{held}{behind}"
    if not found.limits["twilight"].size:
        return "The target is never above the horizontal while the Sun is down."
    if found.limits["no stand"].all():
        return "No stand: no distance along the back bearing gives the asked share on this ground."
    if not framed:
        return (
            "Never holds subject and target at once this night: at the asked share and margin the "
            "target stays out of its place in the frame."
        )
    cause = _listed([limit for limit, holds in found.limits.items() if holds[found.framed].any()])
    return f"The frame holds both {_clocks(framed, sky)}, but then it is spoilt by {cause}."


def _asked_words(clock: str, spoilt: Sequence[Limit], usable: Sequence[Span], sky: NightSky) -> str:
    rest = f" Nothing spoils {_clocks(usable, sky)}." if usable else ""
    return f"At {clock} it is spoilt by {_listed(spoilt)}.{rest}"


_SPOILERS: dict[Limit, str] = {
    "twilight": "twilight",
    "moon": "the Moon",
    "ridge": "the ridge",
    "horizon": "the horizon (the target is below the horizontal)",
    "frame": "the frame (the target falls outside its place in it)",
    "subject": "the subject itself (the target is behind it)",
    "unknown ground": "unknown ground towards the target",
    "no stand": "the ground (no stand gives the framing)",
}


def _listed(limits: Sequence[Limit]) -> str:
    words = [_SPOILERS[limit] for limit in limits]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _clocks(spans: Sequence[Span], sky: NightSky) -> str:
    said = [f"{sky.clock(span.start)} to {sky.clock(span.end)}" for span in spans]
    return said[0] if len(said) == 1 else ", ".join(said[:-1]) + f" and {said[-1]}" if said else ""
