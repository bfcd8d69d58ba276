"""Scouting's minutes against a plain minute scan with Skyfield and school trigonometry.

Sun, Moon and the core come from Skyfield and JPL's DE421 (an independent library); the
stand, the tilt and the frame from plane trigonometry on level ground. The ridge of level
ground is the sea horizon's dip. Only minutes are compared: the scan itself is good to one.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import geopandas
import numpy as np
import pytest
from affine import Affine

from backbearing.scouting import Candidates, ScoutRequest, scout
from backbearing.terrain import Elevation

if TYPE_CHECKING:
    from backbearing.outing.request import Outing

LAT, LON, GROUND_M = 36.0, -84.0, 100.0
FIRST, NIGHTS = dt.date(2027, 6, 23), 6
CORE_ICRS_DEG = 266.41683708, -29.00781056  # Sgr A*, Reid & Brunthaler 2004, ApJ 616, 872


@pytest.fixture(scope="module")
def sky() -> dict[str, np.ndarray]:
    """Altitudes at every minute: Sun and Moon's limb without air, the core with it."""
    from skyfield.api import Star, load, load_file, wgs84

    spec = find_spec("skyfield_data")
    assert spec is not None
    assert spec.origin is not None
    planets = load_file(str(Path(spec.origin).parent / "data" / "de421.bsp"))
    scale = load.timescale(builtin=True)
    noon = dt.datetime.combine(FIRST, dt.time(12), tzinfo=ZoneInfo("America/New_York"))
    start = noon.astimezone(dt.UTC)
    minutes = np.arange(NIGHTS * 1440) + 0.5
    times = scale.utc(start.year, start.month, start.day, start.hour, start.minute + minutes)
    here = planets["earth"] + wgs84.latlon(LAT, LON, elevation_m=GROUND_M)
    ra, dec = CORE_ICRS_DEG
    core = Star(ra_hours=ra / 15.0, dec_degrees=dec)
    seen = here.at(times)
    sun = seen.observe(planets["sun"]).apparent().altaz()[0].degrees
    moon, _, away = seen.observe(planets["moon"]).apparent().altaz()
    limb = moon.degrees + np.degrees(np.arcsin(1737.4 / away.km))
    up = seen.observe(core).apparent().altaz(temperature_C=14.0, pressure_mbar=1001.0)[0].degrees
    planets.close()
    return {"dark": (sun < -18.0) & (limb < -34.0 / 60.0), "altitude": up}


def level_frame(focal_mm: float, height_m: float, eye_m: float, share: float, margin: float):
    """Pitch of a lens on level ground and altitude of the top, degrees: distance by bisection."""
    half = 12.0
    low_mm = (margin - 0.5) * 2.0 * half
    high_mm = low_mm + share * 2.0 * half
    angle = math.atan2(high_mm, focal_mm) - math.atan2(low_mm, focal_mm)
    near, far = math.sqrt(eye_m * (height_m - eye_m)), 1e4
    for _ in range(200):
        middle = 0.5 * (near + far)
        wide = math.atan2(height_m - eye_m, middle) + math.atan2(eye_m, middle)
        near, far = (middle, far) if wide > angle else (near, middle)
    pitch = math.degrees(-math.atan2(eye_m, near) - math.atan2(low_mm, focal_mm))
    return pitch, math.degrees(math.atan2(height_m - eye_m, near))


def test_minutes_agree_with_a_minute_scan(deep_valley: Outing, sky: dict[str, np.ndarray]) -> None:
    outing = deep_valley
    cell = 1.0 / 1200.0
    transform = Affine(cell, 0, LON - 60.5 * cell, 0, -cell, LAT + 60.5 * cell)
    level = Elevation.from_array(np.full((121, 121), GROUND_M), transform, "EPSG:4326")
    table = {"id": ["row 1"], "name": ["tree"], "kind": ["tree"], "access": ["open"], "note": [""]}
    sizes = {"height_m": [6.0], "width_m": [4.0]}
    guess = {"height_is_guess": [False], "width_is_guess": [False]}
    points = geopandas.points_from_xy([LON], [LAT])
    frame = geopandas.GeoDataFrame({**table, **sizes, **guess}, geometry=points, crs=4326)
    asked = replace(
        outing,
        ground=replace(outing.ground, places=None),
        night=replace(outing.night, time_zone="America/New_York"),
        session=None,
        scouting=ScoutRequest(),
    )
    found = scout(
        asked,
        Candidates(frame, frame.iloc[:0], (), "one tree"),
        first_night=FIRST,
        nights=NIGHTS,
        processes=1,
        elevation=level,
    )
    framing = outing.framing
    dip = -math.degrees(math.sqrt(2.0 * framing.eye_height_m * 0.87 / 6_371_008.8))
    short = 0
    for j, one in enumerate(outing.lenses):
        focal = one.lens.focal_length_mm
        eye_m = framing.eye_height_m
        pitch, top = level_frame(focal, 6.0, eye_m, one.share or framing.share, framing.base_margin)
        y = 0.5 + focal * np.tan(np.radians(sky["altitude"] - pitch)) / 24.0
        ahead = np.abs(sky["altitude"] - pitch) < 90.0
        good = sky["dark"] & ahead & (y >= 0.05) & (y <= 0.95)
        good &= sky["altitude"] - dip >= outing.night.clear_by_deg
        # Lower than its top the tree itself stands before the core.
        good &= sky["altitude"] >= top
        plain = good.reshape(NIGHTS, 1440).sum(axis=1)
        short += int((plain < sky["dark"].reshape(NIGHTS, 1440).sum(axis=1)).sum())
        assert np.abs(found.minutes[0, :, j].astype(int) - plain).max() <= 2
        assert plain.max() > 30
    assert short >= NIGHTS
