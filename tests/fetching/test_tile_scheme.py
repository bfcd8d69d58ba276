"""Which tiles hold the ground about a place, and what they are called and how they lie."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import Geod

from backbearing.base.errors import FetchError
from backbearing.fetching.source import BUILT_IN, Box, TileSource
from backbearing.fetching.tile_scheme import (
    SCHEMES,
    Corner,
    corner_in,
    filled,
    tiles_about,
)

GEOD = Geod(ellps="WGS84")
GLO30, GLO90, SRTM = BUILT_IN


@pytest.mark.parametrize(
    ("corner", "name"),
    [
        # As the list of the tiles that exist has them (package dem-stitcher 3.2.0, glo_30.parquet
        # and glo_90.parquet; looked up).
        (Corner(0, 6), "Copernicus_DSM_COG_10_N00_00_E006_00_DEM"),
        (Corner(51, -180), "Copernicus_DSM_COG_10_N51_00_W180_00_DEM"),
        (Corner(-20, -180), "Copernicus_DSM_COG_10_S20_00_W180_00_DEM"),
        (Corner(-90, -180), "Copernicus_DSM_COG_10_S90_00_W180_00_DEM"),
    ],
)
def test_names_are_those_of_the_products_own_list(corner: Corner, name: str) -> None:
    address = f"https://copernicus-dem-30m.s3.amazonaws.com/{name}/{name}.tif"
    assert GLO30.url(corner) == address
    assert GLO30.file_name(corner) == f"{name}.tif"
    other = name.replace("COG_10", "COG_30")
    assert GLO90.url(corner) == f"https://copernicus-dem-90m.s3.amazonaws.com/{other}/{other}.tif"
    assert corner_in(f"{name}.tif") == corner


@pytest.mark.parametrize(
    ("corner", "west", "north", "step"),
    [
        # "Origin" and "Pixel Size" that gdalinfo shows of ..._S14_00_W172_00_DEM.tif, in a thread
        # of the forum of those who keep the public store (looked up).
        (Corner(-14, -172), -172.000138888888898, -12.999861111111111, 0.000277777777778),
        # Corners and step in the catalogue's item of ..._S01_00_E030_00_DEM (looked up).
        (Corner(-1, 30), 29.999861111111112, 0.0001388888888888889, 1 / 3600),
    ],
)
def test_a_tile_lies_where_the_products_own_files_lie(
    corner: Corner, west: float, north: float, step: float
) -> None:
    layout = SCHEMES["copernicus 30"].layout(corner)
    assert layout is not None
    assert (layout.rows, layout.cols) == (3600, 3600)
    assert layout.west == pytest.approx(west, abs=1e-9)
    assert layout.north == pytest.approx(north, abs=1e-9)
    assert layout.lon_step == pytest.approx(step, abs=1e-12)


def test_widths_by_latitude_are_those_of_the_stores_readme() -> None:
    # https://copernicus-dem-30m.s3.amazonaws.com/readme.html, both tables (looked up). In the south
    # a tile's northern edge is the one nearer the equator: S51 reaches to 50 S.
    wide_30 = {0: 3600, 49: 3600, 50: 2400, 59: 2400, 60: 1800, 69: 1800, 70: 1200, 79: 1200}
    wide_30 |= {80: 720, 84: 720, 85: 360, 89: 360}
    wide_90 = {0: 1200, 50: 800, 60: 600, 70: 400, 80: 240, 85: 120}
    for scheme, widths in (("copernicus 30", wide_30), ("copernicus 90", wide_90)):
        for lat, cols in widths.items():
            assert SCHEMES[scheme].cols(Corner(lat, 10)) == cols
            assert SCHEMES[scheme].cols(Corner(-lat - 1, 10)) == cols
    # A catalogue's item of the 90 m model at N53 W115 has steps of 0.00125 degrees (looked up).
    layout = SCHEMES["copernicus 90"].layout(Corner(53, -115))
    assert layout is not None
    assert layout.lon_step == pytest.approx(0.00125)


def test_tiles_kept_back_are_missing_and_others_that_are_absent_are_sea() -> None:
    # Of the 26,475 tiles of the 90 m model's list 25 are in no list of the 30 m model: among them
    # N38 E045 and N41 E049 (dem-stitcher 3.2.0, glo_90_missing.parquet; looked up).
    assert not GLO30.is_sea(Corner(38, 45))
    assert not GLO30.is_sea(Corner(41, 49))
    assert GLO90.is_sea(Corner(38, 45))
    assert GLO30.is_sea(Corner(0, -30))
    assert not SRTM.is_sea(Corner(0, -30))
    assert not TileSource("own", "", SCHEMES["one degree"]).is_sea(Corner(0, -30))
    assert not Box(1, 1, 1, 1).holds(Corner(1, 2))


@pytest.mark.parametrize(
    ("lat", "lon", "within_m", "wanted"),
    [
        (36.5, -84.5, 10e3, {(36, -85)}),
        (-31.0, 138.0, 5e3, {(-31, 137), (-31, 138), (-32, 137), (-32, 138)}),
        (-16.9, 179.97, 20e3, {(-17, 179), (-17, -180), (-18, 179), (-18, -180)}),
        (-16.9, -179.99, 5e3, {(-17, 179), (-17, -180)}),
        (0.0, 0.0, 2e3, {(0, 0), (0, -1), (-1, 0), (-1, -1)}),
        (12.5, 180.0, 5e3, {(12, 179), (12, -180)}),
    ],
)
def test_corners_edges_and_the_antimeridian(
    lat: float, lon: float, within_m: float, wanted: set[tuple[int, int]]
) -> None:
    found = tiles_about(lat=lat, lon=lon, within_m=within_m)
    assert set(found) == wanted
    assert len(found) == len(wanted)


def test_tiles_of_three_degrees_begin_at_multiples_of_three() -> None:
    found = tiles_about(lat=-31.0, lon=138.0, within_m=5e3, degrees=3)
    assert set(found) == {(-33, 138), (-33, 135)}
    found = tiles_about(lat=0.01, lon=-179.99, within_m=5e3, degrees=3)
    assert set(found) == {(0, -180), (0, 177), (-3, -180), (-3, 177)}


def test_a_pole_has_all_meridians() -> None:
    found = tiles_about(lat=90.0, lon=0.0, within_m=20e3)
    assert set(found) == {(89, lon) for lon in range(-180, 180)}
    assert {one.lat for one in tiles_about(lat=-89.9, lon=50.0, within_m=1e3)} == {-90}


@given(lat=st.floats(-84.0, 84.0), lon=st.floats(-180.0, 180.0), within_m=st.floats(2e3, 150e3))
def test_every_place_within_reach_is_on_a_tile_and_every_tile_is_near(
    lat: float, lon: float, within_m: float
) -> None:
    found = set(tiles_about(lat=lat, lon=lon, within_m=within_m))
    azimuths, distances = np.meshgrid(np.arange(0.0, 360.0, 7.0), within_m * np.linspace(0, 1, 12))
    lons, lats, _ = GEOD.fwd(
        np.full(azimuths.size, lon),
        np.full(azimuths.size, lat),
        azimuths.ravel(),
        distances.ravel(),
    )
    needed = {
        (int(np.floor(one)), (int(np.floor(two)) + 180) % 360 - 180)
        for one, two in zip(lats, lons, strict=True)
    }
    assert needed <= found
    for corner in found - needed:
        # A tile that no place of the net lies on comes near all the same: by its own outline.
        edge = np.linspace(0.0, 1.0, 201)
        ring_lat = np.concatenate([corner.lat + edge, corner.lat + edge, edge * 0, edge * 0 + 1])
        ring_lat[402:] += corner.lat
        ring_lon = np.concatenate([edge * 0, edge * 0 + 1, edge, edge]) + corner.lon
        _, _, away = GEOD.inv(
            np.full(ring_lat.size, lon), np.full(ring_lat.size, lat), ring_lon, ring_lat
        )
        assert away.min() <= within_m + 1_500.0


@pytest.mark.parametrize(
    ("name", "corner"),
    [
        ("n36w085.hgt", Corner(36, -85)),
        ("S31E138.tif", Corner(-31, 138)),
        ("N036W085_DSM.tif", Corner(36, -85)),
        ("own_s31_e138_30m.tif", Corner(-31, 138)),
        ("N90E000.tif", None),
        ("N36W185.tif", None),
        ("elevation.tif", None),
        ("plan36w085.tif", None),
    ],
)
def test_corners_in_names(name: str, corner: Corner | None) -> None:
    assert corner_in(name) == corner


@pytest.mark.parametrize("within_m", [0.0, -5.0, 500_001.0, float("nan"), float("inf")])
def test_a_reach_that_is_none_is_refused(within_m: float) -> None:
    with pytest.raises(FetchError, match="is no reach; write more than 0 and up to 500 km"):
        tiles_about(lat=0.0, lon=0.0, within_m=within_m)


def test_a_template_knows_its_words_only() -> None:
    assert filled("{ns}{lat}{ew}{lon}", Corner(-3, 7)) == "s03e007"
    with pytest.raises(
        FetchError, match=r"\{lat.__class__\} in the template .* stands for nothing"
    ):
        filled("http://here/{lat.__class__}.tif", Corner(-3, 7))
