"""What holds in each stretch of a season: the target's path, lean, band, Moon and twilight."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np

from backbearing.plan.season import Stretch, StretchBand, StretchMoon, StretchPath
from backbearing.sky.band import band_share_up
from backbearing.sky.directions import direction
from backbearing.sky.glow import twilight_brightening_mag
from backbearing.sky.instants import utc_array
from backbearing.sky.lean import has_lean, lean_deg
from backbearing.sky.moonlight import MOON_RADIUS_DEG, WELCOME_MAG, light_side, moonlight_at

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from backbearing.plan.stand import Span
    from backbearing.sky.moonlight import Moonlight
    from backbearing.sky.window_reasons import Asked
    from backbearing.sky.windows import DarkWindow
    from backbearing.terrain.horizon import Horizon

    Floats = NDArray[np.float64]
    Instants = NDArray[np.datetime64]

SAMPLES = 9
"""Moments of a stretch that are looked at, its ends and middle among them."""

_MIDDLE = SAMPLES // 2
_ENDS = ("start", "end")

GLOW_SAMPLES = 33
"""Moments of a night at which twilight is looked at while the target is clear."""


def stretches_of(
    asked: Asked, horizon: Horizon, windows: Sequence[DarkWindow]
) -> tuple[Stretch, ...]:
    """Describe each window; every quantity at all moments of all windows at once."""
    if not windows:
        return ()
    times = _moments(windows)
    place = _place(asked)
    azimuth, altitude = direction(asked.target, **place, times=times)
    path = _path(horizon, azimuth, altitude)
    band = _band(asked, horizon, times)
    moons = _moons(asked, horizon, times, azimuth[:, _MIDDLE])
    ends = times[:, [0, -1]]
    glow = twilight_brightening_mag(asked.target, **place, times=ends, low_skyline=True).max(axis=1)
    return tuple(
        Stretch(
            start=window.start.astimezone(dt.UTC),
            end=window.end.astimezone(dt.UTC),
            minutes=window.minutes,
            path=StretchPath(**_row(path, i)),
            band=StretchBand(**_row(band, i)),
            moon=moons[i],
            glow_adds_mag=float(glow[i]),
        )
        for i, window in enumerate(windows)
    )


def _row(columns: dict[str, Floats], i: int) -> dict[str, float]:
    return {name: float(values[i]) for name, values in columns.items()}


def _place(asked: Asked) -> dict[str, Any]:
    span = asked.span
    return {"lat": span.lat, "lon": span.lon, "height_m": span.height_m}


def _moments(windows: Sequence[DarkWindow]) -> Instants:
    """Instants (windows, samples), evenly spread, both ends included."""
    start, end = (utc_array([getattr(w, side) for w in windows]) for side in ("start", "end"))
    share = np.linspace(0.0, 1.0, SAMPLES)
    step = (end - start).astype(np.int64)[:, None] * share
    return np.asarray(start[:, None] + np.rint(step).astype("timedelta64[us]"))


def _path(horizon: Horizon, azimuth: Floats, altitude: Floats) -> dict[str, Floats]:
    """The target in each window, (windows,) under `StretchPath`'s names."""
    return {
        "azimuth_start_deg": azimuth[:, 0],
        "azimuth_end_deg": azimuth[:, -1],
        "altitude_start_deg": altitude[:, 0],
        "altitude_end_deg": altitude[:, -1],
        "highest_deg": altitude.max(axis=1),
        "clearance_deg": altitude[:, _MIDDLE] - horizon.altitude_at(azimuth[:, _MIDDLE]),
    }


def _band(asked: Asked, horizon: Horizon, times: Instants) -> dict[str, Floats]:
    """The Milky Way in each window, (windows,) under `StretchBand`'s names."""
    lean = _lean(asked, times[:, [0, _MIDDLE, -1]])
    return {
        "lean_start_deg": lean[:, 0],
        "lean_middle_deg": lean[:, 1],
        "lean_end_deg": lean[:, 2],
        "share_up": band_share_up(**_place(asked), times=times[:, _MIDDLE], horizon=horizon),
    }


def _moons(asked: Asked, horizon: Horizon, times: Instants, sight_deg: Floats) -> list[StretchMoon]:
    """The Moon in each window, and from where it lights what is in front of the sight line."""
    moon = moonlight_at(asked.target, **_place(asked), times=times, low_skyline=True)
    over_ridge, shone = _past_the_ridge(horizon, moon)
    adds = moon.brightening_mag.max(axis=1)
    welcome = (shone & moon.welcome)[:, _MIDDLE] & (adds <= WELCOME_MAG)
    lux = {"ground_lux": moon.ground_lux, "face_lux": moon.face_lux}
    columns = {
        "lit": moon.lit[:, _MIDDLE],
        "adds_mag": adds,
        "separation_deg": moon.separation_deg[:, _MIDDLE],
        "altitude_deg": moon.altitude_deg[:, _MIDDLE],
        "over_ridge_deg": over_ridge[:, _MIDDLE],
    } | {name: np.where(shone, light, 0.0)[:, _MIDDLE] for name, light in lux.items()}
    found = []
    for i in range(len(times)):
        one = _row(columns, i)
        side = light_side(
            moon_azimuth_deg=float(moon.azimuth_deg[i, _MIDDLE]),
            moon_altitude_deg=one["altitude_deg"],
            sight_azimuth_deg=float(sight_deg[i]),
            moon_over_ridge_deg=one["over_ridge_deg"],
        )
        words = {"turn_deg": side.turn_deg, "light_from": str(side), "welcome": bool(welcome[i])}
        found.append(StretchMoon(**one, **words))  # type: ignore[arg-type]  # by their names
    return found


def _past_the_ridge(horizon: Horizon, moon: Moonlight) -> tuple[Floats, NDArray[np.bool_]]:
    """The Moon's centre over the skyline, degrees, and whether any of its disc shines past it."""
    skyline = np.asarray(horizon.altitude_at(moon.azimuth_deg), dtype=np.float64)
    over = moon.altitude_deg - skyline
    return over, ~(over <= -MOON_RADIUS_DEG)


def least_glow_mag(asked: Asked, clear: Sequence[Sequence[Span]]) -> Floats:
    """Least that twilight brightens the target's sky while it is clear, for each night (n,).

    NaN for a night in which the target is never clear, or only with the Sun above -4 degrees.
    """
    least = np.full(len(clear), np.nan)
    owner = [night for night, spans in enumerate(clear) for _ in spans]
    if not owner:
        return least
    ends = [utc_array([getattr(s, side) for spans in clear for s in spans]) for side in _ENDS]
    step = (ends[1] - ends[0]).astype(np.int64)[:, None] * np.linspace(0.0, 1.0, GLOW_SAMPLES)
    times = ends[0][:, None] + np.rint(step).astype("timedelta64[us]")
    span = asked.span
    glow = twilight_brightening_mag(
        asked.target,
        lat=span.lat,
        lon=span.lon,
        height_m=span.height_m,
        times=times,
        low_skyline=True,
    )
    np.fmin.at(least, np.array(owner), np.fmin.reduce(glow, axis=1))
    return least


def _lean(asked: Asked, times: Instants) -> Floats:

    if not has_lean(asked.target):
        return np.full(times.shape, np.nan)
    span = asked.span
    return lean_deg(asked.target, lat=span.lat, lon=span.lon, height_m=span.height_m, times=times)
