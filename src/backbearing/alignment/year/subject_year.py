"""One subject through all nights: each lens's minutes, and what each night is to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from backbearing.alignment.night.from_outing import scene_of, zone_of
from backbearing.alignment.year.good_spans import (
    GoodSpans,
    NightSpans,
    SubjectSky,
    any_of,
    good_spans,
)
from backbearing.base.numbers import num
from backbearing.base.wall_clock import wall_hours
from backbearing.land.places import read_places
from backbearing.plan.year import YearHours, YearLens, YearSubject
from backbearing.sky.instants import aware
from backbearing.sky.nights import lowest_sun_deg
from backbearing.sky.window_reasons import LOWEST_SKYLINE_DEG, highest_deg

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.plan.place import Place
    from backbearing.plan.year import NightHours, NightState
    from backbearing.terrain.elevation import Elevation

    Floats = NDArray[np.float64]


class YearAsked(NamedTuple):
    """Which nights, and how many minutes a lens wants where its outing does not say."""

    first_night: dt.date
    nights: int
    least_minutes: float


@dataclass(frozen=True, eq=False)
class SettledSubject:
    """A subject's year, with what its chosen nights are told from.

    Attributes
    ----------
    sky : SubjectSky
    places : tuple of Place
    spans : list of NightSpans
        Good stretches, one entry a lens.
    year : YearSubject
    """

    sky: SubjectSky
    places: tuple[Place, ...]
    spans: list[NightSpans]
    year: YearSubject


def settle_subject(outing: Outing, elevation: Elevation, asked: YearAsked) -> SettledSubject:
    """Work out every night of one subject.

    Raises
    ------
    OutingError, TerrainError, SkyError
        One sentence each.
    """
    scene, zone = scene_of(outing, elevation), zone_of(outing)
    sky = SubjectSky.of(
        outing, scene, zone=zone, first_night=asked.first_night, nights=asked.nights
    )
    spans = good_spans(sky)
    minutes = np.stack([_each_night(one, asked.nights, longest=False) for one in spans.good])
    longest = np.stack([_each_night(one, asked.nights, longest=True) for one in spans.good])
    states = _states(sky, spans, minutes.sum(axis=0))
    year = YearSubject(
        name=outing.subject.name,
        file=outing.path.name,
        lat=outing.subject.lat,
        lon=outing.subject.lon,
        zone=zone,
        target_name=outing.target.name,
        lenses=tuple(
            YearLens(
                one.lens.label,
                _wanted_minutes(outing, i, asked.least_minutes),
                tuple(minutes[i].tolist()),
                tuple(longest[i].tolist()),
            )
            for i, one in enumerate(outing.lenses)
        ),
        states=states,
        why_none="" if "good" in states else _why_none(sky, spans),
        hours=YearHours(
            _hours(sky, sky.dark_spans(moon=False)),
            _hours(sky, sky.dark_spans()),
            _hours(sky, any_of(spans.good)),
        ),
    )
    places = tuple(read_places(outing.ground.places)) if outing.ground.places else ()
    return SettledSubject(sky, places, spans.good, year)


def _wanted_minutes(outing: Outing, lens: int, least_minutes: float) -> float:
    """What a lens's frames take by its session, or what was asked of all."""
    if outing.session is None:
        return least_minutes
    frames = outing.session.minutes[lens][3]
    return least_minutes if frames is None else frames


def _each_night(spans: NightSpans, nights: int, *, longest: bool) -> Floats:
    """Minutes of each night, or of its longest stretch, shape (nights,)."""
    out = np.zeros(nights)
    (np.maximum if longest else np.add).at(out, spans.night, spans.minutes)
    return out


def _hours(sky: SubjectSky, spans: NightSpans) -> NightHours:
    """Stretches in hours of wall time after the noons of their evenings."""
    evenings, zone = sky.span.evenings, sky.span.zone

    def hour(night: int, at: np.datetime64) -> float:
        return round(wall_hours(aware(at), zone, evenings[night]) - 12.0, 3)

    return tuple(
        (night, hour(night, start), hour(night, end))
        for night, start, end in zip(spans.night.tolist(), spans.start, spans.end, strict=True)
    )


def _states(sky: SubjectSky, spans: GoodSpans, minutes: Floats) -> tuple[NightState, ...]:
    """What each night is to the subject, the first cause first."""
    count = len(sky.span.evenings)

    def met(one: NightSpans) -> NDArray[np.bool_]:
        return np.isin(np.arange(count), one.night)

    dark, moonless = met(sky.dark_spans(moon=False)), met(sky.dark_spans())
    lit = np.any([met(one) for one in spans.any_moon], axis=0) if spans.any_moon else False
    return tuple(
        np.select(
            [minutes > 0.0, ~dark, ~moonless | lit],
            ["good", "no darkness", "moon"],
            default="no minute",
        ).tolist()
    )


def _why_none(sky: SubjectSky, spans: GoodSpans) -> str:
    """A sentence for a subject without a good minute on any night."""
    night, target = sky.outing.night, sky.scene.target
    if not sky.dark_spans(moon=False).night.size:
        lowest = float(lowest_sun_deg(sky.span).min())
        return (
            f"It is never dark: the Sun goes no lower than {num(lowest, 1)}° on any of these "
            f"nights, and {num(night.sun_below_deg)}° was asked."
        )
    highest = highest_deg(sky.asked)
    if highest < LOWEST_SKYLINE_DEG:
        return f"{target.name} never rises here: it reaches {num(highest, 1)}° at most."
    if any(one.night.size for one in spans.any_moon):
        return "A lens holds both in the dark only while the Moon is up or brighter than asked."
    return (
        f"No lens holds the subject and {target.name}, clear of the ridge, while it is dark on any "
        "of these nights."
    )
