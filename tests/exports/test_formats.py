"""Writing exports: by suffix, all or nothing, never over a file unasked."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import WriteRefusedError
from backbearing.cli import main
from backbearing.exports.formats import export_plan
from backbearing.exports.suffixes import SUFFIXES
from backbearing.workflows.write_all import height_reference, write_all

if TYPE_CHECKING:
    from backbearing.alignment import Plan
    from backbearing.terrain import Elevation

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"
BEGINNINGS = {
    ".gpx": b"<?xml",
    ".kml": b"<?xml",
    ".gpkg": b"SQLite format 3\x00",
    ".csv": b"role,name,",
    ".geojson": b'{\n "type": "FeatureCollection"',
    ".ics": b"BEGIN:VCALENDAR\r\n",
    ".json": b'{\n "format": "backbearing-plan"',
}


@pytest.mark.slow
def test_every_suffix_gets_its_format(plan: Plan, tmp_path: Path) -> None:
    paths = [tmp_path / f"night{suffix}" for suffix in SUFFIXES]
    assert list(export_plan(plan, paths)) == paths
    for path in paths:
        assert path.read_bytes().startswith(BEGINNINGS[path.suffix])
    assert sorted(tmp_path.iterdir()) == sorted(paths)
    upper = tmp_path / "NIGHT.GPX"
    export_plan(plan, [upper])
    assert upper.read_bytes().startswith(b"<?xml")


def test_a_file_in_the_way_stops_everything_before_it_starts(plan: Plan, tmp_path: Path) -> None:
    there = tmp_path / "plan.kml"
    there.write_text("mine")
    with pytest.raises(WriteRefusedError, match="already there"):
        export_plan(plan, [tmp_path / "plan.gpx", there])
    assert there.read_text() == "mine"
    assert list(tmp_path.iterdir()) == [there]
    export_plan(plan, [there], overwrite=True)
    assert there.read_bytes().startswith(b"<?xml")


@pytest.mark.parametrize("name", ["plan.shp", "plan", "plan.gpx.zip", ".gpx"])
def test_an_unknown_suffix_is_taught(plan: Plan, tmp_path: Path, name: str) -> None:
    with pytest.raises(WriteRefusedError, match=r"names no format.*\.gpx, \.kml, \.gpkg"):
        export_plan(plan, [tmp_path / name])
    assert list(tmp_path.iterdir()) == []


def test_a_name_given_twice_is_refused(plan: Plan, tmp_path: Path) -> None:
    with pytest.raises(WriteRefusedError, match="asked for twice"):
        export_plan(plan, [tmp_path / "a.gpx", tmp_path / "." / "a.gpx"], overwrite=True)


def test_the_samples_heights_count_from_egm96(elevation: Elevation) -> None:
    assert height_reference(elevation) == "EGM96 geoid"


@pytest.mark.slow
def test_write_all_writes_every_export(plan: Plan, elevation: Elevation, tmp_path: Path) -> None:
    written = {path.name for path in write_all(plan, elevation, tmp_path)}
    assert {f"plan{suffix}" for suffix in SUFFIXES} | {"map.html", "skyline.svg"} <= written
    assert "EGM96 geoid" in (tmp_path / "plan.gpx").read_text(encoding="utf-8")


class Outcome:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(*words: str | Path) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        return Outcome(int(stop.value.code or 0), said.out, said.err)

    return call


@pytest.mark.slow
def test_stand_exports_beside_its_json(run, tmp_path: Path) -> None:
    gpx, table = tmp_path / "a.gpx", tmp_path / "b.csv"
    words = ("stand", SAMPLE, "--json", "--export", gpx, "--export", table)
    outcome = run(*words)
    assert outcome.code == 0
    assert json.loads(outcome.out)["format"] == "backbearing-plan"
    assert f"wrote {gpx}" in outcome.err
    assert "EGM96 geoid" in table.read_text(encoding="utf-8")
    again = run(*words)
    assert again.code == 1
    assert "already there" in again.err
    assert again.out == ""
    assert run(*words, "--overwrite").code == 0


def test_stand_refuses_an_unknown_suffix_before_any_work(run, tmp_path: Path) -> None:
    outcome = run("stand", tmp_path / "missing.toml", "--export", tmp_path / "plan.shp")
    assert outcome.code == 1
    (sentence,) = outcome.err.strip().splitlines()
    assert "plan.shp cannot be written" in sentence
    assert ".geojson" in sentence
