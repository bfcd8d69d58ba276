"""The answer first: one screen, no digit lost at any width, one plan a lens."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import rasterio
from pyproj.database import get_units_map
from rasterio.transform import from_origin

from backbearing.base.text import compass_point
from backbearing.base.units import METRIC, Units
from backbearing.base.wall_clock import hm
from backbearing.cli import main
from backbearing.cli.plan_answer import print_answer
from backbearing.cli.plan_table import print_plan
from backbearing.cli.screen import Screen

if TYPE_CHECKING:
    from backbearing.plan.plan import Plan

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain" / "outing.toml"
NUMBER = re.compile(r"[-+]?\d+(?:[.:]\d+)*")
WIDTHS = (40, 60, 80, 120)
HILL = """
format = 1
[ground]
elevation = "hill.tif"
[subject]
name = "Cairn"
lat = -31.0
lon = 149.0
height_m = 3.0
[night]
evening = 2027-06-05
[camera]
sensor_width_mm = 36.0
sensor_height_mm = 24.0
width_px = 6000
height_px = 4000
[[lens]]
focal_length_mm = 16.0
[[lens]]
focal_length_mm = 24.0
[[lens]]
focal_length_mm = 85.0
"""


@pytest.fixture(scope="module")
def hill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A lone hill at 31 S: Sgr A* (declination -29 degrees) passes two degrees off the zenith."""
    folder = tmp_path_factory.mktemp("hill")
    rows, columns = np.mgrid[-60:60, -60:60]
    heights = 500.0 + 80.0 * np.exp(-(rows**2 + columns**2) / 200.0)
    step = 0.0008
    with rasterio.open(
        folder / "hill.tif",
        "w",
        driver="GTiff",
        height=120,
        width=120,
        count=1,
        dtype="float32",
        crs="EPSG:4326",
        transform=from_origin(149.0 - 60 * step, -31.0 + 60 * step, step, step),
    ) as file:
        file.write(heights.astype("float32"), 1)
    path = folder / "outing.toml"
    path.write_text(HILL, encoding="utf-8")
    return path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(*words: str | Path, columns: int = 80) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit) as stop:
            main()
        return int(stop.value.code or 0), capsys.readouterr().out

    return call


def said(plan: Plan, width: int, encoding: str = "utf-8") -> list[str]:
    """Everything of a plan, laid out for a width."""
    out = Screen(width, encoding)
    print_answer(out, plan, then="backbearing sheet", lines=10_000)
    print_plan(out, plan)
    return [line for line, _ in out.lines]


@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
@pytest.mark.parametrize("width", WIDTHS)
def test_no_number_loses_a_digit_and_no_word_is_cut(plan: Plan, width: int, encoding: str) -> None:
    wide, narrow = (said(plan, columns, encoding) for columns in (200, width))
    numbers = [set(NUMBER.findall(" ".join(lines))) for lines in (wide, narrow)]
    assert numbers[0] == numbers[1]
    words = [set(" ".join(lines).replace(":", " ").replace(",", " ").split()) for lines in
             (wide, narrow)]  # fmt: skip
    assert words[0] - words[1] == set()
    assert max(map(len, narrow)) <= width
    assert not any(line.endswith("…") for line in narrow)


COMMANDS = (
    ("stand",),
    ("stand", "--compare"),
    ("nights",),
    ("nights", "--from-stand", "36.30272", "-84.18010"),
    ("nights", "--from", "2027-01-01", "--nights", "200"),
    ("ridge",),
    ("explain",),
    ("explain", "85mm.distance_m"),
    ("doctor",),
)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_every_command_answers_on_one_screen(run, words: tuple[str, ...]) -> None:
    code, out = run(words[0], SAMPLE, *words[1:])
    lines = out.splitlines()
    assert code == 0
    assert len(lines) <= 30
    assert max(map(len, lines)) <= 80
    if words != ("explain", "85mm.distance_m"):
        assert any(line.startswith("Next: ") for line in lines)


def test_scouting_and_targets_answer_on_one_screen(run) -> None:
    for words in (("scout", SAMPLE, "--nights", "3"), ("targets",)):
        _, out = run(*words)
        assert len(out.splitlines()) <= 30, words
        assert max(map(len, out.splitlines())) <= 80
        assert "Care: " in out


@pytest.mark.parametrize("command", ["stand", "nights", "ridge"])
def test_a_hill_top_at_31_south_answers_on_one_screen(run, hill: Path, command: str) -> None:
    _, out = run(command, hill)
    assert len(out.splitlines()) <= 30
    assert max(map(len, out.splitlines())) <= 80
    assert "Next: " in out


@pytest.mark.parametrize("command", ["nights", "ridge"])
@pytest.mark.parametrize("width", [40, 60])
def test_tables_of_nights_and_ridges_keep_their_digits(run, command: str, width: int) -> None:
    _, wide = run(command, SAMPLE, "--all", columns=200)
    _, narrow = run(command, SAMPLE, "--all", columns=width)
    assert set(NUMBER.findall(wide)) == set(NUMBER.findall(narrow))
    assert max(map(len, narrow.splitlines())) <= width


def test_with_a_session_the_turn_is_the_plan(plan: Plan) -> None:
    assert plan.session is not None
    answer = Screen(200)
    print_answer(answer, plan, then="x")
    for shot in plan.session.shots:
        assert hm(shot.frames_start, plan.zone) in answer.text
        assert METRIC.length(shot.stand.distance_m) in answer.text
    everything = Screen(200)
    print_plan(everything, plan)
    table, remark = everything.text.split("A remark:")
    for lens, shot in zip(plan.lenses, sorted(plan.session.shots, key=lambda s: s.lens.
                          focal_length_mm), strict=True):  # fmt: skip
        assert lens.stand is not None
        assert hm(shot.stand.time, plan.zone) in table
        true = f"{shot.stand.bearing_deg:.1f}° {compass_point(shot.stand.bearing_deg)}"
        assert true in table
        assert hm(lens.stand.time, plan.zone) in remark


def test_a_step_forward_is_not_a_step_back_of_less_than_nothing(plan: Plan) -> None:
    out = Screen(200)
    print_plan(out, plan)
    line = next(line for line, _ in out.lines if line.startswith("step back"))
    assert "forward" in line
    assert "-" not in line


def test_feet_and_yards_and_miles() -> None:
    # Feet, yards and miles as PROJ's own table of units has them, through pyproj.
    imperial = Units("imperial")
    known = {unit.code: unit.conv_factor for unit in get_units_map(category="linear").values()}
    foot, yard, mile = (known[code] for code in ("9002", "9096", "9093"))
    assert imperial.length(100.0 * foot) == "100.0 ft"
    assert imperial.length(1000.0 * yard) == "1000 yd"
    assert imperial.length(7.0 * mile) == "7.0 mi"
    assert imperial.length(float("nan")) == "unknown"
    assert METRIC.length(914.4) == "914 m"


def test_imperial_is_what_a_person_reads_and_not_json(
    run, tmp_path: Path, sample_text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1800000000")
    path = tmp_path / "outing.toml"
    path.write_text(sample_text.replace("format = 1", 'format = 1\nunits = "imperial"'), "utf-8")
    _, out = run("stand", path, "--all")
    distances = [line for line in out.splitlines() if line.startswith("distance")]
    assert distances
    assert all(" ft" in line and " m " not in f"{line} " for line in distances)
    _, imperial = run("stand", path, "--json")
    path.write_text(sample_text, encoding="utf-8")
    _, metric = run("stand", path, "--json")
    assert imperial == metric


def test_doctor_says_faults_first(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    code, out = run("doctor", "none.toml")
    lines = out.splitlines()
    assert code == 1
    assert lines[0].startswith("WRONG outing")
    assert "in order" in out
    assert len(lines) <= 5


def test_the_page_is_drawn_when_it_is_asked_for(run, hill: Path, tmp_path: Path) -> None:
    page = tmp_path / "night.html"
    run("stand", hill, "--map", page)
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    code, _ = run("stand", hill, "--map", page)
    assert code == 1
