"""Tiles of invented ground against the formula that the ground was made from."""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from backbearing.base.constants import WEB_MERCATOR_RADIUS_M
from backbearing.desk.raster_tiles import RasterTiles
from backbearing.desk.tile_heights import TILE_PX, TileHeights, heights_under
from backbearing.desk.tile_marks import labels_of, tops_of
from backbearing.drawing.contours import Contours
from backbearing.terrain.elevation import Elevation
from invented import write_ground

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON = -31.2, 148.6


def tile_at(zoom: int, lat: float = LAT, lon: float = LON) -> tuple[int, int]:
    """The tile that holds a place: the usual formula of square web maps."""
    n = 1 << zoom
    up = math.asinh(math.tan(math.radians(lat))) / math.pi
    return int((lon + 180.0) / 360.0 * n), int((1.0 - up) / 2.0 * n)


def ground(folder: Path, height_m: Any, **how: Any) -> Elevation:
    return Elevation.open(write_ground(folder / "g.tif", height_m, lat=LAT, lon=LON, **how))


def decoded(tile: bytes | None) -> Any:
    assert tile is not None
    return np.asarray(Image.open(io.BytesIO(tile)).convert("RGB"), np.float64)


def east_of(under: TileHeights) -> Any:
    """Metres east of LON at each pixel of a tile, on a sphere."""
    x = (np.arange(TILE_PX) + 0.5) / under.step_px + under.left
    east = under.grid.west_m + (x + 0.5) * under.grid.step_m
    lon = np.degrees(east / WEB_MERCATOR_RADIUS_M)
    return (lon - LON) * 111_195.0 * math.cos(math.radians(LAT))


def test_zoomed_out_a_pixel_is_the_mean_of_its_cells(tmp_path: Path) -> None:
    """Stripes a cell wide vanish into their mean; picked cells would show one or the other."""
    step = 111_195.0 * 30.0 / 111_195.0
    elevation = ground(
        tmp_path, lambda e, n: 200.0 + 50.0 * (np.rint(e / step) % 2.0), half_m=12_000.0
    )
    column, row = tile_at(10)
    under = heights_under(elevation, 10, column, row)
    known = under.grid.heights_m[np.isfinite(under.grid.heights_m)]
    assert under.block == 4
    assert known.size > 1000
    assert np.abs(known - 225.0).max() < 0.01


def test_zoomed_in_a_slope_stays_the_slope_it_is(tmp_path: Path) -> None:
    """On a plane the softened surface is the plane, whatever the zoom."""
    elevation = ground(tmp_path, lambda e, n: 500.0 + 0.1 * e, half_m=9000.0)
    for zoom in (13, 15, 17, 19):
        column, row = tile_at(zoom)
        under = heights_under(elevation, zoom, column, row)
        surface = under.surface_m(rim_px=0)
        assert np.abs(surface - (500.0 + 0.1 * east_of(under))).max() < 0.05, zoom


def test_zoomed_in_contours_have_no_corners(tmp_path: Path) -> None:
    """Whole metres on gentle ground make steps; the drawn surface turns gently all the same."""
    elevation = ground(tmp_path, lambda e, n: np.rint(300.0 + 6.0 * np.sin(e / 500.0 + n / 900.0)))
    column, row = tile_at(17)
    under = heights_under(elevation, 17, column, row)
    surface = under.surface_m(rim_px=0).astype(np.float64)
    bend = np.abs(np.diff(surface, 2, axis=1))
    raw = elevation.height_at(
        lat=np.full(TILE_PX, LAT),
        lon=LON + east_of(under) / 111_195.0 / math.cos(math.radians(LAT)),
    )
    assert np.abs(np.diff(raw, 2)).max() > 5.0 * bend.max()
    assert np.nanmin(raw) - 1.0 <= surface.min() <= surface.max() <= np.nanmax(raw) + 1.5


@pytest.mark.parametrize("zoom", [12, 14, 17])
def test_tiles_meet_without_a_seam(tmp_path: Path, zoom: int) -> None:
    """Across an edge the picture changes no more than within a tile."""
    elevation = ground(
        tmp_path,
        lambda e, n: 400.0 + 60.0 * np.sin(e / 300.0) * np.cos(n / 450.0),
        half_m=9000.0,
    )
    tiles = RasterTiles(elevation)
    column, row = tile_at(zoom)
    left, right = (decoded(tiles.tile(zoom, column + k, row)) for k in (0, 1))
    below = decoded(tiles.tile(zoom, column, row + 1))
    across = np.abs(left[:, -1] - right[:, 0]).mean()
    down = np.abs(left[-1] - below[0]).mean()
    within = max(
        np.abs(np.diff(left, axis=1)).mean(axis=(0, 2)).max(),
        np.abs(np.diff(left, axis=0)).mean(axis=(1, 2)).max(),
    )
    assert max(across, down) <= 1.2 * within + 1.0


def test_the_surface_is_the_same_from_both_sides_of_an_edge(tmp_path: Path) -> None:
    elevation = ground(
        tmp_path,
        lambda e, n: 400.0 + 60.0 * np.sin(e / 300.0) * np.cos(n / 450.0),
        half_m=9000.0,
    )
    for zoom in (13, 16, 19):
        column, row = tile_at(zoom)
        here, there = (heights_under(elevation, zoom, column + k, row) for k in (0, 1))
        left, right = here.surface_m(rim_px=4), there.surface_m(rim_px=4)
        assert np.abs(left[:, -8:] - right[:, :8]).max() < 1e-3, zoom


def test_a_top_has_the_height_of_its_highest_cell_at_every_zoom(tmp_path: Path) -> None:
    """One peak in the middle: named once among neighbouring tiles, never by a mean."""
    peak = 100.0 + 80.0

    def height(e: Any, n: Any) -> Any:
        return 100.0 + 80.0 * np.exp(-(e**2 + n**2) / (2.0 * 150.0**2))

    elevation = ground(tmp_path, height, half_m=9000.0)
    for zoom in (10, 12, 14, 16):
        column, row = tile_at(zoom)
        found = [
            (dx, dy, top)
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for top in tops_of(
                elevation,
                heights_under(elevation, zoom, column + dx, row + dy),
                least_rise_m=10.0,
            )
        ]
        assert len(found) == 1, (zoom, found)
        assert found[0][2].height_m == pytest.approx(peak, abs=0.01)
        at_x = (LON + 180.0) / 360.0 * (TILE_PX << zoom)
        assert (column + found[0][0]) * TILE_PX + found[0][2].x == pytest.approx(at_x, abs=0.6)


def test_unknown_ground_is_left_out_and_too_far_out_is_refused(tmp_path: Path) -> None:
    elevation = ground(tmp_path, lambda e, n: 100.0 + 0.0 * e, void=lambda e, n: e > 0.0)
    tiles = RasterTiles(elevation)
    column, row = tile_at(14)
    tile = tiles.tile(14, column, row)
    assert tile is not None
    alpha = np.asarray(Image.open(io.BytesIO(tile)).convert("RGBA"))[..., 3]
    under = heights_under(elevation, 14, column, row)
    east = east_of(under)
    assert (alpha[128, east < -40.0] == 255).all()
    assert (alpha[128, east > 40.0] == 0).all()
    with pytest.raises(ValueError, match="no tile"):
        tiles.tile(tiles.least_zoom - 1, 0, 0)


def test_projected_ground_lies_where_its_places_say(tmp_path: Path) -> None:
    """Tiles of a UTM raster and of the same ground in degrees agree within a pixel's rise."""
    import rasterio
    from affine import Affine
    from pyproj import Transformer

    to_lonlat = Transformer.from_crs("EPSG:32755", "EPSG:4326", always_xy=True)
    to_utm = Transformer.from_crs("EPSG:4326", "EPSG:32755", always_xy=True)
    x0, y0 = to_utm.transform(LON, LAT)
    x = x0 + np.arange(-200, 201) * 30.0
    y = y0 - np.arange(-200, 201) * 30.0
    lon, lat = to_lonlat.transform(*np.meshgrid(x, y))
    heights = (300.0 + 4000.0 * (lon - LON) + 3000.0 * (lat - LAT)).astype(np.float32)
    path = tmp_path / "utm.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=401, height=401, count=1, dtype="float32",
        crs="EPSG:32755", transform=Affine(30.0, 0, x[0] - 15.0, 0, -30.0, y[0] + 15.0),
    ) as out:  # fmt: skip
        out.write(heights, 1)
    elevation = Elevation.open(path)
    for zoom in (13, 15, 18):
        column, row = tile_at(zoom)
        under = heights_under(elevation, zoom, column, row)
        rows, cols = under.grid.heights_m.shape
        at_lat, at_lon = under.grid.place(np.arange(cols)[None, :], np.arange(rows)[:, None])
        true = 300.0 + 4000.0 * (at_lon - LON) + 3000.0 * (at_lat - LAT)
        assert np.nanmax(np.abs(under.grid.heights_m - true)) < 0.1, zoom


def test_a_long_contour_says_its_height_every_second_tile() -> None:
    # Two straight lines across each tile, far from one another; none is one of every fifth.
    def line(row: float) -> Any:
        return np.column_stack([np.arange(268.0), np.full(268, row)])

    lines = Contours(2.0, {426.0: [line(80.0)], 428.0: [line(190.0)]})
    row_of_tiles = [
        [label.text for label in labels_of(lines, (), rim_px=6, tile=(column, 7))]
        for column in range(4)
    ]
    assert row_of_tiles == [["426"], ["428"], ["426"], ["428"]]
    # Next to it to the south the other height has its turn.
    assert [one.text for one in labels_of(lines, (), rim_px=6, tile=(0, 8))] == ["428"]
