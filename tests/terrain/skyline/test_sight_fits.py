"""Sight lines from a tile's fits keep to those fitted round the eye itself."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from numpy.polynomial.polynomial import polyval
from pyproj import CRS, Geod, Transformer

from backbearing.terrain import Elevation, Grid
from backbearing.terrain.skyline import sight_fits as fits_module
from backbearing.terrain.skyline.sight_fits import SightFits, eye_weights


def grid_at(crs: str, lat: float, lon: float, step: float) -> Grid:
    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(lon, lat)
    transform = Affine(step, 0, x - 1500 * step, 0, -step, y + 1500 * step)
    return Grid((3000, 3000), transform, CRS(crs))


@pytest.mark.parametrize(
    ("crs", "lat", "lon", "step"),
    [
        ("EPSG:4326", 36.3, -84.2, 1 / 3600),
        ("EPSG:4326", -16.5, 179.9, 1 / 1200),
        ("EPSG:4326", 71.1, 25.7, 1 / 1200),
        ("EPSG:32633", 64.1, 19.9, 30.0),
        ("EPSG:3857", 61.0, 8.5, 30.0),
        ("EPSG:3413", 78.2, 15.6, 100.0),
    ],
)
def test_within_some_centimetres_from_every_eye(
    crs: str, lat: float, lon: float, step: float
) -> None:
    grid = grid_at(crs, lat, lon, step)
    fits, geod = SightFits(grid), Geod(ellps="WGS84")
    rng = np.random.default_rng(3)
    azimuths = np.arange(7.0, 360.0, 40.0)
    for row, col in rng.uniform(0.0, 2999.0, (12, 2)):
        place = grid.places(row=row, col=col)
        for reach in (9_000.0, 50_000.0):
            tile = fits.tile(row, col, reach)
            assert tile is not None
            rays = tile.rays((row, col), np.radians(azimuths))
            for s in (300.0, min(reach, rays.reach_m)):
                ones = np.ones_like(azimuths)
                east, north, _ = geod.fwd(place.lon * ones, place.lat * ones, azimuths, s * ones)
                at = grid.pixels(lat=north, lon=east)
                t = s / rays.reach_m
                off = np.hypot(polyval(t, rays.rows.T) - at.row, polyval(t, rays.cols.T) - at.col)
                assert (off * min(grid.steps_m)).max() < 0.02


def test_an_eye_gets_the_same_tile_alone_and_in_company() -> None:
    grid = grid_at("EPSG:4326", 71.1, 25.7, 1 / 1200)
    fits = SightFits(grid)
    rng = np.random.default_rng(4)
    row, col = rng.uniform(0.0, 2999.0, (2, 80))
    reach = rng.choice([700.0, 20_000.0, 90_000.0], 80)
    sorted_out = fits.tiles(row, col, reach)
    assert sorted(np.concatenate([which for _, which in sorted_out])) == list(range(80))
    for tile, which in sorted_out:
        for i in which:
            assert fits.tile(row[i], col[i], reach[i]) is tile
            assert tile is not None
            assert tile.reach_m >= reach[i]


def test_weights_of_the_nine_eyes_keep_a_quadratic() -> None:
    def height(u: float, v: float) -> float:
        return 1.0 + 2.0 * u - v + u * v + 3.0 * u * u - 2.0 * v * v + u * u * v * v

    nine = [height(u, v) for u, v in fits_module.EYES[:9]]
    for u, v in ((0.3, -0.7), (-1.0, 0.0), (0.9, 0.9)):
        assert eye_weights(u, v) @ nine == pytest.approx(height(u, v))


def test_an_eye_whose_tiles_fail_is_traced_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    z = np.random.default_rng(0).uniform(0.0, 300.0, (120, 120))
    transform = Affine(1 / 1200, 0, 20, 0, -1 / 1200, 46)
    asked = {"lat": [45.95, 45.96], "lon": [20.03, 20.06], "azimuths_deg": [15.0, 222.0]}
    usual = Elevation.from_array(z, transform, "EPSG:4326").skylines(**asked)
    monkeypatch.setattr(SightFits, "_fitted", lambda *_: None)
    alone = Elevation.from_array(z, transform, "EPSG:4326")
    found = alone.skylines(**asked)
    np.testing.assert_allclose(found.altitudes_deg, usual.altitudes_deg, atol=1e-5)
    np.testing.assert_allclose(found.distances_m, usual.distances_m, atol=0.02)
    one = alone.horizon(lat=45.95, lon=20.03, azimuths_deg=[15.0])
    assert one.altitudes_deg[0] == pytest.approx(found.altitudes_deg[0], abs=1e-9)
