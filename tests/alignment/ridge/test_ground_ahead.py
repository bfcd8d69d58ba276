"""The ground that an area's sweeps look over: of a large raster only what they cross is read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import rasterio
from affine import Affine
from pyproj import CRS

from backbearing.alignment.ridge import ground_ahead
from backbearing.alignment.ridge.area_cells import AreaPart, Look
from backbearing.alignment.ridge.ground_ahead import GroundAhead, ground_groups, with_highest
from backbearing.plan.clearance import AreaCells
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.skyline.sweep import horizon_map

if TYPE_CHECKING:
    from pathlib import Path

    import pytest
    from numpy.typing import NDArray

CELL_M = 10.0
SIDE = 4608
"""More cells than are held as one piece (`terrain/chunks.py`)."""
PLACE = Affine(CELL_M, 0.0, 500_000.0, 0.0, -CELL_M, 4_000_000.0)
UTM = CRS("EPSG:32616")


def hills() -> NDArray[np.float32]:
    """Ridges every which way, well over sea level, so that ground not read would show as a pit."""
    y, x = np.mgrid[0:SIDE, 0:SIDE] * CELL_M
    z = 900.0 + 0.01 * x
    for length, height, turn in ((2300.0, 90.0, 0.4), (5100.0, 160.0, 1.3), (830.0, 30.0, 2.2)):
        z += height * np.sin((x * np.cos(turn) + y * np.sin(turn)) / length * 2.0 * np.pi)
    return z.astype(np.float32)


def opened(heights: NDArray[np.float32], folder: Path) -> Elevation:
    path = folder / "hills.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=SIDE, height=SIDE, count=1, dtype="float32",
        crs=UTM, transform=PLACE, tiled=True, blockxsize=512, blockysize=512,
    ) as data:  # fmt: skip
        data.write(heights, 1)
    return Elevation.open(path)


def test_ground_that_is_not_read_is_not_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The same rectangles with all their ground give the very same skylines.
    heights = hills()
    ground = opened(heights, tmp_path)
    assert ground.in_pieces
    cells = AreaCells(2200, 2320, 2250, 2390, PLACE, UTM.to_wkt())
    look = Look(ground, 1.6, 0.13, 19_000.0)
    bearings = [20.0, 38.0, 51.0, 128.0, 142.0, 200.0, 233.0, 301.0]
    read: list[tuple[slice, slice, NDArray[np.bool_]]] = []
    part = Elevation.part

    def noted(
        self: Elevation, rows: slice, cols: slice, wanted: NDArray[np.bool_] | None = None
    ) -> Elevation:
        assert wanted is not None
        read.append((rows, cols, wanted))
        return part(self, rows, cols, wanted)

    monkeypatch.setattr(Elevation, "part", noted)
    # So few that not all bearings fit in together.
    monkeypatch.setattr(ground_ahead, "MOST_HELD", 8_000_000)
    ahead = GroundAhead(cells, look, bearings)
    for bearing in bearings:
        found = ahead.skyline()
        rows, cols, _ = read[-1]
        whole = Elevation.from_array(
            heights[rows, cols], PLACE @ Affine.translation(cols.start, rows.start), UTM
        )
        window = (
            slice(cells.row0 - rows.start, cells.row1 - rows.start),
            slice(cells.col0 - cols.start, cells.col1 - cols.start),
        )
        asked = {"eye_height_m": 1.6, "refraction_k": 0.13, "max_distance_m": 19_000.0}
        wanted = horizon_map(whole, bearing, window=window, **asked)
        # A higher peak elsewhere sets another level that heights are taken from.
        assert np.nanmax(np.abs(found - wanted)) <= 1e-4
        assert np.isfinite(found).all()
    assert 1 < len(read) < len(bearings)
    assert min(wanted.mean() for *_, wanted in read) < 0.7
    # A part of the area reads less, and sees the same to the last bit.
    groups = with_highest(ground_groups(cells, look, bearings), cells, look, bearings)
    squares = sum(int(wanted.sum()) for *_, wanted in read[: len(groups)])
    del read[:]
    some, all_of_it = AreaPart(90, 120, 15, 77), GroundAhead(cells, look, bearings)
    of_part = GroundAhead(cells, look, bearings, some, groups)
    for _ in bearings:
        np.testing.assert_array_equal(of_part.skyline(), all_of_it.skyline()[some.window])
    assert min(int(wanted.sum()) for *_, wanted in read) < squares / len(groups)


def test_a_raster_held_whole_is_swept_as_it_is() -> None:
    heights = hills()[:400, :500]
    ground = Elevation.from_array(heights, PLACE, UTM)
    cells = AreaCells(0, 400, 0, 500, PLACE, UTM.to_wkt())
    look = Look(ground, 1.6, 0.13, 19_000.0)
    [found] = [GroundAhead(cells, look, [77.0]).skyline()]
    plain = horizon_map(ground, 77.0, eye_height_m=1.6, refraction_k=0.13, max_distance_m=19_000.0)
    np.testing.assert_array_equal(found, plain)
