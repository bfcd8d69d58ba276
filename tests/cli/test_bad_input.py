"""Bad input gets one clear sentence, the right exit code, and no traceback."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from backbearing.cli import main

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain"


class Outcome:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err

    @property
    def sentence(self) -> str:
        assert "Traceback" not in self.out + self.err
        lines = [line for line in self.err.splitlines() if line.strip()]
        assert len(lines) == 1, self.err
        return lines[0]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(*words: str | Path) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            main()
        captured = capsys.readouterr()
        return Outcome(int(stop.value.code or 0), captured.out, captured.err)

    return call


@pytest.fixture
def write(tmp_path: Path, sample_text: str):
    def make(*changes: tuple[str, str], name: str = "outing.toml") -> Path:
        text = sample_text
        for old, new in changes:
            assert old in text, old
            text = text.replace(old, new)
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return make


def raster(
    path: Path,
    heights_m: np.ndarray,
    *,
    north: float,
    west: float,
    crs: str | None = "EPSG:4326",
    unit: str | None = "metre",
) -> Path:
    rows, columns = heights_m.shape
    with rasterio.open(
        path, "w", driver="GTiff", height=rows, width=columns, count=1, dtype="float32",
        crs=crs, transform=from_origin(west, north, 1 / 1200, 1 / 1200), nodata=-32768,
    ) as file:  # fmt: skip
        file.write(heights_m.astype("float32"), 1)
        if unit:
            file.units = (unit,)
    return path


def flat(height_m: float = 400.0) -> np.ndarray:
    return np.full((120, 120), height_m)


def on(path: Path, lat: float, lon: float) -> tuple[tuple[str, str], ...]:
    return (
        (f'"{(SAMPLE / "sample_srtm_3arcsec.tif").as_posix()}"', f'"{path.as_posix()}"'),
        (f'places = "{(SAMPLE / "places.geojson").as_posix()}"', ""),
        ("lat = 36.30250", f"lat = {lat}"),
        ("lon = -84.18000", f"lon = {lon}"),
    )


def test_missing_file(run, tmp_path: Path) -> None:
    found = run("stand", tmp_path / "none.toml")
    assert found.code == 1
    assert "none.toml" in found.sentence
    assert "backbearing new" in found.sentence


def test_folder_instead_of_file(run, tmp_path: Path) -> None:
    assert "is a folder" in run("stand", tmp_path).sentence


def test_malformed_toml_names_the_line(run, write) -> None:
    found = run("stand", write(("height_m = 7.0", "height_m = = 6")))
    assert found.code == 1
    assert "line" in found.sentence
    assert "outing.toml" in found.sentence


def test_not_utf8(run, tmp_path: Path) -> None:
    path = tmp_path / "latin.toml"
    path.write_bytes(b'name = "caf\xe9"')
    assert "UTF-8" in run("stand", path).sentence


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("height_m = 7.0", "heigth_m = 7.0", ["[subject]", "height_m"]),
        ("height_m = 7.0", 'height_m = "6"', ["[subject] height_m", "without quotes"]),
        ("height_m = 7.0", "height_m = true", ["[subject] height_m"]),
        ("height_m = 7.0", "height_m = nan", ["height_m", "finite"]),
        ("height_m = 7.0", "height_m = -7.0", ["[subject]", "height_m", "above zero"]),
        ("height_m = 7.0", "", ["[subject] height_m", "missing"]),
        ("share = 0.36", "share = 1.2", ["[framing]", "share"]),
        ("base_margin = 0.08", "base_margin = 0.9", ["[framing]", "base_margin"]),
        ("evening = 2027-05-28", 'evening = "2027-05-28"', ["[night] evening", "quotes"]),
        ("evening = 2027-05-28", "evening = 2027-05-28T20:00:00", ["[night] evening"]),
        ("focal_length_mm = 40.0", "focal_length_mm = 0.0", ["number 3", "focal_length_mm"]),
        ('moon = "down"', 'moon = "new"', ["[night] moon", "lit fraction"]),
        ('orientation = "landscape"', 'orientation = "tall"', ["orientation", "portrait"]),
        ("width_px = 6000", "width_px = 6000.5", ["[camera] width_px", "whole"]),
        ("format = 1", "format = 7", ["format"]),
        ("lat = 36.30250", "lat = 136.3025", ["[subject]", "lat", "swapped"]),
        ("lon = -84.18000", "lon = 275.6", ["[subject]", "lon", "negative"]),
        ('name = "core"', "ra_deg = 266.4", ["[target]", "dec_deg"]),
        ('name = "core"', 'body = "pluto"', ["[target]", "pluto"]),
        ("sun_below_deg", 'at = "25:10"\nsun_below_deg', ["[night] at", "23:40"]),
        ("sun_below_deg", 'time_zone = "Mars/Base"\nsun_below_deg', ["[night] time_zone", "Mars"]),
    ],
)
def test_values_are_taught(run, write, old: str, new: str, words: list[str]) -> None:
    found = run("stand", write((old, new)))
    assert found.code == 1
    assert "outing.toml" in found.sentence
    for word in words:
        assert word in found.sentence


def test_subject_outside_the_raster(run, write) -> None:
    found = run("stand", write(("lat = 36.30250", "lat = 37.5")))
    assert found.code == 1
    assert "outside" in found.sentence
    assert "36.15" in found.sentence


def test_lat_and_lon_swapped(run, write) -> None:
    found = run(
        "stand",
        write(("lat = 36.30250", "lat = -84.18000"), ("lon = -84.18000\nh", "lon = 36.30250\nh")),
    )
    assert "swapped" in found.sentence


def test_lost_sign(run, write) -> None:
    found = run("stand", write(("lon = -84.18000", "lon = 84.18")))
    assert "sign of lon" in found.sentence


def test_void_at_the_subject(run, write, tmp_path: Path) -> None:
    heights = flat()
    heights[55:65, 55:65] = -32768
    path = raster(tmp_path / "void.tif", heights, north=36.45, west=-84.45)
    found = run("stand", write(*on(path, 36.40, -84.40)))
    assert found.code == 1
    assert "void" in found.sentence
    assert "ground_m" in found.sentence


def test_raster_without_crs(run, write, tmp_path: Path) -> None:
    path = raster(tmp_path / "bare.tif", flat(), north=36.45, west=-84.45, crs=None)
    found = run("stand", write(*on(path, 36.40, -84.40)))
    assert found.code == 1
    assert "bare.tif" in found.sentence
    assert "coordinate" in found.sentence.lower()
    assert "[ground] elevation" in found.sentence


def test_missing_raster(run, write) -> None:
    found = run("stand", write(("sample_srtm_3arcsec.tif", "gone.tif")))
    assert "gone.tif" in found.sentence


def test_text_instead_of_raster(run, write, tmp_path: Path) -> None:
    path = tmp_path / "words.tif"
    path.write_text("not a raster", encoding="utf-8")
    assert "words.tif" in run("stand", write(*on(path, 36.40, -84.40))).sentence


def test_core_never_rises_at_65_north(run, write, tmp_path: Path) -> None:
    path = raster(tmp_path / "north.tif", flat(), north=65.05, west=-19.05)
    found = run("stand", write(*on(path, 65.0, -19.0), ("2027-05-28", "2027-02-05")))
    assert found.code == 3
    assert "never" in found.out
    assert "Traceback" not in found.err


def test_no_astronomical_night_at_55_north_in_june(run, write, tmp_path: Path) -> None:
    path = raster(tmp_path / "north.tif", flat(), north=55.05, west=-3.05)
    found = run("stand", write(*on(path, 55.0, -3.0)))
    assert found.code == 3
    assert "darkness" in found.out or "dark" in found.out
    assert "twilight" in found.out


def test_date_outside_the_ephemeris(run, write) -> None:
    found = run("stand", write(("evening = 2027-05-28", "evening = 2090-06-05")))
    assert found.code == 1
    assert "2053" in found.sentence
    assert "[night] evening" in found.sentence


@pytest.mark.slow
def test_elevations_in_feet_are_converted_when_the_file_says_so(run, write, tmp_path: Path) -> None:
    path = raster(tmp_path / "ft.tif", flat(1000.0), north=36.45, west=-84.45, unit="foot")
    found = run("stand", write(*on(path, 36.40, -84.40)), "--json")
    assert '"ground_m": 304.8' in found.out


def test_elevations_in_feet_that_the_file_hides(run, write, tmp_path: Path) -> None:
    heights = flat(12_000.0)
    path = raster(tmp_path / "ft.tif", heights, north=36.45, west=-84.45, unit=None)
    found = run("stand", write(*on(path, 36.40, -84.40)))
    assert found.code == 1
    assert 'vertical_unit = "foot"' in found.sentence


def test_new_never_overwrites_unasked(run, tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text("precious", encoding="utf-8")
    found = run("new", path)
    assert found.code == 1
    assert "--overwrite" in found.sentence
    assert path.read_text(encoding="utf-8") == "precious"
    assert list(tmp_path.iterdir()) == [path]


def test_unknown_command_is_usage(run) -> None:
    assert run("stnad").code == 2


@pytest.mark.slow
def test_unknown_number_is_answered_with_near_names(run, write) -> None:
    found = run("explain", write(), "85mm.distanse_m")
    assert found.code == 3
    assert "85mm.distance_m" in found.sentence


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", ["places.geojson"]),
        ('{"type": "FeatureCollection"}', ["places.geojson"]),
        (
            (
                '{"features": [{"type": "Feature", "properties": {"kind": "lair"}, '
                '"geometry": {"type": "Point", "coordinates": [-84.36, 36.37]}}]}'
            ),
            ["feature 1", "kind", "parking"],
        ),
        (
            (
                '{"features": [{"type": "Feature", "properties": {"kind": "parking"}, '
                '"geometry": {"type": "Point", "coordinates": [36.37, -184.36]}}]}'
            ),
            ["feature 1", "longitude"],
        ),
    ],
)
def test_bad_places(run, write, tmp_path: Path, text: str, words: list[str]) -> None:
    places = tmp_path / "places.geojson"
    places.write_text(text, encoding="utf-8")
    original = (SAMPLE / "places.geojson").as_posix()
    found = run("stand", write((original, places.as_posix())))
    assert found.code == 1
    for word in words:
        assert word in found.sentence
