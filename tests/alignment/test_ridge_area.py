"""Where the target clears the ridge, cell by cell, against single spots."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import rasterio

from backbearing.alignment.ridge import ridge_view
from backbearing.alignment.ridge_area import area_words, ridge_area
from backbearing.errors import WriteRefusedError
from backbearing.exports.ridge_geotiff import write_ridge_geotiff

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment.ridge_area import RidgeArea
    from backbearing.outing import Outing
    from backbearing.terrain import Elevation


@pytest.fixture(scope="module")
def night(outing: Outing, elevation: Elevation) -> RidgeArea:
    return ridge_area(outing, elevation)


def test_first_and_last_minutes_against_single_spots(
    night: RidgeArea, outing: Outing, elevation: Elevation
) -> None:
    midnight = dt.datetime(2027, 6, 5, tzinfo=ZoneInfo(night.zone)).timestamp()
    rng = np.random.default_rng(8)
    off = []
    for _ in range(25):
        row, col = int(rng.integers(60, 300)), int(rng.integers(30, 370))
        place = elevation.grid.places(row=float(row), col=float(col))
        view = ridge_view(outing, lat=float(place.lat), lon=float(place.lon), elevation=elevation)
        if not view.clear_and_dark:
            assert np.isnan(night.first_clear_h[row, col])
            continue
        first = (view.clear_and_dark[0].start.timestamp() - midnight) / 3600.0
        last = (view.clear_and_dark[-1].end.timestamp() - midnight) / 3600.0
        off.append(60.0 * (night.first_clear_h[row, col] - first))
        off.append(60.0 * (night.last_clear_h[row, col] - last))
    assert np.median(np.abs(off)) < 1.0
    assert np.percentile(np.abs(off), 90) < 4.0


def test_one_minute_against_single_spots(outing: Outing, elevation: Elevation) -> None:
    area = ridge_area(outing, elevation, at="23:40")
    assert len(area.bearings_deg) == 1
    rng = np.random.default_rng(3)
    off = []
    for _ in range(25):
        row, col = int(rng.integers(60, 300)), int(rng.integers(30, 370))
        place = elevation.grid.places(row=float(row), col=float(col))
        view = ridge_view(outing, lat=float(place.lat), lon=float(place.lon), elevation=elevation)
        point = min(view.path, key=lambda p: abs(p.azimuth_deg - area.bearings_deg[0]))
        off.append(area.margin_deg[row, col] - point.clearance_deg)
    assert np.percentile(np.abs(off), 80) < 0.6


def test_times_lie_in_the_dark_and_add_up(night: RidgeArea) -> None:
    first, last = night.first_clear_h, night.last_clear_h
    known = np.isfinite(first)
    assert np.all(first[known] <= last[known] + 1e-4)
    hours = (night.end - night.start).total_seconds() / 3600.0
    assert np.nanmax(night.clear_minutes) <= 60.0 * hours * 1.02
    assert np.nanmin(first) == pytest.approx(22.68, abs=0.05)
    assert np.nanmax(last) == pytest.approx(28.51, abs=0.05)
    assert not np.any((night.clear_minutes > 0.0) & ~known)


def test_words_name_the_share(night: RidgeArea) -> None:
    words = area_words(night)
    assert "%" in words
    assert f"{len(night.bearings_deg)} bearings" in words


def test_geotiff_lies_on_the_raster(night: RidgeArea, elevation: Elevation, tmp_path: Path) -> None:
    path = write_ridge_geotiff(night, elevation, tmp_path / "area.tif")
    with rasterio.open(path) as raster:
        assert raster.shape == elevation.shape
        assert raster.count == 4
        assert "first clear" in raster.descriptions[0]
        assert np.allclose(raster.read(4), night.margin_deg, equal_nan=True)
        assert raster.xy(0, 0) == pytest.approx(
            tuple(float(v) for v in reversed(elevation.grid.places(row=0.0, col=0.0))), abs=1e-9
        )
    with pytest.raises(WriteRefusedError):
        write_ridge_geotiff(night, elevation, path)
    assert list(tmp_path.iterdir()) == [path]
