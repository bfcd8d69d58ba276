"""Trees near the eye in cells of their own, against a march of this test's own.

Outside the project: the geodesics are PROJ's, and the march steps a tenth of a metre over the
rows of trees as they were planted, not over any raster of them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import Geod, Transformer

from backbearing.terrain.cover.kinds import CoverKind
from backbearing.terrain.cover.opening import with_cover
from backbearing.terrain.elevation import Elevation

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.terrain.cover.covered_elevation import CoveredElevation

UTM = "EPSG:32633"
EARTH_M, K, EYE_M = 6_371_000.0, 0.17, 1.6
CELL_M, COUNT = 30.0, 150
WEST, NORTH = 500_000.0, 5_300_000.0
PLACE = Affine(CELL_M, 0.0, WEST, 0.0, -CELL_M, NORTH)
TO_DEGREES = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True)
TO_METRES = Transformer.from_crs("EPSG:4326", UTM, always_xy=True)
X, Y = WEST + 2_047.0, NORTH - 2_046.0
"""The eye, within a few metres of where pieces of the fine raster meet."""


def ground_m(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A plane that rises gently to the east, with a ridge in the north."""
    return 400.0 + 0.02 * (x - X) + 90.0 * np.exp(-(((y - Y - 1_500.0) / 300.0) ** 2))


def ground() -> Elevation:
    at = CELL_M * (np.arange(COUNT) + 0.5)
    heights = ground_m(*np.meshgrid(WEST + at, NORTH - at)).astype(np.float32)
    return Elevation.from_array(heights, PLACE, UTM)


def row_m(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A row of trees of 12 m along the way east, 40 to 46 m to the north, with a gap of 16 m."""
    row = (np.abs(y - Y - 43.0) < 3.0) & (np.abs(x - X - 20.0) > 8.0) & (np.abs(x - X) < 140.0)
    return np.where(row, 12.0, 0.0)


def planted(
    tmp_path: Path, cell_m: float, *, unknown_east: bool = False, name: str = "trees.tif"
) -> Path:
    """Two kilometres about the eye in cells of such a size, a little off the ground's grid."""
    count = int(1_200 / cell_m)
    west, north = X - 600.0 + 0.3, Y + 600.0 - 0.2
    at = cell_m * (np.arange(count) + 0.5)
    x, y = np.meshgrid(west + at, north - at)
    values = row_m(x, y)
    if unknown_east:
        values = np.where(x > X + 60.0, -1.0, values)
    path = tmp_path / name
    with rasterio.open(
        path, "w", driver="GTiff", height=count, width=count, count=1, dtype="float32", crs=UTM,
        transform=Affine(cell_m, 0.0, west, 0.0, -cell_m, north), nodata=-1.0,
    ) as out:  # fmt: skip
        out.write(values.astype(np.float32), 1)
    return path


def own_march(azimuth_deg: float, nearest_m: float = 5.0, farthest_m: float = 1_900.0) -> float:
    """Highest altitude along PROJ's geodesic, degrees, in steps of 0.1 m."""
    lon, lat = TO_DEGREES.transform(X, Y)
    s = np.arange(nearest_m, farthest_m, 0.1)
    n = len(s)
    lons, lats, _ = Geod(ellps="WGS84").fwd(
        np.full(n, lon), np.full(n, lat), np.full(n, azimuth_deg), s
    )
    x, y = TO_METRES.transform(lons, lats)
    eye_m = float(ground_m(np.array(X), np.array(Y))) + EYE_M
    rise = ground_m(x, y) + row_m(x, y) - eye_m - (1.0 - K) * s * s / (2.0 * EARTH_M)
    return float(np.degrees(np.arctan(rise / s)).max())


def asked(elevation: Elevation, azimuths: list[float]):
    lon, lat = TO_DEGREES.transform(X, Y)
    return elevation.skylines(
        lat=np.full(len(azimuths), lat), lon=np.full(len(azimuths), lon), azimuths_deg=azimuths,
        eye_height_m=EYE_M, max_distance_m=1_900.0, refraction_k=K,
    )  # fmt: skip


ROW = [290.0, 320.0, 345.0, 0.0, 44.0, 55.0]
GAP = [20.0, 25.0, 30.0]
OFF = [80.0, 100.0, 180.0, 260.0, 280.0]


@pytest.mark.parametrize("cell_m", [1.0, 2.0, 4.0])
def test_a_row_at_forty_metres_stands_where_it_was_planted(tmp_path: Path, cell_m: float) -> None:
    covered = with_cover(ground(), canopy=planted(tmp_path, cell_m))
    seen = asked(covered, ROW)
    for i, azimuth in enumerate(ROW):
        by_hand = own_march(azimuth)
        # The row's near edge is known to a cell or two: of 43 m that is this much of an altitude.
        within = by_hand * 1.5 * max(cell_m, 2.0) / 43.0
        assert seen.altitudes_deg[i] == pytest.approx(by_hand, abs=within)
        assert by_hand > 3.5
    assert seen.covered.are_near.all()


def test_through_the_gap_and_beside_the_row_the_ridge_is_seen(tmp_path: Path) -> None:
    covered, bare = with_cover(ground(), canopy=planted(tmp_path, 2.0)), ground()
    through = [*GAP, *OFF]
    seen = asked(covered, through)
    np.testing.assert_array_equal(seen.altitudes_deg, asked(bare, through).altitudes_deg)
    assert not seen.covered.are_covered.any()
    by_hand = [own_march(azimuth) for azimuth in GAP]
    assert seen.altitudes_deg[: len(GAP)] == pytest.approx(by_hand, abs=0.05)


def test_a_fan_and_single_rays_agree_however_they_are_marched(tmp_path: Path) -> None:
    covered = with_cover(ground(), canopy=planted(tmp_path, 2.0))
    lon, lat = TO_DEGREES.transform(X, Y)
    question = {"eye_height_m": EYE_M, "max_distance_m": 1_900.0, "refraction_k": K}
    azimuths = np.arange(0.0, 360.0, 3.0)
    fan = covered.horizon(lat=lat, lon=lon, azimuths_deg=azimuths, **question)
    for to_the_last_bit in (True, False):
        seen = covered.skylines(
            lat=lat, lon=lon, azimuths_deg=azimuths, to_the_last_bit=to_the_last_bit, **question
        )
        np.testing.assert_allclose(fan.altitudes_deg, seen.altitudes_deg, atol=1e-6)
        np.testing.assert_array_equal(fan.covered.are_near, seen.covered.are_near)


def test_holes_are_unknown_in_their_own_cells(tmp_path: Path) -> None:
    covered = with_cover(ground(), canopy=planted(tmp_path, 2.0, unknown_east=True))
    lon, lat = TO_DEGREES.transform([X + 55.0, X + 65.0, X - 30.0, X - 30.0], [Y + 43.0] * 3 + [Y])
    found = covered.cover_at(lat=lat, lon=lon, nearest=True, near=True)
    np.testing.assert_array_equal(found.height_m, [12.0, np.nan, 12.0, 0.0])
    # In the ground's cells the row is 30 m wide, and reaches over the gap.
    coarse = covered.cover_at(lat=[lat[0]], lon=[lon[0]], nearest=True)
    assert np.isnan(coarse.height_m[0]) or coarse.height_m[0] == 12.0
    # No tree is seen where none is known: east of 60 m the row is a hole in the file.
    assert not asked(covered, [60.0]).covered.are_covered[0]


def surface(tmp_path: Path, above: float) -> Path:
    """Trees of another height on the same ground, as heights above the sea, 3 m cells."""
    count, west, north = 400, X - 600.0, Y + 600.0
    at = 3.0 * (np.arange(count) + 0.5)
    x, y = np.meshgrid(west + at, north - at)
    path = tmp_path / "dsm.tif"
    with rasterio.open(
        path, "w", driver="GTiff", height=count, width=count, count=1, dtype="float32", crs=UTM,
        transform=Affine(3.0, 0.0, west, 0.0, -3.0, north),
    ) as out:  # fmt: skip
        tall = np.where(row_m(x, y) > 0.0, above, 0.0)
        out.write((ground_m(x, y) + tall).astype(np.float32), 1)
    return path


def test_near_too_the_surface_is_asked_only_where_the_canopy_knows_nothing(tmp_path: Path) -> None:
    canopy, dsm = planted(tmp_path, 2.0, unknown_east=True), surface(tmp_path, 20.0)
    both: CoveredElevation = with_cover(ground(), canopy=canopy, surface=dsm)
    lon, lat = TO_DEGREES.transform([X - 30.0, X + 80.0], [Y + 43.0] * 2)
    found = both.cover_at(lat=lat, lon=lon, nearest=True, near=True)
    # 12 m by the canopy, not 32 m; 20 m where it has a hole.
    assert found.height_m == pytest.approx([12.0, 20.0], abs=0.3)
    assert found.kind.tolist() == [CoverKind.CANOPY, CoverKind.SURFACE]
    alone = asked(with_cover(ground(), surface=dsm), [0.0]).altitudes_deg[0]
    assert asked(both, [0.0]).altitudes_deg[0] < alone - 5.0


def test_bare_slopes_are_no_trees_near_the_eye(tmp_path: Path) -> None:
    covered = with_cover(ground(), surface=surface(tmp_path, 0.0))
    azimuths = list(np.arange(0.0, 360.0, 10.0))
    raised = asked(covered, azimuths).altitudes_deg - asked(ground(), azimuths).altitudes_deg
    assert raised.max() < 0.2


def test_the_subject_is_cleared_and_its_neighbour_stays(tmp_path: Path) -> None:
    covered = with_cover(ground(), canopy=planted(tmp_path, 2.0))
    lon, lat = TO_DEGREES.transform(X, Y + 43.0)
    cleared = covered.clear_about(lat=lat, lon=lon, radius_m=4.0)
    assert asked(covered, [0.0]).covered.are_covered[0]
    assert not asked(cleared, [0.0]).covered.are_covered[0]
    # 25 m along the row, within a ground cell of the subject, the trees stand.
    assert asked(cleared, [330.0]).altitudes_deg[0] == pytest.approx(own_march(330.0), abs=0.9)


def test_nearer_than_five_metres_nothing_counts(tmp_path: Path) -> None:
    path = planted(tmp_path, 2.0)
    with rasterio.open(path, "r+") as data:
        trees = data.read(1)
        row, col = data.index(X, Y + 0.5)
        trees[row, col - 1 : col + 2] = 15.0
        data.write(trees, 1)
    assert not asked(with_cover(ground(), canopy=path), [25.0]).covered.are_covered[0]


def test_a_near_row_s_doubt_grows_with_its_height_and_nearness(tmp_path: Path) -> None:
    from backbearing.alignment.stand.uncertainty import sight_errors
    from backbearing.terrain.reading.products import ASSUMED_ERRORS

    covered = with_cover(ground(), canopy=planted(tmp_path, 2.0))
    seen = asked(covered, [0.0, 180.0])
    errors = sight_errors(ASSUMED_ERRORS, covered, position_sigma_m=3.0)
    doubt = covered.skyline_doubt(seen, errors)
    # Four metres of a tree's height at 43 m alone are 5 degrees.
    assert 4.5 < doubt.sigma_deg[0] < 12.0
    assert doubt.sigma_deg[1] < 4.0
