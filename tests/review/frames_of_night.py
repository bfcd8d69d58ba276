"""Frames of a night rendered from known places, by a clock and a compass known to be wrong.

Stars come from Astropy and the lens from `real_sky.Held`, as there; the land is dark below a
ridge that the test invents, the subject a dark box on its base. Nothing of the package's own
finding, fitting or terrain draws here; from it come the plan and the base's altitude only.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from real_sky import Held, catalogue_seen, render
from star_fields import angle, ratio, save, stored

from backbearing.camera.framing import Frame

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.plan.plan import Plan
    from backbearing.plan.stand import LensPlan

LAND = 0.0006


@dataclass(frozen=True)
class Truth:
    """What a night's frames were taken with, beside its plan.

    ``left_m`` and ``farther_m`` as one faces the subject from the planned stand, ``lower_m`` of
    the ground there, ``ridge`` from true azimuths to altitudes of the land's edge, degrees.
    """

    left_m: float = 0.0
    farther_m: float = 0.0
    lower_m: float = 0.0
    height_m: float = 7.0
    width_m: float = 6.0
    clock_ahead_s: float = 0.0
    compass_off_deg: float = 0.0
    aimed_off_deg: tuple[float, float, float] = (0.7, -0.4, 0.8)
    focal: float = 1.01
    ridge: Callable[[NDArray[Any]], NDArray[Any]] = lambda azimuth: np.full_like(azimuth, -90.0)


def looked_at(held: Held, columns: Any, rows: Any) -> tuple[NDArray[Any], NDArray[Any]]:
    """`Held.pixels` undone, for a lens without distortion: true azimuths and altitudes."""
    pitch = held.sensor_mm / held.width_px
    x = (columns - (held.width_px - 1) / 2.0) * pitch / held.focal_mm
    y = ((held.height_px - 1) / 2.0 - rows) * pitch / held.focal_mm
    h, p, r = np.radians([held.azimuth_deg, held.pitch_deg, held.roll_deg])
    ahead = np.array([np.sin(h) * np.cos(p), np.cos(h) * np.cos(p), np.sin(p)])
    level = np.array([np.cos(h), -np.sin(h), 0.0])
    upright = np.cross(level, ahead)
    right = level * np.cos(r) - upright * np.sin(r)
    up = upright * np.cos(r) + level * np.sin(r)
    east, north, over = (ahead[i] + right[i] * x + up[i] * y for i in range(3))
    return (
        np.degrees(np.arctan2(east, north)) % 360.0,
        np.degrees(np.arctan2(over, np.hypot(east, north))),
    )


def base_deg(plan: Plan, lens: LensPlan) -> float:
    """Altitude of the subject's base in the planned frame."""
    stand = lens.stand
    aimed = Frame(plan.camera, lens.lens, stand.pitch_deg, stand.bearing_deg)
    return float(aimed.direction(0.5, stand.base_margin)[1])


def frame_of(
    folder: Path, plan: Plan, lens: LensPlan, truth: Truth, *, wide_px: int = 1500,
    name: str = "", seed: int = 1, **exif: Any,
) -> tuple[Path, dict[str, Any]]:  # fmt: skip
    """Render one lens's turn as taken from where the truth says; what is true of it beside."""
    stand, camera = lens.stand, plan.camera
    time = stand.time.replace(microsecond=0)
    away = stand.distance_m + truth.farther_m
    bearing = stand.bearing_deg + math.degrees(math.atan2(truth.left_m, away))
    distance = math.hypot(away, truth.left_m)
    off = truth.aimed_off_deg
    wide = round(wide_px / 1.5) if camera.frame_height_mm > camera.frame_width_mm else wide_px
    held = Held(
        azimuth_deg=bearing + off[0],
        pitch_deg=stand.pitch_deg + off[1],
        roll_deg=off[2],
        focal_mm=lens.lens.focal_length_mm * truth.focal,
        width_px=wide,
        height_px=round(wide * camera.frame_height_mm / camera.frame_width_mm),
        sensor_mm=camera.frame_width_mm,
    )
    site = {"lat": stand.lat, "lon": stand.lon, "height_m": stand.ground_m}
    image = render(
        held, *catalogue_seen(**site, time=time + dt.timedelta(seconds=0.25)),
        horizon_deg=-90.0, more_stars=200, seed=seed,
    )  # fmt: skip
    base_up = stand.distance_m * math.tan(math.radians(base_deg(plan, lens))) + truth.lower_m
    dark = _dark(held, truth, bearing=bearing, distance=distance, base_up=base_up)
    rng = np.random.default_rng(seed)
    image[dark] = LAND * (1.0 + 0.2 * rng.standard_normal(int(dark.sum())))
    shown = time + dt.timedelta(seconds=truth.clock_ahead_s)
    file = save(
        folder / (name or f"lens{seed}.jpg"),
        stored(image),
        shutter=ratio(0.5),
        time=shown.strftime("%Y:%m:%d %H:%M:%S"),
        offset="+00:00",
        focal=ratio(lens.lens.focal_length_mm),
        f_number=ratio(lens.lens.f_number),
        **exif,
    )
    return file, {"bearing_deg": bearing, "distance_m": distance, "held": held}


def _dark(
    held: Held, truth: Truth, *, bearing: float, distance: float, base_up: float
) -> NDArray[np.bool_]:
    """Land and subject, strip by strip of rows."""
    top_deg = math.degrees(math.atan2(base_up + truth.height_m, distance))
    foot_deg = math.degrees(math.atan2(base_up, distance))
    half = math.degrees(math.atan2(truth.width_m / 2.0, distance))
    dark = np.zeros((held.height_px, held.width_px), dtype=bool)
    columns = np.arange(held.width_px, dtype=float)[None, :]
    for top in range(0, held.height_px, 200):
        rows = np.arange(top, min(top + 200, held.height_px), dtype=float)[:, None]
        azimuth, altitude = looked_at(held, columns, rows)
        aside = (azimuth - bearing + 180.0) % 360.0 - 180.0
        land = altitude < np.maximum(foot_deg, truth.ridge(azimuth))
        dark[top : top + 200] = land | ((np.abs(aside) < half) & (altitude < top_deg))
    return dark


def compass(azimuth_deg: float, *, ref: str = "T") -> dict[str, Any]:
    """EXIF of a camera's own compass [CIPA-DC-008]_."""
    return {"gps_16": ref, "gps_17": ratio(azimuth_deg % 360.0, 100)}


def receiver(lat: float, lon: float, error_m: float) -> dict[str, Any]:
    """EXIF of a receiver's place and how far off it says to be."""
    return {
        "gps_1": "N" if lat >= 0.0 else "S",
        "gps_2": angle(lat),
        "gps_3": "E" if lon >= 0.0 else "W",
        "gps_4": angle(lon),
        "gps_31": ratio(error_m),
    }
