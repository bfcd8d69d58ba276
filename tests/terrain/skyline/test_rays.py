"""Sight lines over rows and columns keep to the geodesics."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from numpy.polynomial.polynomial import polyval
from pyproj import CRS, Geod, Transformer

from backbearing.terrain import Grid
from backbearing.terrain.skyline.ray_bundle import Bundle
from backbearing.terrain.skyline.rays import trace_rays


def value(coefficients: np.ndarray, t: float) -> np.ndarray:
    return polyval(t, coefficients.T)


@pytest.mark.parametrize(
    ("crs", "lat", "lon", "step"),
    [
        ("EPSG:4326", 36.3, -84.2, 1 / 3600),
        ("EPSG:4326", -54.8, -68.3, 1 / 1200),
        ("EPSG:4326", 71.1, 25.7, 1 / 1200),
        ("EPSG:4326", 84.0, -40.0, 1 / 600),
        ("EPSG:32633", 64.1, 19.9, 30.0),
        ("EPSG:3857", 61.0, 8.5, 30.0),
        ("EPSG:2193", -43.6, 170.1, 8.0),
        ("EPSG:3413", 78.2, 15.6, 100.0),
    ],
)
def test_within_a_centimetre_to_a_hundred_kilometres(
    crs: str, lat: float, lon: float, step: float
) -> None:
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(lon, lat)
    grid = Grid((3000, 3000), Affine(step, 0, x - 1500 * step, 0, -step, y + 1500 * step), CRS(crs))
    azimuths = np.arange(1.5, 360.0, 15.0)
    rays = trace_rays(grid, lat=lat, lon=lon, azimuths_deg=azimuths, reach_m=100_000.0)
    geod = Geod(ellps="WGS84")
    for s in (1.0, 50.0, 3_000.0, 41_000.0, 99_000.0):
        ones = np.ones_like(azimuths)
        east, north, _ = geod.fwd(lon * ones, lat * ones, azimuths, s * ones)
        pixels = grid.pixels(lat=north, lon=east)
        t = s / rays.reach_m
        off = np.hypot(value(rays.rows, t) - pixels.row, value(rays.cols, t) - pixels.col)
        assert (off * min(grid.steps_m)).max() < 0.012


def test_chords_stay_within_their_allowance() -> None:
    """A chord strays from its ray by at most five millionths of the distance, on the way."""
    step = 1 / 1200
    grid = Grid((3000, 3000), Affine(step, 0, 20, 0, -step, 72), CRS("EPSG:4326"))
    azimuths = np.arange(0.0, 360.0, 7.0)
    rays = trace_rays(grid, lat=71.0, lon=21.5, azimuths_deg=azimuths, reach_m=90_000.0)
    ends = np.linspace(40_000.0, 90_000.0, len(azimuths))
    bundle = Bundle.from_one_eye(
        rays, start_m=0.001, ends_m=ends, eye_m=0.0, drop=0.0, cell_m=max(grid.steps_m)
    )
    chords = bundle.chords(np.arange(len(azimuths)))
    assert (chords.s_m[:, 0] == 0.001).all()
    np.testing.assert_array_equal(chords.s_m[:, -1], ends)
    for k in range(chords.s_m.shape[1] - 1):
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            s = chords.s_m[:, k] + share * (chords.s_m[:, k + 1] - chords.s_m[:, k])
            row = chords.row_near[:, k] + share * (chords.row_far - chords.row_near)[:, k]
            col = chords.col_near[:, k] + share * (chords.col_far - chords.col_near)[:, k]
            t = s / rays.reach_m
            off = (
                row - polyval(t, rays.rows.T, tensor=False),
                col - polyval(t, rays.cols.T, tensor=False),
            )
            metres = np.hypot(off[0] * grid.steps_m[0], off[1] * grid.steps_m[1])
            assert (metres < 5.2e-6 * (chords.s_m[:, k] + chords.s_m[:, k + 1]) / 2).all()
