"""Each lens's good stretches on all nights of one subject, as the plan of each night finds them.

A fixed target comes back to the same place every sidereal day: what ground, frame and ridge
leave of one turn of the sky is settled once, by the plan's own code, and laid over the dark of
every night. A body moves on: there the plan's own code is asked in the dark of every night.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.alignment.night.from_outing import ARC_STEP, sun_and_moon_asked, worth_looking
from backbearing.alignment.night.lens_arc import AskedLens, usable_spans
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.base.constants import SIDEREAL_RATE_DEG_S
from backbearing.base.intervals import pieces, stretches
from backbearing.plan.stand import Span
from backbearing.sky.darkness import conditions_of
from backbearing.sky.directions import direction, earth_fixed
from backbearing.sky.instants import aware, utc_array
from backbearing.sky.nights import events_of_nights, span_of_nights
from backbearing.sky.windows import DarkWindow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.alignment.stand.scene import Scene
    from backbearing.outing.request import Outing
    from backbearing.sky.darkness import Conditions
    from backbearing.sky.nights import NightEvents, NightSpan
    from backbearing.sky.window_reasons import Asked

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Ints = NDArray[np.intp]
    Instants = NDArray[np.datetime64]

TURN_S: Final = 360.0 / SIDEREAL_RATE_DEG_S
"""A sidereal day, seconds."""

TURN_STEP: Final = dt.timedelta(minutes=1)
"""Sampling of one turn of the sky, at most: half the step of a plan's arcs."""

NIGHTS_AT_ONCE: Final = 30
"""Nights of a moving target that are settled together: what fits in memory."""

_TOUCH_S: Final = 1.0
_STEP: Final = np.timedelta64(ARC_STEP)


class GoodSpans(NamedTuple):
    """Each lens's good stretches; and those under any Moon, where that is known for nothing.

    ``any_moon`` is empty for a target that moves.
    """

    good: list[NightSpans]
    any_moon: list[NightSpans]


class NightSpans(NamedTuple):
    """Stretches in order of time: night numbers and ends in UTC, shape (k,) each."""

    night: Ints
    start: Instants
    end: Instants

    @property
    def minutes(self) -> Floats:
        """Their lengths, shape (k,)."""
        return np.asarray((self.end - self.start) / np.timedelta64(1, "us") / 6e7)

    def where(self, kept: Flags) -> NightSpans:
        """Some of them."""
        return NightSpans(self.night[kept], self.start[kept], self.end[kept])

    def of(self, night: int) -> tuple[Span, ...]:
        """Those of one night."""
        first, last = np.searchsorted(self.night, [night, night + 1])
        return tuple(
            Span(aware(a), aware(b))
            for a, b in zip(self.start[first:last], self.end[first:last], strict=True)
        )


@dataclass(frozen=True, eq=False)
class SubjectSky:
    """A subject's nights, joined to its ground: what all its lenses have in common.

    Attributes
    ----------
    outing : Outing
    scene : Scene
    asked : Asked
        The search for the dark of all nights, as the plan of each night asks it.
    found : Conditions
        When Sun and Moon are as asked.
    events : list of NightEvents
    """

    outing: Outing
    scene: Scene
    asked: Asked
    found: Conditions
    events: list[NightEvents]

    @classmethod
    def of(
        cls, outing: Outing, scene: Scene, *, zone: str, first_night: dt.date, nights: int
    ) -> SubjectSky:
        """Find Sun and Moon of all nights, as the plan of each night does.

        Where Sun and Moon stand is remembered for the days, so that every further subject of
        the same days costs a rotation.
        """
        night = outing.night
        span = span_of_nights(
            lat=scene.subject.lat,
            lon=scene.subject.lon,
            height_m=scene.subject_ground_m,
            first_night=first_night,
            nights=nights,
            tz=zone,
        )
        asked = sun_and_moon_asked(night, scene.target, span)
        events = events_of_nights(span, sun_below_deg=night.sun_below_deg)
        return cls(outing, scene, asked, conditions_of(asked), events)

    @property
    def span(self) -> NightSpan:
        """The nights."""
        return self.asked.span

    @property
    def lenses(self) -> tuple[AskedLens, ...]:
        """The lenses with their own shares and drops, whatever minutes the file asks for."""
        return tuple(
            AskedLens(self.scene.with_drop(one.stand_drop_m).with_share(one.share), one.lens)
            for one in self.outing.lenses
        )

    def dark_spans(self, *, moon: bool = True) -> NightSpans:
        """When the Sun is as deep as asked and, with ``moon``, the Moon as asked too."""
        piece = pieces(self.span.noons, self.found.dark.utc, self.found.moon.utc)
        good = self.found.dark.holds(piece.middle)
        if moon:
            good = good & self.found.moon.holds(piece.middle)
        first, last = stretches(good, ~np.isin(piece.start[1:], self.span.noons))
        night = np.searchsorted(self.span.noons, piece.start[first], side="right") - 1
        return NightSpans(night, piece.start[first], piece.end[last])

    def night_sky(self, times: Instants, *, dark: NightSpans | None = None) -> NightSky:
        """The sky of some moments; without ``dark`` one that Sun and Moon never spoil."""
        noons = self.span.noons
        if dark is None:
            dark = NightSpans(np.zeros(1, np.intp), noons[:1], noons[-1:])
            wide = np.timedelta64(3, "D")
            dark = dark._replace(start=dark.start - wide, end=dark.end + wide)
        windows = tuple(
            DarkWindow(self.span.evenings[n], aware(a), aware(b))
            for n, a, b in zip(dark.night.tolist(), dark.start, dark.end, strict=True)
        )
        return NightSky(
            zone=str(self.span.zone),
            times=tuple(aware(moment) for moment in times),
            dark=windows,
            sunless=windows,
            clear_by_deg=self.outing.night.clear_by_deg,
        )


def good_spans(sky: SubjectSky) -> GoodSpans:
    """Each lens's good stretches on every night, as the plan of that night finds them.

    The plan looks at its lenses every two minutes from noon on. A stretch in which it does not
    look is not counted here either, and a gap in which it does not look is not seen.
    """
    if not sky.scene.target.is_fixed:
        return GoodSpans(_of_a_body(sky), [])
    laid = _over_nights(sky, _one_turn(sky))
    good, any_moon = (
        [_as_looked_at(sky, _both(sky, sky.dark_spans(moon=moon), held)) for held in laid]
        for moon in (True, False)
    )
    return GoodSpans(good, any_moon)


def _one_turn(sky: SubjectSky) -> list[Floats]:
    """What one turn of the sky leaves each lens: seconds from and to, shape (k, 2)."""
    first = _reference(sky.span)
    # Even steps: a shorter one would make gaps of all the others.
    seconds = np.linspace(0.0, TURN_S, int(np.ceil(TURN_S / TURN_STEP.total_seconds())) + 1)
    times = first + np.rint(seconds * 1e6).astype("timedelta64[us]")
    _, up = direction(
        sky.scene.target,
        lat=sky.scene.subject.lat,
        lon=sky.scene.subject.lon,
        height_m=sky.scene.subject_ground_m,
        times=times,
    )
    above = up > 0.0
    near = above | np.append(above[1:], False) | np.append(False, above[:-1])
    if not above.any():
        return [np.zeros((0, 2))] * len(sky.lenses)
    found = usable_spans(sky.lenses, sky.night_sky(times[near]))
    return [
        np.array([[_seconds(end - first) for end in utc_array([s.start, s.end])] for s in usable])
        .reshape(-1, 2)
        .astype(np.float64)
        for usable in found
    ]


def _reference(span: NightSpan) -> np.datetime64:
    """The middle of all nights: there a fixed target stands where it stands on average."""
    return np.datetime64(span.noons[len(span.noons) // 2], "us")


def _seconds(span: np.timedelta64) -> float:
    return float(span / np.timedelta64(1, "us")) / 1e6


def _over_nights(sky: SubjectSky, turn: Sequence[Floats]) -> list[tuple[Instants, Instants]]:
    """Lay one turn over all nights: for each lens starts and ends, neither overlapping."""
    noons = sky.span.noons
    middle = noons[:-1] + np.diff(noons) // 2
    reference = _reference(sky.span)
    v = earth_fixed(sky.scene.target, np.append(middle, reference))
    hour_angle = -np.degrees(np.arctan2(v[1], v[0]))
    behind = (hour_angle[-1] - hour_angle[:-1]) / SIDEREAL_RATE_DEG_S
    # Turns that begin within a night's length of its middle.
    begin = np.mod(behind, TURN_S)[:, None] + np.array([-2.0, -1.0, 0.0]) * TURN_S
    laid = []
    for held in turn:
        ends = [begin[:, :, None] + held[None, None, :, side] for side in (0, 1)]
        start, end = (
            (middle[:, None] + np.rint(e.reshape(len(middle), -1) * 1e6).astype("timedelta64[us]"))
            for e in ends
        )
        start = np.maximum(start, noons[:-1, None])
        end = np.minimum(end, noons[1:, None])
        inside = end > start
        laid.append(_joined(start[inside], end[inside]))
    return laid


def _joined(start: Instants, end: Instants) -> tuple[Instants, Instants]:
    """Stretches with those that touch made one."""
    order = np.argsort(start)
    start, end = start[order], end[order]
    if not start.size:
        return start, end
    touch = np.timedelta64(round(_TOUCH_S * 1e6), "us")
    apart = (start[1:] - end[:-1]) > touch
    return start[np.append(True, apart)], end[np.append(apart, True)]


def _both(sky: SubjectSky, dark: NightSpans, held: tuple[Instants, Instants]) -> NightSpans:
    """Where it is dark and a lens holds both."""
    noons = sky.span.noons
    piece = pieces(noons, dark.start, dark.end, *held)

    def within(start: Instants, end: Instants) -> Flags:
        begun = np.searchsorted(start, piece.middle, side="right")
        return np.asarray(begun > np.searchsorted(end, piece.middle, side="right"))

    good = within(dark.start, dark.end) & within(*held)
    first, last = stretches(good, ~np.isin(piece.start[1:], noons))
    night = np.searchsorted(noons, piece.start[first], side="right") - 1
    return NightSpans(night, piece.start[first], piece.end[last])


def _as_looked_at(sky: SubjectSky, spans: NightSpans) -> NightSpans:
    """Stretches as one sees them who looks every two minutes from each noon on."""
    noon = sky.span.noons[spans.night]
    first = -((noon - spans.start) // _STEP)
    last = (spans.end - noon) // _STEP
    seen = last >= first
    night, start, end = spans.where(seen)
    first, last = first[seen], last[seen]
    if not night.size:
        return NightSpans(night, start, end)
    apart = (night[1:] != night[:-1]) | (first[1:] != last[:-1] + 1)
    begins, ends = np.append(True, apart), np.append(apart, True)
    night, noon = night[begins], sky.span.noons[night[begins]]
    early, late = noon + first[begins] * _STEP, noon + last[ends] * _STEP
    # Where the plan does not look any more (the target is down), it knows of nothing beyond.
    looked = [worth_looking(sky.scene, at) for at in (early - _STEP, late + _STEP)]
    return NightSpans(
        night, np.where(looked[0], start[begins], early), np.where(looked[1], end[ends], late)
    )


def _of_a_body(sky: SubjectSky) -> list[NightSpans]:
    """A moving target: the plan's own arcs, at its own moments, in the dark of every night."""
    dark = sky.dark_spans()
    parts: list[list[NightSpans]] = [[] for _ in sky.lenses]
    for begin in range(0, len(sky.span.evenings), NIGHTS_AT_ONCE):
        some = (dark.night >= begin) & (dark.night < begin + NIGHTS_AT_ONCE)
        part = dark.where(some)
        times = _moments_of(sky, part)
        if not times.size:
            continue
        found = usable_spans(sky.lenses, sky.night_sky(times, dark=part))
        for kept, usable in zip(parts, found, strict=True):
            ends = [utc_array([getattr(s, side) for s in usable]) for side in ("start", "end")]
            night = np.searchsorted(sky.span.noons, ends[0], side="right") - 1
            kept.append(NightSpans(night, *ends))
    return [_gathered(kept) for kept in parts]


def _moments_of(sky: SubjectSky, dark: NightSpans) -> Instants:
    """Moments at which a plan looks, in and next to the dark, with the target up."""
    noons = sky.span.noons
    all_times = [
        noons[n] + np.arange((a - noons[n]) // _STEP, -((noons[n] - b) // _STEP) + 1) * _STEP
        for n, a, b in zip(dark.night.tolist(), dark.start, dark.end, strict=True)
    ]
    if not all_times:
        return np.zeros(0, "datetime64[us]")
    times = np.unique(np.concatenate(all_times))
    return np.asarray(times[worth_looking(sky.scene, times)])


def any_of(parts: Sequence[NightSpans]) -> NightSpans:
    """Where at least one of several holds, joined within each night."""
    all_of = _gathered(parts)
    if not all_of.night.size:
        return all_of
    order = np.argsort(all_of.start, kind="stable")
    night, start, end = (column[order] for column in all_of)
    reached = np.maximum.accumulate(end)
    apart = (start[1:] > reached[:-1]) | (night[1:] != night[:-1])
    begins = np.append(True, apart)
    return NightSpans(night[begins], start[begins], reached[np.append(apart, True)])


def _gathered(parts: Sequence[NightSpans]) -> NightSpans:
    if not parts:
        nothing = np.zeros(0, "datetime64[us]")
        return NightSpans(np.zeros(0, np.intp), nothing, nothing)
    return NightSpans(
        np.concatenate([part.night for part in parts]),
        np.concatenate([part.start for part in parts]),
        np.concatenate([part.end for part in parts]),
    )
