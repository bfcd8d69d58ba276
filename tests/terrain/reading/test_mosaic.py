"""Tiles: no seam, no invented ground, and the far side of the antimeridian."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine

from backbearing.base.errors import TerrainError
from backbearing.terrain import Elevation, Ground

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def hgt(folder: Path, name: str, z: np.ndarray) -> Path:
    path = folder / name
    z.astype(">i2").tofile(path)
    return path


def wave(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    return np.round(500 + 300 * np.sin(17 * lat) * np.cos(13 * lon))


def posts(south: int, west: int) -> np.ndarray:
    lat = south + 1 - np.arange(1201)[:, None] / 1200
    lon = west + np.arange(1201)[None, :] / 1200
    return wave(lat, lon)


def name_of(south: int, west: int) -> str:
    return f"{'NS'[south < 0]}{abs(south):02d}{'EW'[west < 0]}{abs(west):03d}.hgt"


def test_shared_posts_leave_no_seam(tmp_path: Path) -> None:
    corners = [(36, -85), (36, -84), (35, -85), (35, -84)]
    for south, west in corners:
        hgt(tmp_path, name_of(south, west), posts(south, west))
    dem = Elevation.open(tmp_path)
    assert dem.shape == (2401, 2401)
    rng = np.random.default_rng(3)
    k, m = rng.integers(0, 2400, 300), rng.integers(0, 2400, 300)
    lat, lon = 37 - k / 1200, -85 + m / 1200
    np.testing.assert_allclose(dem.height_at(lat=lat, lon=lon), wave(lat, lon), atol=1e-5)
    across = np.linspace(-84.001, -83.999, 41)
    steps = np.diff(dem.height_at(lat=36.2345, lon=across))
    assert np.isfinite(steps).all()
    assert np.abs(steps).max() < 1.0


def test_a_missing_tile_is_neither_zero_nor_void_nor_outside(tmp_path: Path) -> None:
    for south, west in ((36, -85), (35, -84)):
        hgt(tmp_path, name_of(south, west), posts(south, west))
    dem = Elevation.open(tmp_path)
    assert dem.state_at(lat=36.5, lon=-83.5) is Ground.MISSING_TILE
    assert np.isnan(dem.height_at(lat=36.5, lon=-83.5))
    assert dem.state_at(lat=36.5, lon=-84.5) is Ground.KNOWN
    assert dem.state_at(lat=37.5, lon=-84.5) is Ground.OUTSIDE
    with pytest.raises(TerrainError, match="missing tile"):
        dem.horizon(lat=36.5, lon=-83.5)
    horizon = dem.horizon(lat=36.5, lon=-84.02, azimuths_deg=[90.0, 270.0], max_distance_m=20_000)
    assert horizon.unknown_share[0] == pytest.approx(1 - 1.79 / 20, abs=0.01)
    assert horizon.unknown_from_m[0] == pytest.approx(1793, abs=10)
    assert horizon.unknown_share[1] == 0.0
    assert np.isnan(horizon.unknown_from_m[1])
    sea = Elevation.open(tmp_path, missing_tile_is_sea=True)
    assert sea.state_at(lat=36.5, lon=-83.5) is Ground.SEA
    assert np.isnan(sea.height_at(lat=36.5, lon=-83.5))


@pytest.mark.parametrize("order", [1, -1])
def test_tiles_meet_across_the_antimeridian(tmp_path: Path, order: int) -> None:
    lon = np.arange(1201)[None, :] / 1200
    lat = -16 - np.arange(1201)[:, None] / 1200
    east_of = hgt(tmp_path, "S17W180.hgt", np.round(100 * (lon + 1) + 0 * lat))
    west_of = hgt(tmp_path, "S17E179.hgt", np.round(100 * lon + 0 * lat))
    dem = Elevation.open([west_of, east_of][::order])
    assert dem.shape == (1201, 2401)
    west, east = dem.bounds.west, dem.bounds.east
    assert (west, east) == pytest.approx((179.0, 181.0), abs=1e-3)
    for asked, height in ((179.25, 25.0), (-179.75, 125.0), (180.0, 100.0), (-180.0, 100.0)):
        assert dem.height_at(lat=-16.5, lon=asked) == pytest.approx(height, abs=1e-4)
    horizon = dem.horizon(lat=-16.5, lon=179.98, azimuths_deg=[90.0])
    assert horizon.reach_m[0] > 90_000
    assert horizon.unknown_share[0] == 0.0
    assert Elevation.open(east_of).height_at(lat=-16.5, lon=180.5) == pytest.approx(150.0, abs=1e-4)


def test_area_tiles_join_pixel_to_pixel(write_tif: Callable[..., Path]) -> None:
    z = np.random.default_rng(0).uniform(0, 500, (40, 60)).astype(np.float32)
    transform = Affine(0.001, 0, -84, 0, -0.001, 36)
    whole = Elevation.from_array(z, transform, "EPSG:4326")
    parts = []
    for r in (0, 20):
        for c in (0, 30):
            corner = Affine(0.001, 0, -84 + 0.001 * c, 0, -0.001, 36 - 0.001 * r)
            parts.append(write_tif(z[r : r + 20, c : c + 30], corner, name=f"t/{r}_{c}.tif"))
    tiles = Elevation.open(parts)
    assert tiles.shape == whole.shape
    np.testing.assert_array_equal(tiles.heights_m, whole.heights_m)
    place = {"lat": 35.98, "lon": -83.97}
    one, many = whole.horizon(**place), tiles.horizon(**place)
    np.testing.assert_allclose(many.altitudes_deg, one.altitudes_deg, atol=1e-9)
    np.testing.assert_allclose(many.distances_m, one.distances_m, atol=1e-6)
    folder = Elevation.open(parts[0].parent)
    np.testing.assert_array_equal(folder.heights_m, whole.heights_m)


def test_tiles_that_do_not_fit_are_refused(write_tif: Callable[..., Path]) -> None:
    z = np.full((20, 30), 300, dtype=np.int16)
    first = write_tif(z, Affine(0.001, 0, -84, 0, -0.001, 36), name="a.tif")
    coarse = write_tif(z, Affine(0.003, 0, -83, 0, -0.003, 36), name="b.tif")
    metres = write_tif(z, Affine(30, 0, 700_000, 0, -30, 4_000_000), crs="EPSG:32616", name="c.tif")
    off = write_tif(z, Affine(0.001, 0, -83.9705, 0, -0.001, 36), name="d.tif")
    for other, message in ((coarse, "cell size"), (metres, "reference system"), (off, "off the")):
        with pytest.raises(TerrainError, match=message):
            Elevation.open([first, other])


def test_an_empty_folder_and_vrts_in_it(tmp_path: Path) -> None:
    with pytest.raises(TerrainError, match="no elevation file"):
        Elevation.open(tmp_path)
    (tmp_path / "trap.vrt").write_text("<VRTDataset/>")
    with pytest.raises(TerrainError, match="no elevation file"):
        Elevation.open(tmp_path)
