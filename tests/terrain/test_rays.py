"""Sight lines over rows and columns keep to the geodesics."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS, Geod, Transformer

from backbearing.terrain import Grid
from backbearing.terrain.rays import trace_rays


def value(coefficients: np.ndarray, t: float) -> np.ndarray:
    return np.polynomial.polynomial.polyval(t, coefficients.T)


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
    """Between two nodes the straight way strays by at most five millionths of the distance."""
    step = 1 / 1200
    grid = Grid((3000, 3000), Affine(step, 0, 20, 0, -step, 72), CRS("EPSG:4326"))
    azimuths = np.arange(0.0, 360.0, 7.0)
    rays = trace_rays(grid, lat=71.0, lon=21.5, azimuths_deg=azimuths, reach_m=90_000.0)
    nodes = rays.nodes_m(0.001, 90_000.0, max(grid.steps_m))
    assert nodes[0] == 0.001
    assert nodes[-1] == 90_000.0
    for a, b in pairwise(nodes):
        off = [
            value(line, (a + b) / 2 / rays.reach_m)
            - (value(line, a / rays.reach_m) + value(line, b / rays.reach_m)) / 2
            for line in (rays.rows, rays.cols)
        ]
        metres = np.hypot(off[0] * grid.steps_m[0], off[1] * grid.steps_m[1]).max()
        assert metres < 5.1e-6 * (a + b) / 2
