"""The subject's top against the land beyond it, against a march in small steps."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from affine import Affine

from backbearing.alignment.stand.stands import find_stands
from backbearing.base.geodesy import altitude_of, point_along
from backbearing.camera.bodies_and_lenses import Camera, Lens
from backbearing.outing.subject import Framing, Subject
from backbearing.sky.targets import CORE
from backbearing.terrain.elevation import Elevation

FIRST = dt.datetime(2027, 6, 6, 4, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize("cell_m", [5.0, 12.0, 30.0])
def test_the_break_is_that_of_a_march_in_small_steps(cell_m: float) -> None:
    rng, cell = np.random.default_rng(19), cell_m / 111_000.0
    rows = np.arange(260.0)
    ground = 300.0 + 25.0 * np.sin(rows[:, None] / 17.0) * np.cos(rows / 23.0)
    ground += rng.normal(0.0, 0.06 * cell_m, ground.shape)
    land = Elevation.from_array(
        ground, Affine(cell, 0.0, -84.0, 0.0, -cell, 36.0 + 260.0 * cell), "EPSG:4326"
    )
    framing, top_m = Framing(share=0.4, eye_height_m=1.5), 6.0
    tried = 0
    for _ in range(25):
        lat, lon = 36.0 + cell * rng.uniform(90, 170), -84.0 + cell * rng.uniform(90, 170)
        subject = Subject(lat=lat, lon=lon, height_m=top_m)
        (stand,) = find_stands(
            subject, CORE, FIRST, Camera(), [Lens(rng.choice([20.0, 50.0, 135.0]))], framing, land,
            max_distance_m=80.0 * cell_m,
        )  # fmt: skip
        if not np.isfinite(stand.lat):
            continue
        tried += 1
        # From the subject's own place on: 2 cm for the first 40 m, then 20 cm.
        far = np.concatenate([np.arange(0.0, 40.0, 0.02), np.arange(40.0, 80.0 * cell_m, 0.2)])
        away = stand.distance_m + far
        away = away[away <= 80.0 * cell_m]
        line = point_along(
            lat=stand.lat, lon=stand.lon, azimuth_deg=stand.bearing_deg, distance_m=away
        )
        eye = stand.ground_m + framing.eye_height_m
        beyond = altitude_of(land.height_at(lat=line.lat, lon=line.lon) - eye, away, 0.13)
        base = float(land.height_at(lat=lat, lon=lon))
        top = float(altitude_of(base + top_m - eye, stand.distance_m, 0.13))
        assert stand.skyline_break_deg == pytest.approx(top - beyond.max(), abs=0.01)
    assert tried > 15
