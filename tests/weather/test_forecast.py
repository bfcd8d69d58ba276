"""Forecasts that eccodes and xarray write themselves, slanted rays by pymap3d, and bad files."""

from __future__ import annotations

import datetime as dt
import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.base.errors import BackbearingError
from backbearing.weather.forecast import LAYER_HEIGHT_M, together
from backbearing.weather.line_of_sight import distance_to_height_m
from backbearing.weather.reading import apart
from backbearing.weather.reading.read import read_forecast
from backbearing.weather.told import cloud_words, moments

if TYPE_CHECKING:
    from pathlib import Path

LAT, LON = 43.0, 11.0
FIRST = dt.datetime(2027, 6, 5, 18, tzinfo=dt.UTC)
RUN = dt.datetime(2027, 6, 5, 12, tzinfo=dt.UTC)
HOURS = 4
LATS, LONS = np.arange(41.0, 45.01, 0.25), np.arange(9.0, 13.01, 0.25)


def low(hour: float, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    return 0.1 + 0.1 * hour + 0.0 * lat * lon


def middle(hour: float, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    """Cloud to the south only: a site may be clear while its line of sight is not."""
    return np.where(lat < 42.8, 0.6, 0.0) + 0.0 * hour * lon


def high(hour: float, lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    return np.where(lat < 42.6, 0.5, 0.2) + 0.0 * hour * lon


SHAPES = {"low": low, "middle": middle, "high": high}


def netcdf(path: Path, *, percent: bool = True, **changes: dict[str, str]) -> Path:
    xr = pytest.importorskip("xarray")
    pytest.importorskip("h5netcdf")
    lat, lon = np.meshgrid(LATS, LONS, indexing="ij")
    standard = {"low": "low_type", "middle": "medium_type", "high": "high_type"}
    variables = {}
    for layer, shape in SHAPES.items():
        values = np.stack([shape(h, lat, lon) for h in range(HOURS)])
        attrs = {
            "standard_name": f"{standard[layer]}_cloud_area_fraction",
            "units": "%" if percent else "1",
        } | changes.get(layer, {})
        full = 100.0 if percent else 1.0
        variables[f"v_{layer}"] = (("time", "latitude", "longitude"), full * values, attrs)
    times = np.array([FIRST.replace(tzinfo=None) + dt.timedelta(hours=h) for h in range(HOURS)])
    data = xr.Dataset(
        variables,
        coords={
            "time": times.astype("datetime64[ns]"), "latitude": LATS, "longitude": LONS,
            "run": ((), np.datetime64(RUN.replace(tzinfo=None), "ns"),
                    {"standard_name": "forecast_reference_time"}),
        },
    )  # fmt: skip
    packed = {"dtype": "int16", "scale_factor": 0.01, "_FillValue": -32768}
    data.to_netcdf(path, engine="h5netcdf", encoding=dict.fromkeys(variables, packed))
    return path


def grib(path: Path, *, edition: int = 2, names: dict[str, str] | None = None) -> Path:
    eccodes = pytest.importorskip("eccodes")
    lat, lon = np.meshgrid(LATS[::-1], LONS, indexing="ij")
    with path.open("wb") as out:
        for layer, shape in SHAPES.items():
            for hour in range(HOURS):
                message = eccodes.codes_grib_new_from_samples(f"regular_ll_sfc_grib{edition}")
                for key, value in {
                    "Ni": len(LONS), "Nj": len(LATS),
                    "latitudeOfFirstGridPointInDegrees": float(LATS[-1]),
                    "latitudeOfLastGridPointInDegrees": float(LATS[0]),
                    "longitudeOfFirstGridPointInDegrees": float(LONS[0]),
                    "longitudeOfLastGridPointInDegrees": float(LONS[-1]),
                    "iDirectionIncrementInDegrees": 0.25, "jDirectionIncrementInDegrees": 0.25,
                    "dataDate": 20270605, "dataTime": 1200,
                    "stepRange": f"{6 + hour}",
                    "shortName": (names or {"low": "lcc", "middle": "mcc", "high": "hcc"})[layer],
                }.items():  # fmt: skip
                    eccodes.codes_set(message, key, value)
                units = eccodes.codes_get(message, "units")
                full = 100.0 if units == "%" else 1.0
                eccodes.codes_set_values(message, (full * shape(hour, lat, lon)).ravel())
                eccodes.codes_write(message, out)
                eccodes.codes_release(message)
    return path


def csv(path: Path) -> Path:
    lines = ["time,run,lat,lon,low_percent,middle_fraction,high_oktas"]
    for hour in range(HOURS):
        when = (FIRST + dt.timedelta(hours=hour)).astimezone(dt.timezone(dt.timedelta(hours=2)))
        lines += [
            f"{when.isoformat()},2027-06-05T12:00Z,{lat},{lon},{100 * low(hour, lat, lon)},"
            f"{middle(hour, lat, lon)},{8 * high(hour, lat, lon)}"
            for lat in LATS
            for lon in LONS
        ]
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def as_json(path: Path) -> Path:
    rows = [
        {"time": (FIRST + dt.timedelta(hours=h)).isoformat(), "lat": lat, "lon": lon,
         **{layer: float(shape(h, lat, lon)) for layer, shape in SHAPES.items()}}
        for h in range(HOURS) for lat in LATS.tolist() for lon in LONS.tolist()
    ]  # fmt: skip
    document = {"format": "cloud-cover", "unit": "fraction", "run": RUN.isoformat(), "rows": rows}
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


WRITERS = {
    "cloud.nc": netcdf,
    "cloud.grib2": grib,
    "cloud.csv": csv,
    "cloud.json": as_json,
    "cloud.grib": lambda path: grib(path, edition=1),
    "part.nc": lambda path: netcdf(path, percent=False),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", WRITERS)
def test_every_format_says_the_same_at_the_site_and_along_the_line(
    tmp_path: Path, name: str
) -> None:
    forecast = read_forecast(WRITERS[name](tmp_path / name), lat=LAT, lon=LON)
    assert forecast.run == RUN
    when = FIRST + dt.timedelta(hours=1, minutes=30)
    seen = forecast.seen(
        lat=LAT, lon=LON, height_m=300.0, azimuth_deg=180.0, altitude_deg=8.0,
        times=moments([when]),
    )  # fmt: skip
    # Half-way between the second and the third hour; GRIB packs to some thousandths.
    assert seen.site["low"][0] == pytest.approx(0.25, abs=0.006)
    assert seen.site["middle"][0] == pytest.approx(0.0, abs=0.006)
    assert seen.site["high"][0] == pytest.approx(0.2, abs=0.006)
    # Southwards at 8 degrees the line is 5 km high 33 km away, and 9 km high 60 km away.
    assert seen.towards["middle"][0] == pytest.approx(0.6, abs=0.006)
    assert seen.towards["high"][0] == pytest.approx(0.5, abs=0.006)
    assert together(seen.towards)[0] == pytest.approx(1 - 0.75 * 0.4 * 0.5, abs=0.01)
    # Northwards there is none of it.
    north = forecast.seen(
        lat=LAT, lon=LON, height_m=300.0, azimuth_deg=0.0, altitude_deg=8.0, times=moments([when])
    )
    assert north.towards["middle"][0] == pytest.approx(0.0, abs=0.006)
    assert not seen.beyond[0]


@pytest.mark.parametrize("altitude", [2.0, 6.0, 15.0, 40.0, 80.0])
@pytest.mark.parametrize("layer", ["low", "middle", "high"])
def test_the_slanted_line_against_pymap3d(altitude: float, layer: str) -> None:
    """pymap3d follows the straight line over the ellipsoid; its own geodesic measures the way."""
    pymap3d = pytest.importorskip("pymap3d")
    from geographiclib.geodesic import Geodesic

    eye, height = 420.0, LAYER_HEIGHT_M[layer]
    low_m, high_m = 0.0, 600_000.0
    for _ in range(60):
        half = 0.5 * (low_m + high_m)
        lat, lon, up = pymap3d.aer2geodetic(200.0, altitude, half, LAT, LON, eye)
        low_m, high_m = (half, high_m) if up < height else (low_m, half)
    way = Geodesic.WGS84.Inverse(LAT, LON, float(lat), float(lon))["s12"]
    found = float(distance_to_height_m(altitude, eye, height))
    # A sphere for the ellipsoid: within some thousandths.
    assert found == pytest.approx(way, rel=6e-3)


def test_below_the_horizontal_and_above_the_layer_nothing_is_known() -> None:
    assert np.isnan(distance_to_height_m([-0.5, 0.0], 100.0, 2_000.0)).all()
    assert np.isnan(distance_to_height_m(30.0, 2_500.0, 2_000.0))
    assert float(distance_to_height_m(90.0, 0.0, 2_000.0)) == pytest.approx(0.0, abs=0.1)


def test_outside_its_time_and_place_a_forecast_knows_nothing(tmp_path: Path) -> None:
    forecast = read_forecast(csv(tmp_path / "cloud.csv"), lat=LAT, lon=LON)
    times = [FIRST - dt.timedelta(minutes=1), FIRST, FIRST + dt.timedelta(hours=HOURS)]
    seen = forecast.seen(
        lat=LAT, lon=LON, height_m=0.0, azimuth_deg=180.0, altitude_deg=20.0, times=moments(times)
    )
    assert seen.beyond.tolist() == [True, False, True]
    assert np.isnan(seen.site["low"]).tolist() == [True, False, True]
    said = cloud_words(forecast, seen, 0, times[0], 20.0)
    assert "unknown then; cloud.csv tells of 5 June 2027, 18:00 UTC to 5 June 2027, 21:00" in said
    far = forecast.seen(
        lat=30.0, lon=LON, height_m=0.0, azimuth_deg=0.0, altitude_deg=20.0,
        times=moments([FIRST]),
    )  # fmt: skip
    assert np.isnan(far.site["low"][0])
    assert "unknown over the place" in cloud_words(forecast, far, 0, FIRST, 20.0)


def test_gaps_of_more_than_six_hours_are_not_bridged(tmp_path: Path) -> None:
    path = tmp_path / "gap.csv"
    path.write_text(
        "time,total_percent\n2027-06-05T18:00Z,10\n2027-06-06T06:00Z,90\n", encoding="utf-8"
    )
    forecast = read_forecast(path, lat=LAT, lon=LON)
    times = moments([FIRST, FIRST + dt.timedelta(hours=3)])
    found = forecast.at("total", lat=np.full(2, LAT), lon=np.full(2, LON), times=times)
    assert found[0] == pytest.approx(0.1)
    assert np.isnan(found[1])


def test_missing_layers_are_unknown_and_said(tmp_path: Path) -> None:
    path = tmp_path / "low.csv"
    path.write_text("time,low_percent\n2027-06-05T20:00+02:00,25\n", encoding="utf-8")
    forecast = read_forecast(path, lat=LAT, lon=LON)
    assert forecast.run is None
    seen = forecast.seen(
        lat=LAT, lon=LON, height_m=0.0, azimuth_deg=180.0, altitude_deg=40.0,
        times=moments([FIRST]),
    )  # fmt: skip
    said = cloud_words(forecast, seen, 0, FIRST, 40.0)
    assert "Forecast of unknown age, first for 5 June 2027, 18:00 UTC" in said
    assert "low 25%" in said
    assert "middle and high unknown" in said
    assert np.isnan(together(seen.towards)[0])


def test_the_age_is_told(tmp_path: Path) -> None:
    forecast = read_forecast(csv(tmp_path / "cloud.csv"), lat=LAT, lon=LON)
    when = FIRST + dt.timedelta(hours=3)
    seen = forecast.seen(
        lat=LAT, lon=LON, height_m=0.0, azimuth_deg=180.0, altitude_deg=8.0, times=moments([when])
    )
    said = cloud_words(forecast, seen, 0, when, 8.0)
    assert said.startswith("Forecast of 5 June 2027, 12:00 UTC (9 h before): cloud ")


BAD = {
    "a.csv": ("time,low_percent\n2027-06-05T18:00,20\n", "with its offset"),
    "b.csv": ("time,low_percent\n2027-06-05T18:00Z,120\n", "outside 0 to 100"),
    "c.csv": ("time,low\n2027-06-05T18:00Z,20\n", "no column of cloud"),
    "d.csv": ("time,low_percent\n2027-06-05T18:00Z,many\n", "no number"),
    "e.csv": ("time,low_percent\n2027-06-05T18:00Z,1,2\n", "more or fewer fields"),
    "f.csv": ("time,lat,lon,low_percent\n2027-06-05T18:00Z,99,0,1\n", "has no place"),
    "g.csv": ("time,low_percent\n", "no rows"),
    "h.csv": ("\udcff", "UTF-8"),
    "i.csv": ("time,low_oktas\n2027-06-05T18:00Z,11\n", "outside 0 to 8"),
    "a.json": ("[1, 2", "no JSON"),
    "b.json": ("[" * 100_000, "no JSON"),
    "c.json": ('{"format": "cloud-cover", "rows": []}', "in which unit"),
    "d.json": ('{"format": "cloud-cover", "unit": "percent", "rows": [1]}', "rows"),
    "e.json": ('{"format": "else"}', "does not begin"),
    "a.nc": ("\x89HDF\r\n\x1a\n not really", "NetCDF"),
    "b.nc": ("CDF\x01 nor this", "NetCDF"),
    "a.grib2": ("GRIB\x00\x00\x00\x02 nor this", "damaged or no GRIB|no message"),
    "a.txt": ("cloud", "no forecast of cloud"),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", BAD)
def test_bad_files_are_one_sentence(tmp_path: Path, name: str) -> None:
    text, said = BAD[name]
    path = tmp_path / name
    path.write_bytes(text.encode("latin-1" if "\x89" in text else "utf-8", "surrogateescape"))
    if name.endswith(".nc"):
        pytest.importorskip("xarray")
    if name.endswith(".grib2"):
        pytest.importorskip("eccodes")
    with pytest.raises(BackbearingError, match=said) as caught:
        read_forecast(path, lat=LAT, lon=LON)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400


@pytest.mark.slow
def test_netcdf_without_unit_and_out_of_range_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BackbearingError, match="in which unit"):
        read_forecast(netcdf(tmp_path / "a.nc", low={"units": ""}), lat=LAT, lon=LON)
    with pytest.raises(BackbearingError, match="outside 0 to 1"):
        read_forecast(netcdf(tmp_path / "b.nc", middle={"units": "1"}), lat=LAT, lon=LON)
    with pytest.raises(BackbearingError, match="kelvin"):
        read_forecast(netcdf(tmp_path / "c.nc", high={"units": "kelvin"}), lat=LAT, lon=LON)
    with pytest.raises(BackbearingError, match="no points near"):
        read_forecast(netcdf(tmp_path / "d.nc"), lat=-LAT, lon=LON)


@pytest.mark.slow
def test_fill_values_are_unknown_and_not_clear(tmp_path: Path) -> None:
    xr = pytest.importorskip("xarray")
    netcdf(tmp_path / "a.nc")
    with xr.open_dataset(tmp_path / "a.nc", engine="h5netcdf") as data:
        held = data.load()
    held["v_low"][:, 8, 8] = np.nan
    held.to_netcdf(tmp_path / "b.nc", engine="h5netcdf")
    forecast = read_forecast(tmp_path / "b.nc", lat=LAT, lon=LON)
    here = forecast.at("low", lat=np.array([LAT]), lon=np.array([LON]), times=moments([FIRST]))
    assert np.isnan(here[0])


@pytest.mark.slow
def test_cut_short_grib_is_a_sentence(tmp_path: Path) -> None:
    whole = grib(tmp_path / "a.grib2").read_bytes()
    path = tmp_path / "b.grib2"
    path.write_bytes(whole[: len(whole) // 2 + 7])
    with pytest.raises(BackbearingError, match="damaged") as caught:
        read_forecast(path, lat=LAT, lon=LON)
    assert "\n" not in str(caught.value)


@pytest.mark.slow
def test_a_reader_that_dies_or_never_ends_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(apart, "MOST_SECONDS", 0.01)
    with pytest.raises(BackbearingError, match="not done after"):
        read_forecast(grib(tmp_path / "slow.grib2"), lat=LAT, lon=LON)
    monkeypatch.setattr(apart, "MOST_SECONDS", 60.0)
    # A child that is killed, as by the C library's own stop.
    monkeypatch.setattr(apart.sys, "executable", str(_stops(tmp_path)))
    with pytest.raises(BackbearingError, match="its reader stopped"):
        read_forecast(grib(tmp_path / "stops.grib2"), lat=LAT, lon=LON)


def _stops(folder: Path) -> Path:
    """A program that ends as one whose memory was freed twice."""
    program = folder / "stops"
    program.write_text("#!/bin/sh\nkill -ABRT $$\n", encoding="utf-8")
    program.chmod(0o755)
    return program


@pytest.mark.slow
def test_grib_of_something_else_holds_no_cloud(tmp_path: Path) -> None:
    names = dict.fromkeys(SHAPES, "2t")
    with pytest.raises(BackbearingError, match="no message of cloud cover"):
        read_forecast(grib(tmp_path / "a.grib2", names=names), lat=LAT, lon=LON)
