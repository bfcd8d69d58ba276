"""Trees on synthetic ridges, against a march of this test's own: steps in plain numpy.

Outside the project: the geodesics are PROJ's. The curvature is that of a sphere of 6,371 km less
the refraction's share, as surveyors write it (h = (1 - k) s^2 / 2R).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import Geod, Transformer

from backbearing.base.errors import TerrainError
from backbearing.terrain.cover.covered_elevation import CoveredElevation
from backbearing.terrain.cover.kinds import CoverKind
from backbearing.terrain.cover.opening import with_cover
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from pathlib import Path

UTM = "EPSG:32633"
EARTH_M, K, EYE_M = 6_371_000.0, 0.17, 1.6
CELL_M, ROWS, COLS = 20.0, 260, 240
WEST, NORTH = 500_000.0, 5_300_000.0
PLACE = Affine(CELL_M, 0.0, WEST, 0.0, -CELL_M, NORTH)
TO_DEGREES = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
TO_METRES = Transformer.from_crs("EPSG:4326", UTM, always_xy=True)


def ridge_m(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A long ridge across the way north, with a saddle, some 2.5 km from the eye."""
    crest = NORTH - 1_800.0 + 200.0 * np.sin((x - WEST) / 900.0)
    high = 160.0 + 40.0 * np.cos((x - WEST) / 700.0)
    return 300.0 + high * np.exp(-(((y - crest) / 500.0) ** 2)) + 0.01 * (y - NORTH)


def ground() -> np.ndarray:
    x = WEST + CELL_M * (np.arange(COLS) + 0.5)
    y = NORTH - CELL_M * (np.arange(ROWS) + 0.5)
    return ridge_m(*np.meshgrid(x, y)).astype(np.float32)


def eye() -> tuple[float, float]:
    lon, lat = TO_DEGREES.transform(WEST + 2_410.0, NORTH - 4_300.0)
    return lat, lon


def write(
    path: Path, values: np.ndarray, transform: Affine, crs: str, nodata: float | None
) -> Path:
    with rasterio.open(
        path, "w", driver="GTiff", height=values.shape[0], width=values.shape[1], count=1,
        dtype=values.dtype, crs=crs, transform=transform, nodata=nodata,
    ) as out:  # fmt: skip
        out.write(values, 1)
    return path


def bilinear(grid: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    col, row = (x - WEST) / CELL_M - 0.5, (NORTH - y) / CELL_M - 0.5
    i, j = np.floor(row).astype(int), np.floor(col).astype(int)
    u, v = row - i, col - j
    return (
        grid[i, j] * (1 - u) * (1 - v) + grid[i + 1, j] * u * (1 - v)
        + grid[i, j + 1] * (1 - u) * v + grid[i + 1, j + 1] * u * v
    )  # fmt: skip


def own_march(
    top_m, azimuth_deg: float, nearest_m: float, farthest_m: float
) -> tuple[float, float]:
    """Highest altitude, degrees, and its distance: a step of a metre along PROJ's geodesic."""
    lat, lon = eye()
    s = np.arange(nearest_m, farthest_m, 1.0)
    n = len(s)
    lons, lats, _ = Geod(ellps="WGS84").fwd(
        np.full(n, lon), np.full(n, lat), np.full(n, azimuth_deg), s
    )
    x, y = TO_METRES.transform(lons, lats)
    ex, ey = TO_METRES.transform(lon, lat)
    eye_m = float(bilinear(ground(), np.array([ex]), np.array([ey]))[0]) + EYE_M
    angle = np.degrees(np.arctan((top_m(x, y) - eye_m - (1.0 - K) * s * s / (2.0 * EARTH_M)) / s))
    best = int(np.argmax(angle))
    return float(angle[best]), float(s[best])


def asked(elevation: Elevation, azimuths: list[float]):
    lat, lon = eye()
    n = len(azimuths)
    return elevation.skylines(
        lat=np.full(n, lat), lon=np.full(n, lon), azimuths_deg=azimuths, eye_height_m=EYE_M,
        max_distance_m=3_900.0, refraction_k=K,
    )  # fmt: skip


AZIMUTHS = [335.0, 345.0, 352.0, 0.0, 4.0, 11.0, 20.0]


def bare() -> Elevation:
    return Elevation.from_array(ground(), PLACE, UTM)


def wood_m(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Trees of two heights on the crest, east and west of the middle; a gap between them."""
    on_crest = np.abs(y - (NORTH - 1_800.0)) < 420.0
    tall = np.where(x > WEST + 2_500.0, 26.0, np.where(x < WEST + 2_300.0, 14.0, 0.0))
    return np.where(on_crest, tall, 0.0)


def on_cells(cell: float, x0: float, y0: float, rows: int, cols: int) -> np.ndarray:
    x, y = x0 + cell * (np.arange(cols) + 0.5), y0 - cell * (np.arange(rows) + 0.5)
    return wood_m(*np.meshgrid(x, y)).astype(np.float32)


def test_canopy_of_the_ground_s_own_cells_is_marched_like_ground(tmp_path: Path) -> None:
    canopy = on_cells(CELL_M, WEST, NORTH, ROWS, COLS)
    file = write(tmp_path / "trees.tif", canopy, PLACE, UTM, -1.0)
    seen = asked(with_cover(bare(), canopy=file), AZIMUTHS)
    tops = ground() + canopy
    for i, azimuth in enumerate(AZIMUTHS):
        altitude, distance = own_march(lambda x, y: bilinear(tops, x, y), azimuth, CELL_M, 3_900.0)
        bare_altitude, _ = own_march(lambda x, y: bilinear(ground(), x, y), azimuth, 1.0, 3_900.0)
        # A metre's steps miss a crest by less than a thousandth of a degree here.
        assert seen.altitudes_deg[i] == pytest.approx(altitude, abs=2e-3)
        assert seen.distances_m[i] == pytest.approx(distance, abs=3.0)
        assert seen.covered.bare_deg[i] == pytest.approx(bare_altitude, abs=2e-3)
    # The trees matter where they stand, and by about their height over the distance.
    raised = seen.altitudes_deg - seen.covered.bare_deg
    assert raised[-1] > 0.45
    assert (raised[seen.covered.are_covered] > 0.0).all()


def test_cells_of_another_system_and_size_agree_with_their_own_heights(tmp_path: Path) -> None:
    """A canopy in degrees, cells of some 4 by 6 m, turned against the ground's grid."""
    step_x, step_y = 5.5e-5, 5.4e-5
    lon, lat = TO_DEGREES.transform([WEST, WEST + COLS * CELL_M], [NORTH, NORTH - ROWS * CELL_M])
    west, north = lon[0] - 0.002, max(lat) + 0.002
    cols, rows = int((lon[1] - west) / step_x) + 40, int((north - min(lat)) / step_y) + 40
    lons = west + step_x * (np.arange(cols) + 0.5)
    lats = north - step_y * (np.arange(rows) + 0.5)
    x, y = TO_METRES.transform(*np.meshgrid(lons, lats))
    fine = wood_m(x, y)
    place = Affine(step_x, 0.0, west, 0.0, -step_y, north)
    file = write(tmp_path / "trees.tif", fine.astype(np.uint8), place, "EPSG:4326", 255)
    seen = asked(with_cover(bare(), canopy=file), AZIMUTHS)

    def top(px: np.ndarray, py: np.ndarray) -> np.ndarray:
        plon, plat = TO_DEGREES.transform(px, py)
        row = ((north - np.asarray(plat)) / step_y).astype(int)
        col = ((np.asarray(plon) - west) / step_x).astype(int)
        return bilinear(ground(), px, py) + fine[row, col]

    for i, azimuth in enumerate(AZIMUTHS):
        altitude, _ = own_march(top, azimuth, CELL_M, 3_900.0)
        # The wood's edges lie within a cell of the ground; on the crest that is next to nothing.
        assert seen.altitudes_deg[i] == pytest.approx(altitude, abs=0.03)


def test_a_surface_model_says_the_same_as_the_canopy_it_holds(tmp_path: Path) -> None:
    half = CELL_M / 4.0
    x = WEST + half * (np.arange(COLS * 4) + 0.5)
    y = NORTH - half * (np.arange(ROWS * 4) + 0.5)
    xx, yy = np.meshgrid(x, y)
    surface = (ridge_m(xx, yy) + wood_m(xx, yy)).astype(np.float32)
    place = Affine(half, 0.0, WEST, 0.0, -half, NORTH)
    file = write(tmp_path / "dsm.tif", surface, place, UTM, -9999.0)
    seen = asked(with_cover(bare(), surface=file), AZIMUTHS)
    for i, azimuth in enumerate(AZIMUTHS):
        altitude, _ = own_march(
            lambda px, py: bilinear(ground(), px, py) + wood_m(px, py), azimuth, CELL_M, 3_900.0
        )
        assert seen.altitudes_deg[i] == pytest.approx(altitude, abs=0.03)


def test_bare_slopes_of_a_finer_surface_are_no_trees(tmp_path: Path) -> None:
    half = CELL_M / 4.0
    x = WEST + half * (np.arange(COLS * 4) + 0.5)
    y = NORTH - half * (np.arange(ROWS * 4) + 0.5)
    surface = ridge_m(*np.meshgrid(x, y)).astype(np.float32)
    place = Affine(half, 0.0, WEST, 0.0, -half, NORTH)
    file = write(tmp_path / "dsm.tif", surface, place, UTM, None)
    covered = with_cover(bare(), surface=file)
    found = covered.stack.over(covered._source, slice(40, 140), slice(20, 200))
    # The ridge is as steep as 20 degrees: across a cell it rises by 7 m.
    assert float(found.height_m.max()) < 0.4


def test_unknown_cover_is_nan_and_no_bare_ground(tmp_path: Path) -> None:
    canopy = on_cells(CELL_M, WEST, NORTH, ROWS, COLS)
    canopy[60:120, 140:] = -1.0
    part = canopy[:, 20:]
    place = PLACE @ Affine.translation(20, 0)
    covered = with_cover(bare(), canopy=write(tmp_path / "trees.tif", part, place, UTM, -1.0))
    lon, lat = TO_DEGREES.transform(
        [WEST + 100.0, WEST + 3_600.0, WEST + 1_500.0, WEST + 1_500.0],
        [NORTH - 1_800.0, NORTH - 1_800.0, NORTH - 1_800.0, NORTH - 4_000.0],
    )
    found = covered.cover_at(lat=lat, lon=lon)
    # West of the raster, within its nodata, under trees of 14 m, on open ground.
    np.testing.assert_array_equal(found.height_m, [np.nan, np.nan, 14.0, 0.0])
    assert found.kind.tolist() == [CoverKind.NONE, CoverKind.NONE, CoverKind.CANOPY, CoverKind.NONE]


def test_surface_fills_what_the_canopy_leaves_unknown(tmp_path: Path) -> None:
    canopy = np.full((ROWS, COLS), 5.0, dtype=np.float32)
    canopy[:, 100:] = -1.0
    surface = (ground() + 9.0).astype(np.float32)
    covered = with_cover(
        bare(),
        canopy=write(tmp_path / "trees.tif", canopy, PLACE, UTM, -1.0),
        surface=write(tmp_path / "dsm.tif", surface, PLACE, UTM, None),
    )
    found = covered.stack.over(covered._source, slice(10, 12), slice(98, 102))
    np.testing.assert_allclose(found.height_m, [[5, 5, 9, 9]] * 2, atol=0.01)
    assert found.kind.tolist() == [[CoverKind.CANOPY] * 2 + [CoverKind.SURFACE] * 2] * 2


def test_the_subject_is_no_tree_before_itself_and_the_eye_on_none(tmp_path: Path) -> None:
    lat, lon = eye()
    x, y = TO_METRES.transform(lon, lat)
    row, col = int((NORTH - y) / CELL_M), int((x - WEST) / CELL_M)
    canopy = np.zeros((ROWS, COLS), dtype=np.float32)
    canopy[row, col] = 18.0  # a tree over the eye itself
    canopy[row - 6, col] = 25.0  # the subject, six cells to the north
    file = write(tmp_path / "trees.tif", canopy, PLACE, UTM, -1.0)
    covered = with_cover(bare(), canopy=file)
    south, north = TO_DEGREES.transform(x, NORTH - CELL_M * (row - 5.5))
    before = asked(covered, [0.0])
    cleared = asked(covered.clear_about(lat=north, lon=south, radius_m=CELL_M), [0.0])
    assert before.altitudes_deg[0] > 9.0
    assert cleared.altitudes_deg[0] < 6.0
    assert before.eye_ground_m[0] == pytest.approx(asked(bare(), [0.0]).eye_ground_m[0])


def test_horizon_and_skylines_agree(tmp_path: Path) -> None:
    file = write(tmp_path / "t.tif", on_cells(CELL_M, WEST, NORTH, ROWS, COLS), PLACE, UTM, -1.0)
    covered = with_cover(bare(), canopy=file)
    lat, lon = eye()
    fan = covered.horizon(
        lat=lat, lon=lon, eye_height_m=EYE_M, azimuths_deg=AZIMUTHS, max_distance_m=3_900.0,
        refraction_k=K,
    )  # fmt: skip
    np.testing.assert_allclose(fan.altitudes_deg, asked(covered, AZIMUTHS).altitudes_deg, atol=1e-6)
    assert isinstance(covered, CoveredElevation)
    assert fan.covered.are_covered.any()


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (np.full((ROWS, COLS), 255, np.uint8), "255 m, which no tree has"),
        (np.full((ROWS, COLS), -40.0, np.float32), "-40 m, which no tree has"),
    ],
)
def test_no_such_trees(tmp_path: Path, values: np.ndarray, said: str) -> None:
    covered = with_cover(bare(), canopy=write(tmp_path / "t.tif", values, PLACE, UTM, None))
    with pytest.raises(TerrainError, match=said):
        asked(covered, [0.0])


def test_a_raster_of_another_land_is_refused(tmp_path: Path) -> None:
    away = PLACE @ Affine.translation(9_000, 0)
    file = write(tmp_path / "t.tif", np.zeros((9, 9), np.float32), away, UTM, None)
    with pytest.raises(TerrainError, match="lies nowhere on the elevation raster"):
        with_cover(bare(), canopy=file)
    broken = tmp_path / "broken.tif"
    broken.write_bytes(b"II*\0 no raster")
    with pytest.raises(TerrainError, match="canopy"):
        with_cover(bare(), canopy=broken)
