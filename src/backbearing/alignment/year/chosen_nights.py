"""A chosen night told in full: for each lens its stretches, its minute, its stand, what it lacks.

Stands are the plan's own. Where the plan would leave the middle of the longest stretch (its
ground is closed, something short spoils it), and for a moving target, the night's plan is asked.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import night_sky
from backbearing.alignment.night.lens_arc import arcs_of, chosen_at, sentence_of
from backbearing.alignment.night.prepared_night import PreparedNight
from backbearing.alignment.stand.needed import ONLY_STANDS
from backbearing.alignment.stand.spans import middle_of_longest
from backbearing.base.numbers import num
from backbearing.land.closed_ground import closed_by
from backbearing.plan.year import LensNight, NightMoon, SubjectNight

if TYPE_CHECKING:
    from collections.abc import Sequence

    from backbearing.alignment.night.lens_arc import Chosen
    from backbearing.alignment.year.subject_year import SettledSubject
    from backbearing.outing.request import Outing
    from backbearing.plan.place import Place
    from backbearing.plan.stand import Stand
    from backbearing.plan.year import NightState

_STATE_WORDS: Final[dict[NightState, str]] = {
    "no darkness": "The Sun never goes as deep as asked.",
    "moon": "It is dark only while the Moon is up or brighter than asked.",
}


def subject_nights(
    settled: SettledSubject, subject: int, nights: Sequence[int], counted: Sequence[float]
) -> list[SubjectNight]:
    """Tell some nights of one subject; ``counted`` is what it gave to the choice of each."""
    made = [_lens_nights(settled, night) for night in nights]
    stands = _stands(settled, nights, made)
    return [
        SubjectNight(
            subject=subject,
            name=settled.year.name,
            zone=settled.year.zone,
            counted_minutes=counted[i],
            whole_kit=settled.year.whole_kit_on(night),
            moon=_moon(settled, night),
            lenses=tuple(
                _with_stand(lens, stand) for lens, stand in zip(made[i], stands[i], strict=True)
            ),
        )
        for i, night in enumerate(nights)
    ]


def _lens_nights(settled: SettledSubject, night: int) -> list[LensNight]:
    """The lenses' stretches on one night, and what keeps a lens from its minutes."""
    told: list[LensNight] = []
    lacks = [not lens.has_its_minutes(night) for lens in settled.year.lenses]
    why = _why_short(settled, night, lacks)
    for i, lens in enumerate(settled.year.lenses):
        told.append(
            LensNight(
                label=lens.label,
                minutes=lens.minutes[night],
                wanted_minutes=lens.wanted_minutes,
                usable=settled.spans[i].of(night),
                missing=_short_words(lens.longest[night], lens.wanted_minutes, why[i])
                if lacks[i]
                else "",
            )
        )
    return told


def _short_words(longest: float, wanted: float, why: str) -> str:
    if longest > 0.0:
        return f"{num(longest, 0)} min at a time, {num(wanted, 0)} wanted. {why}"
    return why


def _why_short(settled: SettledSubject, night: int, lacks: Sequence[bool]) -> list[str]:
    """What the plan of a night says of each lens that lacks minutes."""
    state = settled.year.states[night]
    if state in _STATE_WORDS:
        return [_STATE_WORDS[state]] * len(lacks)
    asked = [lens for lens, lacking in zip(settled.sky.lenses, lacks, strict=True) if lacking]
    if not asked:
        return [""] * len(lacks)
    sky = night_sky(_night_of(settled, night).night, settled.sky.scene, settled.year.zone)
    found = arcs_of(asked, sky)
    said = iter(
        [
            sentence_of(limits, spans, sky)
            for limits, spans in zip(found.limits, found.spans, strict=True)
        ]
    )
    return [next(said) if lacking else "" for lacking in lacks]


def _night_of(settled: SettledSubject, night: int) -> Outing:
    """The outing on another evening, with no minute asked for and no session."""
    outing, evening = settled.sky.outing, settled.sky.span.evenings[night]
    return replace(
        outing,
        session=None,
        night=replace(outing.night, evening=evening, at=None),
        lenses=tuple(replace(one, at=None) for one in outing.lenses),
    )


def _stands(
    settled: SettledSubject, nights: Sequence[int], made: Sequence[Sequence[LensNight]]
) -> list[list[Stand | None]]:
    """Each lens's stand at its best minute on each night, as the plan of that night has it."""
    sky, count = settled.sky, len(settled.year.lenses)
    times = [middle_of_longest(lens.usable) for told in made for lens in told]
    dark = sky.dark_spans()
    dark = dark.where(np.isin(dark.night, nights))
    chosen = chosen_at(
        list(sky.lenses) * len(nights), sky.night_sky(sky.span.noons[:0], dark=dark), times
    )
    found: list[list[Stand | None]] = []
    for i, night in enumerate(nights):
        part = chosen[i * count : (i + 1) * count]
        if any(_plan_differs(one, settled.places) for one in part):
            found.append(_from_plan(settled, night))
        else:
            found.append([None if one is None else one.stand for one in part])
    return found


def _plan_differs(one: Chosen | None, places: Sequence[Place]) -> bool:
    """Whether the plan would take another minute than the middle of the longest stretch."""
    if one is None:
        return False
    if one.stand is None or one.spoilt_by:
        return True
    return bool(closed_by(places, lat=one.stand.lat, lon=one.stand.lon))


def _from_plan(settled: SettledSubject, night: int) -> list[Stand | None]:
    """The stands of the plan of one night."""
    outing, scene = _night_of(settled, night), settled.sky.scene
    sky = night_sky(outing.night, scene, settled.year.zone)
    plan = PreparedNight(outing, scene, sky, (), settled.places).part(ONLY_STANDS)
    return [one.stand for one in plan.lenses]


def _with_stand(lens: LensNight, stand: Stand | None) -> LensNight:
    if stand is None:
        return lens
    return replace(
        lens,
        at=stand.time,
        distance_m=stand.distance_m,
        bearing_deg=stand.bearing_deg,
        altitude_deg=stand.target_altitude_deg,
        clearance_deg=stand.clearance_deg,
    )


def _moon(settled: SettledSubject, night: int) -> NightMoon:
    events = settled.sky.events[night]
    return NightMoon(
        dusk=str(events.dusk),
        dawn=str(events.dawn),
        rise=str(events.moonrise),
        set=str(events.moonset),
        lit=events.moon_lit,
    )
