"""The sample raster lies where the land lies, and is remade byte for byte."""

from __future__ import annotations

import runpy
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio

from backbearing.terrain import Elevation

SAMPLE = Path(__file__).resolve().parent.parent / "sample_terrain"
RASTER = SAMPLE / "sample_srtm_3arcsec.tif"


def test_remade_byte_for_byte(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    again = tmp_path / RASTER.name
    monkeypatch.setattr(sys, "argv", ["make_sample.py", str(again)])
    runpy.run_path(str(SAMPLE / "make_sample.py"), run_name="__main__")
    assert again.read_bytes() == RASTER.read_bytes()


def test_spans_the_stated_box() -> None:
    with rasterio.open(RASTER) as raster:
        assert raster.shape == (344, 403)
        assert raster.tags()["AREA_OR_POINT"] == "Point"
        assert raster.bounds == pytest.approx((-84.41375, 36.1595833, -84.0779167, 36.44625))


def test_posts_lie_on_whole_three_arc_seconds() -> None:
    # USGS, SRTM "Finished" 3 arc second: points every 3"; a file's 1,201 of them span a degree.
    with rasterio.open(RASTER) as raster:
        lon, lat = raster.xy(0, 0)
    assert lat * 1200 == pytest.approx(round(lat * 1200), abs=1e-6)
    assert lon * 1200 == pytest.approx(round(lon * 1200), abs=1e-6)


def test_highest_cell_falls_on_cross_mountain() -> None:
    # Cross Mountain, Tennessee: 3,534 ft or 1,077 m, 36°11'54"N 84°13'50"W (Wikipedia).
    with rasterio.open(RASTER) as raster:
        heights = raster.read(1)
        row, column = np.unravel_index(heights.argmax(), heights.shape)
        lon, lat = raster.xy(row, column)
    assert (row, column) == (297, 219)
    assert heights[row, column] == 1076
    assert (lat, lon) == (pytest.approx(36.20, abs=0.01), pytest.approx(-84.23, abs=0.01))
    assert float(Elevation.open(RASTER).height_at(lat=lat, lon=lon)) == pytest.approx(
        1076, abs=1e-3
    )


def test_largest_flat_falls_on_norris_lake() -> None:
    # Norris Lake, full at 1,020 ft or 311 m (Wikipedia), falls some 29 ft or 9 m to winter (TVA).
    with rasterio.open(RASTER) as raster:
        heights = raster.read(1)
        row, column = (np.median(axis) for axis in np.nonzero(heights == 305))
        lon, lat = raster.xy(row, column)
    assert np.bincount(heights.ravel()).argmax() == 305
    assert (lat, lon) == (pytest.approx(36.27, abs=0.02), pytest.approx(-84.12, abs=0.02))


def test_invented_places_say_so() -> None:
    text = (SAMPLE / "places.geojson").read_text(encoding="utf-8")
    assert "None of it exists" in text
