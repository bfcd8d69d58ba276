"""What holds at each crossing: altitudes, Moon and twilight, spoilers, and every lens's frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.alignment.stand.behind_subject import (
    SubjectPlane,
    asked_behind,
    gap_m,
    hidden_by_subject,
)
from backbearing.alignment.stand.target_place import PlaceInFrame
from backbearing.base.angles import wrap_180_deg
from backbearing.camera.angles import subject_angle_deg
from backbearing.camera.framing import frame_position
from backbearing.plan.crossing import Crossing, CrossingTarget, InFrame, Spoiler
from backbearing.sky.darkness import conditions_of
from backbearing.sky.directions import direction
from backbearing.sky.glow import twilight_brightening_mag
from backbearing.sky.lean import has_lean, lean_deg
from backbearing.sky.moonlight import moonlight_at
from backbearing.sky.nights import SUNRISE_ALTITUDE_DEG, sun_above
from backbearing.sky.zones import evening_of, locals_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.camera.bodies_and_lenses import Camera, Lens
    from backbearing.outing.subject import Framing, Subject
    from backbearing.plan.crossing import SubjectLine
    from backbearing.sky.nights import NightSpan
    from backbearing.sky.targets import Target
    from backbearing.sky.window_reasons import Asked

    Floats = NDArray[np.float64]
    Instants = NDArray[np.datetime64]


@dataclass(frozen=True, slots=True)
class CrossingSearch:
    """A search from a stand, with what is known of the ground there.

    Attributes
    ----------
    sky : Asked
        Nights, place, target and what counts as dark.
    bearing_deg, distance_m : float
        From the stand to the subject.
    subject : SubjectLine
    thing : Subject
        The subject itself.
    within_deg : float
        Angle in azimuth that counts as behind the subject.
    has_ground : bool
        Whether there is a raster to see ridges in.
    clear_by_deg : float
        Margin over the terrain skyline.
    camera, lenses, framing
        For the frames; none without a camera.
    """

    sky: Asked
    bearing_deg: float
    distance_m: float
    subject: SubjectLine
    thing: Subject
    within_deg: float
    has_ground: bool
    clear_by_deg: float
    camera: Camera | None
    lenses: tuple[Lens, ...]
    framing: Framing

    @property
    def span(self) -> NightSpan:
        """The nights and the place."""
        return self.sky.span

    @property
    def target(self) -> Target:
        """What is behind."""
        return self.sky.target

    @property
    def place(self) -> dict[str, Any]:
        """Where the stand is, as the sky's functions ask for it."""
        return {"lat": self.span.lat, "lon": self.span.lon, "height_m": self.span.height_m}


def described(
    search: CrossingSearch, exact: Instants, starts: Instants, ends: Instants
) -> list[Crossing]:
    """Make each instant a `Crossing`: all arrays at once, then row by row."""
    if exact.size == 0:
        return []
    zone = search.span.zone
    facts = _facts(search, exact)
    spoilers = _spoilers(search, exact, facts)
    frames = _frames(search, facts["azimuth_deg"], facts["altitude_deg"])
    times, begin, end = (locals_of(v, zone) for v in (exact, starts, ends))
    minutes = (ends - starts) / np.timedelta64(60, "s")
    return [
        Crossing(
            time=times[i],
            evening=evening_of(times[i], zone),
            target=CrossingTarget(**{key: float(values[i]) for key, values in facts.items()}),
            subject=search.subject,
            start=begin[i],
            end=end[i],
            minutes_within=float(minutes[i]),
            frames=frames[i],
            spoilt_by=spoilers[i],
        )
        for i in range(exact.size)
    ]


def _facts(search: CrossingSearch, exact: Instants) -> dict[str, Floats]:
    """Numbers of each crossing, arrays (n,) under the names of `CrossingTarget`'s fields."""
    target, place = search.target, search.place
    azimuth, altitude = direction(target, **place, times=exact)
    half = np.timedelta64(30, "s")
    before, after = (direction(target, **place, times=exact + d)[0] for d in (-half, half))
    leaning = np.full(exact.shape, np.nan)
    if has_lean(target):
        leaning = lean_deg(target, **place, times=exact)
    return {
        "azimuth_deg": azimuth,
        "altitude_deg": altitude,
        "over_top_deg": altitude - search.subject.top_deg,
        "turn_deg_per_minute": wrap_180_deg(after - before),
        "clearance_deg": altitude - search.subject.skyline_deg,
        "lean_deg": leaning,
        "moon_adds_mag": moonlight_at(target, **place, times=exact).brightening_mag,
        "glow_adds_mag": twilight_brightening_mag(target, **place, times=exact),
    }


def _spoilers(
    search: CrossingSearch, exact: Instants, facts: dict[str, Floats]
) -> list[tuple[Spoiler, ...]]:
    found = conditions_of(search.sky)
    day = sun_above(search.span, SUNRISE_ALTITUDE_DEG).holds(exact)
    with np.errstate(invalid="ignore"):
        ridge = facts["clearance_deg"] < search.clear_by_deg
    holds: dict[Spoiler, NDArray[np.bool_]] = {
        "daylight": day,
        "twilight": ~found.dark.holds(exact) & ~day,
        "moon": ~found.moon.holds(exact) & ~day,
        "ridge": ridge,
        "unknown ground": ~np.isfinite(facts["clearance_deg"]) & search.has_ground,
        "subject": _behind(search, facts),
    }
    return [tuple(c for c, flags in holds.items() if flags[i]) for i in range(exact.size)]


def _behind(search: CrossingSearch, facts: dict[str, Floats]) -> NDArray[np.bool_]:
    """Whether the subject hides the target right behind it, and the framing asks for no such thing.

    What a frame of its own asks for differs from lens to lens: a box in it is not asked here.
    """
    framing, line = search.framing, search.subject
    low, top = (np.tan(np.radians(v)) for v in (line.base_deg, line.top_deg))
    tall = search.thing.height_m
    up = tall * (np.tan(np.radians(facts["altitude_deg"])) - low) / (top - low)
    gap = gap_m(framing, np.asarray(search.distance_m))
    hidden = hidden_by_subject(search.thing, SubjectPlane(np.zeros_like(up), up), gap)
    return hidden & ~asked_behind(framing, np.zeros(()))


def _frames(search: CrossingSearch, azimuth: Floats, altitude: Floats) -> list[tuple[InFrame, ...]]:
    """Where each lens puts the target at each crossing, its frame's base at the margin."""
    if search.camera is None:
        return [()] * azimuth.size

    framing, edge = search.framing, search.framing.edge_margin
    columns: list[list[InFrame]] = []
    for lens in search.lenses:
        angle = subject_angle_deg(search.camera, lens, framing.share, framing.base_margin)
        aim = {
            "axis_azimuth_deg": search.bearing_deg,
            "pitch_deg": 0.0 if framing.level else search.subject.base_deg - angle.base_deg,
        }
        x, y = frame_position(
            search.camera, lens, **aim, azimuth_deg=azimuth, altitude_deg=altitude
        )
        _, ends = frame_position(
            search.camera, lens, **aim, azimuth_deg=search.bearing_deg,
            altitude_deg=np.array([search.subject.base_deg, search.subject.top_deg]),
        )  # fmt: skip
        inside = PlaceInFrame(edge, edge, 1.0 - edge, 1.0 - edge).room(x, y) >= 0.0
        share = float(ends[1] - ends[0])
        columns.append(
            [
                InFrame(lens.label, share, float(a), float(b), bool(held))
                for a, b, held in zip(x, y, inside, strict=True)
            ]
        )
    return list(zip(*columns, strict=True)) if columns else [()] * azimuth.size
