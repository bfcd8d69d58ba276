"""Planets and the Moon in a frame: place, brightness, size and phase."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.angles import azimuth_altitude_of, east_north_up
from backbearing.base.constants import MOON_RADIUS_M
from backbearing.plan.view import MoonDisc, Planet
from backbearing.sky.directions import FixedOnEarth, air_factor_at, seen_altitude
from backbearing.sky.glow import twilight_brightening_mag
from backbearing.sky.moonlight import moonlight_at
from backbearing.sky.places import ephemeris, timescale
from backbearing.sky.targets import BODIES, Target

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from backbearing.camera.framing import Frame
    from backbearing.plan.behind import BehindFacts
    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import Stand

    Floats = NDArray[np.float64]

PLANETS: Final = ("mercury", "venus", "mars", "jupiter", "saturn")

LIMB_STEP_DEG: Final = 0.25
"""The Moon's own radius: what the picture's scale and its bright limb are taken over."""

BRIGHTEST_MAG: Final = 8.0
"""Skies brightened by more are drawn alike: no Milky Way is left in them."""


def planets_in(frame: Frame, stand: Stand, height_m: float) -> tuple[Planet, ...]:
    """Find the five bright planets that lie in the frame."""
    found = []
    for name in PLANETS:
        azimuth, altitude = _body_at(name, stand.time).seen_from(
            lat=stand.lat, lon=stand.lon, height_m=height_m
        )
        x, y = frame.place(float(azimuth[0]), float(altitude[0]))
        if altitude[0] > -1.0 and 0.0 <= x <= 1.0 and 0.0 <= y <= 1.0:
            found.append(Planet(name, x, y, planet_magnitude(name, stand.time)))
    return tuple(found)


@lru_cache(maxsize=64)
def _body_at(name: str, time: dt.datetime) -> FixedOnEarth:
    """A body on axes fixed to the Earth: looked up once for all lenses of a minute."""
    return FixedOnEarth.of(Target.body(name), [time])


@lru_cache(maxsize=64)
def planet_magnitude(name: str, time: dt.datetime) -> float:
    """V magnitude of a planet [Mallama2018]_, as Skyfield computes it."""
    from skyfield.magnitudelib import planetary_magnitude

    kernel = ephemeris()
    seen = kernel["earth"].at(timescale().from_datetime(time)).observe(kernel[BODIES[name]])
    return float(planetary_magnitude(seen))


def moon_disc(frame: Frame, stand: Stand, height_m: float) -> MoonDisc | None:
    """Place the Moon's disc with its phase; None when it is out of the frame."""
    place: dict[str, Any] = {"lat": stand.lat, "lon": stand.lon, "height_m": height_m}
    moon = np.array(_body_at("moon", stand.time).seen_from(**place))[:, 0]
    x, y = frame.place(*moon.tolist())
    if not (moon[1] > -1.0 and -0.05 <= x <= 1.05 and -0.05 <= y <= 1.05):
        return None
    true_moon, true_sun = (
        np.array(_body_at(body, stand.time).seen_from(**place, refraction=False))[:, 0]
        for body in ("moon", "sun")
    )
    # The lit limb points along the great circle towards the Sun, without air: a short step along
    # it is bent by the air and drawn. The disc is as wide as such a step is where it is seen.
    air = air_factor_at(np.asarray(height_m, dtype=np.float64))
    azimuth, altitude = _towards(true_moon, true_sun, LIMB_STEP_DEG)
    x1, y1 = frame.place(azimuth, float(seen_altitude(np.asarray(altitude), air)))
    x2, y2 = frame.place(*_towards(moon, true_sun, LIMB_STEP_DEG))
    wide = frame.camera.frame_width_mm / frame.camera.frame_height_mm
    side = math.degrees(math.atan2(y1 - y, (x1 - x) * wide))
    scale = math.hypot((x2 - x) * wide, y2 - y) / LIMB_STEP_DEG
    radius_deg, lit = _moon_from(stand, height_m)
    return MoonDisc(x, y, scale * radius_deg, lit, side)


def sky_adds_mag(plan: Plan, stand: Stand, height_m: float) -> float:
    """By how much Moon and twilight together brighten the sky at the target, magnitudes.

    Their light is added; at most `BRIGHTEST_MAG`, which also stands where no model holds: on
    the Moon's disc, and with the Sun less than 4 degrees down.
    """
    there: dict[str, Any] = {"lat": stand.lat, "lon": stand.lon, "height_m": height_m}
    moon = moonlight_at(plan.target, **there, times=[stand.time]).brightening_mag
    glow = twilight_brightening_mag(plan.target, **there, times=[stand.time])
    added = float(10.0 ** (0.4 * moon[0]) + 10.0 ** (0.4 * glow[0]) - 1.0)
    return min(2.5 * math.log10(added), BRIGHTEST_MAG) if math.isfinite(added) else BRIGHTEST_MAG


def with_towns_mag(added_mag: float, behind: BehindFacts | None) -> float:
    """Add what towns brighten the natural sky by, where that is known by direction, magnitudes.

    At most `BRIGHTEST_MAG`.
    """
    if behind is None or "towns" not in behind.behind_from:
        return added_mag
    ratio = behind.behind_towns_cd_m2 / behind.behind_natural_cd_m2
    if not math.isfinite(ratio):
        return added_mag
    return min(2.5 * math.log10(10.0 ** (0.4 * added_mag) + ratio), BRIGHTEST_MAG)


def _towards(start: Floats, end: Floats, step_deg: float) -> tuple[float, float]:
    """Azimuth and altitude a step along the great circle from one direction to another."""
    a, b = (east_north_up(azimuth_deg=az, altitude_deg=alt) for az, alt in (start, end))
    across = b - a * float(a @ b)
    across /= np.linalg.norm(across)
    step = math.radians(step_deg)
    v = a * math.cos(step) + across * math.sin(step)
    azimuth, altitude = azimuth_altitude_of(*v)
    return float(azimuth), float(altitude)


def _moon_from(stand: Stand, height_m: float) -> tuple[float, float]:
    """Angular radius, degrees, and lit fraction of the Moon as the stand itself sees it."""
    from skyfield.api import wgs84

    kernel, when = ephemeris(), timescale().from_datetime(stand.time)
    place = kernel["earth"] + wgs84.latlon(stand.lat, stand.lon, elevation_m=height_m)
    seen = place.at(when).observe(kernel["moon"])
    radius_deg = math.degrees(math.asin(MOON_RADIUS_M / float(seen.distance().m)))
    return radius_deg, float(seen.fraction_illuminated(kernel["sun"]))
