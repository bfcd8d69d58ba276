"""Where the target clears the ridge, cell by cell, against single spots."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import rasterio

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.alignment.ridge._kernels import take_sample
from backbearing.alignment.ridge.accuracy import _p90
from backbearing.alignment.ridge.area_cells import area_cells
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.alignment.ridge.foreground import clear_ground
from backbearing.alignment.ridge.moments import dark_stretches, finer
from backbearing.alignment.ridge.skyline_view import ridge_view
from backbearing.alignment.stand.night_sky import NightSky
from backbearing.base.errors import NothingFoundError, TerrainError, WriteRefusedError
from backbearing.exports.ridge_geotiff import write_ridge_geotiff
from backbearing.plan.clearance import area_words
from backbearing.sky import CORE, DarkWindow, direction
from invented import write_outing

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.alignment import Plan
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import RidgeArea
    from backbearing.terrain import Elevation


@pytest.fixture(scope="session")
def outing(deep_valley: Outing) -> Outing:
    """A high ridge behind a low subject, which the sample has not."""
    return deep_valley


@pytest.fixture(scope="session")
def plan(deep_valley_plan: Plan) -> Plan:
    return deep_valley_plan


@pytest.fixture(scope="module")
def night(outing: Outing, elevation: Elevation) -> RidgeArea:
    return ridge_area(outing, elevation)


@pytest.mark.slow
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


@pytest.mark.slow
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
    path = write_ridge_geotiff(night, tmp_path / "area.tif")
    with rasterio.open(path) as raster:
        assert raster.shape == elevation.shape
        assert raster.count == 4
        assert "first clear" in raster.descriptions[0]
        assert np.allclose(raster.read(4), night.margin_deg, equal_nan=True)
        assert raster.xy(0, 0) == pytest.approx(
            tuple(float(v) for v in reversed(elevation.grid.places(row=0.0, col=0.0))), abs=1e-9
        )
    with pytest.raises(WriteRefusedError):
        write_ridge_geotiff(night, path)
    assert list(tmp_path.iterdir()) == [path]


def test_few_bearings_and_their_error_is_stated(night: RidgeArea) -> None:
    # The core turns 75 degrees in this night; a degree apart it took 88 bearings.
    assert 10 <= len(night.bearings_deg) <= 45
    assert night.trial.cells >= 25
    assert night.trial.margin_p90_deg < 0.35
    assert night.trial.minutes_p90 < 3.0
    assert night.trial.disagree == 0
    assert 0.2 < night.trial.sigma_median_deg < 2.0


def test_part_of_an_area_is_the_same_as_the_whole(outing: Outing, elevation: Elevation) -> None:
    whole = ridge_area(outing, elevation, at="23:10")
    part = ridge_area(outing, elevation, at="23:10", within_m=3000.0)
    cells = part.cells
    assert 60 < cells.shape[0] < 75
    cut = whole.margin_deg[cells.row0 : cells.row1, cells.col0 : cells.col1]
    off = np.abs(part.margin_deg - cut)
    # Not the same bits: the bearing on the grid is read at each cutting's own middle.
    assert np.nanpercentile(off, 95) < 0.1
    assert np.array_equal(np.isnan(part.margin_deg), np.isnan(cut))


def test_one_minute_says_whether_it_is_dark(outing: Outing, elevation: Elevation) -> None:
    dark = ridge_area(outing, elevation, at="23:40", within_m=1000.0)
    dusk = ridge_area(outing, elevation, at="21:50", within_m=1000.0)
    assert dark.one_minute
    assert "not a dark minute" in area_words(dusk)
    assert "not a dark minute" not in area_words(dark)
    assert np.array_equal(np.isfinite(dark.first_clear_h), dark.margin_deg >= dark.clear_by_deg)


@pytest.mark.parametrize("within_m", [0.0, -5.0, float("nan")])
def test_an_area_without_cells_is_refused(
    outing: Outing, elevation: Elevation, within_m: float
) -> None:
    with pytest.raises(TerrainError, match="above 0"):
        ridge_area(outing, elevation, at="23:40", within_m=within_m)


def test_too_many_cells_are_refused_with_what_to_do() -> None:
    class Wide:
        shape = (40_000, 40_000)

    with pytest.raises(TerrainError, match="--within"):
        area_cells(Wide(), None, None)  # type: ignore[arg-type]


def _sky(dark: list[tuple[int, int]], up: range) -> NightSky:
    start = dt.datetime(2027, 6, 6, tzinfo=dt.UTC)
    minute = dt.timedelta(minutes=1)
    windows = tuple(
        DarkWindow(dt.date(2027, 6, 5), start + a * minute, start + b * minute) for a, b in dark
    )
    return NightSky("UTC", tuple(start + m * minute for m in up), windows, windows, 1.0)


def _rolling(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    """Invented hills of all sizes, 600 m of them."""
    rng = np.random.default_rng(1)
    rows, cols = east.shape
    spectrum = np.fft.rfft2(rng.standard_normal((rows, cols)))
    k = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
    k[0, 0] = np.inf
    z = np.fft.irfft2(spectrum / k**1.8, s=(rows, cols))
    return 600.0 * (z - z.min()) / np.ptp(z)


@pytest.mark.slow
def test_the_stated_error_holds_against_a_fine_scan_where_the_target_culminates_high(
    tmp_path: Path,
) -> None:
    # At 25 S the core culminates at 86 degrees and turns by 6 degrees in two minutes.
    outing = write_outing(
        tmp_path, lat=-25.0, lon=20.0, evening=dt.date(2027, 7, 4), ground=_rolling,
        night={"moon": "any"}, raster={"half_m": 4000.0, "cell_m": 40.0},
    )  # fmt: skip
    elevation = open_elevation(outing)
    area = ridge_area(outing, elevation)
    scan = np.arange(
        np.datetime64(area.start.replace(tzinfo=None), "us"),
        np.datetime64(area.end.replace(tzinfo=None), "us"),
        np.timedelta64(10, "s"),
    )
    rng, off = np.random.default_rng(11), []
    for _ in range(60):
        row, col = (int(rng.integers(0, n)) for n in elevation.shape)
        place = {
            name: float(value)
            for name, value in elevation.grid.places(row=float(row), col=float(col))
            ._asdict()
            .items()
        }
        azimuth, altitude = direction(CORE, **place, height_m=300.0, times=scan)
        seen = elevation.skylines(
            **{name: np.full(len(scan), value) for name, value in place.items()},
            azimuths_deg=azimuth,
        )
        exact = (altitude - seen.altitudes_deg).max()
        if np.isfinite(exact):
            off.append(abs(area.margin_deg[row, col] - exact))
    assert len(off) > 40
    assert np.percentile(off, 90) < 1.25 * area.trial.margin_p90_deg
    assert area.trial.margin_p90_deg < 0.25


def test_moments_lie_nearer_where_the_target_turns_faster() -> None:
    stretches = dark_stretches(_sky([(0, 60), (80, 120)], range(0, 122, 2)))
    middle = np.datetime64("2027-06-06T00:29")

    def past_the_zenith(when: np.ndarray) -> np.ndarray:
        # Passing 1 degree beside it at a quarter of a degree a minute.
        along = 0.25 * (when - middle) / np.timedelta64(60, "s")
        return np.degrees(np.arctan2(along, 1.0))[None, :]

    found = finer(stretches, past_the_zenith)
    assert set(stretches.times) <= set(found.times)
    instants = found.instants
    turn = np.abs(np.diff(past_the_zenith(instants)[0]))
    same = np.diff(found.stretch) == 0
    assert turn[same].max() <= 0.5
    assert (np.diff(instants) > np.timedelta64(0, "s")).all()
    # Nothing is added where it turns slowly, nor in the gap between two stretches.
    assert [t for t in found.times if t.hour == 1] == [t for t in stretches.times if t.hour == 1]


def test_the_stated_bound_is_one_that_holds_nine_times_in_ten() -> None:
    rng = np.random.default_rng(4)
    held = [_p90(rng.standard_normal(64)) >= 1.6449 for _ in range(4000)]
    # 1.6449 is what 90 % of a normal variable's sizes lie under (standard tables).
    assert np.mean(held) == pytest.approx(0.9, abs=0.03)
    assert np.isnan(_p90(np.array([np.nan])))
    assert _p90(np.array([3.0, np.nan, -4.0])) == 4.0


def test_moonlight_between_parts_the_dark() -> None:
    stretches = dark_stretches(_sky([(5, 31), (61, 101)], range(0, 200, 2)))
    assert set(stretches.stretch.tolist()) == {0, 1}
    first = [t for t, n in zip(stretches.times, stretches.stretch, strict=True) if n == 0]
    second = [t for t, n in zip(stretches.times, stretches.stretch, strict=True) if n == 1]
    assert (first[0].minute, first[-1].minute) == (5, 31)
    assert (second[0].hour, second[0].minute) == (1, 1)
    assert (second[-1].hour, second[-1].minute) == (1, 41)


def test_no_dark_time_is_said() -> None:
    with pytest.raises(NothingFoundError, match="dark time"):
        dark_stretches(_sky([], range(0, 200, 2)))


def test_cells_add_up_what_was_worked_out_by_hand() -> None:
    # One cell: over the margin by -1, 1, 3, -1 at minutes 0, 10, 20, 30; then, after a
    # break, by 2 and 2 at 60 and 70. Clear from 5 to 27.5 and from 60 to 70.
    def flat(value: float) -> np.ndarray:
        return np.full((2, 2), value)

    ends = np.array([0.0, 1.0])
    was = np.empty((1, 1), np.float32)
    first, last, margin = (np.full((1, 1), np.nan, np.float32) for _ in range(3))
    minutes = np.zeros((1, 1), np.float32)
    before = 0.0
    for minute, over in [(0, -1), (10, 1), (20, 3), (30, -1), (60, 2), (70, 2)]:
        take_sample(
            np.full((1, 1), 7.0, np.float32), flat(7.0 + 1.0 + over), flat(minute), flat(before),
            minute in (0, 60), 1.0, ends, ends, 0, 0, was, first, last, minutes, margin,
        )  # fmt: skip
        before = minute
    assert first[0, 0] == pytest.approx(5.0)
    assert last[0, 0] == pytest.approx(70.0)
    assert minutes[0, 0] == pytest.approx(22.5 + 10.0)
    assert margin[0, 0] == pytest.approx(4.0)


def test_a_cell_with_an_unknown_skyline_stays_unknown() -> None:
    ends = np.array([0.0, 1.0])
    layers = [np.full((1, 1), np.nan, np.float32) for _ in range(3)]
    minutes = np.zeros((1, 1), np.float32)
    two = np.full((2, 2), 50.0)
    take_sample(
        np.full((1, 1), np.nan, np.float32), two, two, two, True, 1.0, ends, ends, 0, 0,
        np.empty((1, 1), np.float32), layers[0], layers[1], minutes, layers[2],
    )  # fmt: skip
    assert all(np.isnan(layer[0, 0]) for layer in layers)


def test_ground_round_the_stands_agrees_with_the_stands(plan: Plan, elevation: Elevation) -> None:
    found = clear_ground(plan, elevation)
    assert sorted(i for ground in found for i in ground.lenses) == list(range(len(plan.lenses)))
    for ground in found:
        stand = plan.lenses[ground.lenses[0]].stand
        assert stand is not None
        here = elevation.grid.pixels(lat=stand.lat, lon=stand.lon)
        row = round(float(here.row)) - ground.cells.row0
        col = round(float(here.col)) - ground.cells.col0
        # The cell's centre lies up to 60 m from the stand, beside a ridge 800 m away.
        assert ground.margin_deg[row, col] == pytest.approx(stand.clearance_deg, abs=2.5)


def test_geotiff_of_a_part_and_a_minute(
    outing: Outing, elevation: Elevation, tmp_path: Path
) -> None:
    area = ridge_area(outing, elevation, at="23:40", within_m=1000.0)
    path = write_ridge_geotiff(area, tmp_path / "part.tif")
    with rasterio.open(path) as raster:
        assert raster.count == 1
        assert raster.shape == area.cells.shape
        corner = elevation.grid.places(row=float(area.cells.row0), col=float(area.cells.col0))
        assert raster.xy(0, 0) == pytest.approx((float(corner.lon), float(corner.lat)), abs=1e-9)
        assert "trees" in raster.tags()["left_out"]
