"""What holds at each crossing: altitudes, Moon and twilight, spoilers, and every lens's frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.camera.angles import subject_angle_deg
from backbearing.camera.framing import frame_position
from backbearing.plan.crossing import Crossing, InFrame, Spoiler
from backbearing.sky import window_reasons
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
    from backbearing.outing.subject import Framing
    from backbearing.sky.nights import Span
    from backbearing.sky.targets import Target

    Floats = NDArray[np.float64]
    Instants = NDArray[np.datetime64]


@dataclass(frozen=True)
class Asked:
    """A search from a stand, with what is known of the ground there."""

    span: Span
    target: Target
    bearing_deg: float
    distance_m: float
    within_deg: float
    base_deg: float
    top_deg: float
    skyline_deg: float
    has_ground: bool
    clear_by_deg: float
    sun_below_deg: float
    moon: Any
    moon_adds_mag: float | None
    camera: Camera | None
    lenses: tuple[Lens, ...]
    framing: Framing


def described(asked: Asked, exact: Instants, starts: Instants, ends: Instants) -> list[Crossing]:
    """Make each instant a `Crossing`: all arrays at once, then row by row."""
    if exact.size == 0:
        return []
    zone = asked.span.zone
    facts = _facts(asked, exact)
    spoilers = _spoilers(asked, exact, facts)
    frames = _frames(asked, facts["azimuth_deg"], facts["altitude_deg"])
    times, begin, end = (locals_of(v, zone) for v in (exact, starts, ends))
    minutes = (ends - starts) / np.timedelta64(60, "s")
    return [
        Crossing(
            time=times[i],
            evening=evening_of(times[i], zone),
            start=begin[i],
            end=end[i],
            minutes_within=float(minutes[i]),
            subject_base_deg=asked.base_deg,
            subject_top_deg=asked.top_deg,
            skyline_deg=asked.skyline_deg,
            frames=frames[i],
            spoilt_by=spoilers[i],
            **{key: float(values[i]) for key, values in facts.items()},
        )
        for i in range(exact.size)
    ]


def _facts(asked: Asked, exact: Instants) -> dict[str, Floats]:
    """Numbers of each crossing, arrays (n,) under the names of `Crossing`'s fields."""
    span = asked.span
    place: dict[str, Any] = {"lat": span.lat, "lon": span.lon, "height_m": span.height_m}
    azimuth, altitude = direction(asked.target, **place, times=exact)
    half = np.timedelta64(30, "s")
    before, after = (direction(asked.target, **place, times=exact + d)[0] for d in (-half, half))
    leaning = np.full(exact.shape, np.nan)
    if has_lean(asked.target):
        leaning = lean_deg(asked.target, **place, times=exact)
    return {
        "azimuth_deg": azimuth,
        "altitude_deg": altitude,
        "over_top_deg": altitude - asked.top_deg,
        "turn_deg_per_minute": wrap_180_deg(after - before),
        "clearance_deg": altitude - asked.skyline_deg,
        "lean_deg": leaning,
        "moon_adds_mag": moonlight_at(asked.target, **place, times=exact).brightening_mag,
        "glow_adds_mag": twilight_brightening_mag(asked.target, **place, times=exact),
    }


def _spoilers(asked: Asked, exact: Instants, facts: dict[str, Floats]) -> list[tuple[Spoiler, ...]]:
    found = conditions_of(
        window_reasons.Asked(
            asked.span, asked.target, asked.sun_below_deg, asked.moon, 0.0, None,
            asked.moon_adds_mag,
        )
    )  # fmt: skip
    day = sun_above(asked.span, SUNRISE_ALTITUDE_DEG).holds(exact)
    with np.errstate(invalid="ignore"):
        ridge = facts["clearance_deg"] < asked.clear_by_deg
    holds: dict[Spoiler, NDArray[np.bool_]] = {
        "daylight": day,
        "twilight": ~found.dark.holds(exact) & ~day,
        "moon": ~found.moon.holds(exact) & ~day,
        "ridge": ridge,
        "unknown ground": ~np.isfinite(facts["clearance_deg"]) & asked.has_ground,
        "subject": facts["over_top_deg"] < 0.0,
    }
    return [tuple(c for c, flags in holds.items() if flags[i]) for i in range(exact.size)]


def _frames(asked: Asked, azimuth: Floats, altitude: Floats) -> list[tuple[InFrame, ...]]:
    """Where each lens puts the target at each crossing, its frame's base at the margin."""
    if asked.camera is None:
        return [()] * azimuth.size

    framing, edge = asked.framing, asked.framing.edge_margin
    columns: list[list[InFrame]] = []
    for lens in asked.lenses:
        angle = subject_angle_deg(asked.camera, lens, framing.share, framing.base_margin)
        aim = {
            "axis_azimuth_deg": asked.bearing_deg,
            "pitch_deg": 0.0 if framing.level else asked.base_deg - angle.base_deg,
        }
        x, y = frame_position(asked.camera, lens, **aim, azimuth_deg=azimuth, altitude_deg=altitude)
        _, ends = frame_position(
            asked.camera, lens, **aim, azimuth_deg=asked.bearing_deg,
            altitude_deg=np.array([asked.base_deg, asked.top_deg]),
        )  # fmt: skip
        inside = (edge <= x) & (x <= 1.0 - edge) & (edge <= y) & (y <= 1.0 - edge)
        share = float(ends[1] - ends[0])
        columns.append(
            [
                InFrame(lens.label, share, float(a), float(b), bool(held))
                for a, b, held in zip(x, y, inside, strict=True)
            ]
        )
    return list(zip(*columns, strict=True)) if columns else [()] * azimuth.size
