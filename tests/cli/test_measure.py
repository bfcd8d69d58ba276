"""``measure``: flags, questions, notebook, the outing written, and one sentence for bad input."""

from __future__ import annotations

import json
import math
from importlib import import_module
from typing import TYPE_CHECKING, Any

import click
import pytest
from click.testing import CliRunner
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from backbearing.cli import group
from backbearing.cli.measure import MEASURES
from backbearing.outing.load import load_outing
from backbearing.workflows.visit_ways import WAYS

if TYPE_CHECKING:
    from pathlib import Path

OUTING = """# An outing of this test alone.
format = 1
units = "metric"
[ground]
elevation = "none.tif"
[subject]
name = "Larch"
lat = 46.3417            # by map
lon = 9.32
height_m = 6.0           # a guess
# widths_m = [[0.0, 0.6], [6.0, 0.0]]
[night]
evening = 2027-06-05
[camera]
sensor_width_mm = 36.0
sensor_height_mm = 24.0
width_px = 6000
height_px = 4000
[framing]
share = 0.3
[[lens]]
focal_length_mm = 24.0
[[lens]]
focal_length_mm = 85.0
"""
ANGLES = (
    "measure",
    "height",
    "angles",
    "--distance-m",
    "20",
    "--top-deg",
    "30",
    "--base-deg",
    "-4",
)


@pytest.fixture
def outing_file(tmp_path: Path) -> Path:
    path = tmp_path / "outing.toml"
    path.write_text(OUTING, encoding="utf-8")
    return path


def test_help_lists_what_can_be_measured() -> None:
    done = CliRunner().invoke(group, ["measure", "--help"])
    assert done.exit_code == 0, done.output
    for name, line in MEASURES.items():
        assert name in done.output
        assert line.split()[0] in done.output


@pytest.mark.parametrize("name", MEASURES)
def test_each_measure_is_a_command_of_its_name(name: str) -> None:
    command = import_module(f"backbearing.cli.measure_{name}").command
    assert isinstance(command, click.Command)
    assert command.name == name


@pytest.mark.parametrize(
    "words",
    [*((w,) for w in WAYS), *((w, n) for w, ways in WAYS.items() for n in ways if w != "drop")],
)  # fmt: skip
def test_every_help_names_every_flag_on_eighty_columns(words: tuple[str, ...]) -> None:
    done = CliRunner().invoke(group, ["measure", *words, "--help"], terminal_width=80)
    assert done.exit_code == 0, done.output
    assert max(map(len, done.output.splitlines())) <= 80
    ways = WAYS[words[0]]  # type: ignore[index]
    for asked in ways[words[1]].asked if len(words) == 2 else ():
        assert f"--{asked.key.replace('_', '-')} " in done.output


def test_what_cannot_be_measured_is_a_usage_error() -> None:
    done = CliRunner().invoke(group, ["measure", "weight"])
    assert done.exit_code == 2
    assert "No such command 'weight'" in done.output


def test_a_height_by_flags_fits_one_screen(run: Any) -> None:
    code, out, _ = run(*ANGLES)
    assert code == 0
    # 20 (tan 30 + tan 4), by hand.
    height = 20.0 * (math.tan(math.radians(30.0)) + math.tan(math.radians(4.0)))
    assert out.startswith(f"Height {height:.2f} m, give or take ")
    assert "Care: " in out
    assert "--write outing.toml" in out
    assert len(out.splitlines()) <= 30
    assert max(map(len, out.splitlines())) <= 80


def test_percent_and_degrees_are_one_clinometer(run: Any) -> None:
    percent = ("--top-percent", "57.7350269", "--base-percent", "-6.9926812")
    _, by_percent, _ = run("measure", "height", "angles", "--distance-m", "20", *percent, "--json")
    _, by_degrees, _ = run(*ANGLES, "--json")
    one, other = (json.loads(text)["measured"]["result"] for text in (by_percent, by_degrees))
    assert one["value_m"] == pytest.approx(other["value_m"], abs=1e-6)
    assert one["sigma_m"] == pytest.approx(other["sigma_m"], rel=1e-6)


def test_repeated_flags_are_several_readings(run: Any) -> None:
    more = (
        "--distance-m",
        "26",
        "--top-deg",
        "24.5",
        "--base-deg",
        "-2.5",
        "--also-m",
        "12.7",
        "0.2",
    )
    code, out, _ = run(*ANGLES, *more)
    assert code == 0
    assert "by 3 readings" in out
    assert "sigma: they agree" in " ".join(out.split())
    code, _, err = run(*ANGLES, "--distance-m", "25", "--distance-m", "30", "--top-deg", "9")
    assert code == 2
    assert "--top-deg is given 2 times and another 3 times" in err
    code, _, err = run("measure", "height", "--json", *ANGLES[2:])
    assert code == 2
    assert "behind the way, angles" in err


def test_readings_that_differ_are_sent_back(run: Any) -> None:
    _, out, _ = run(*ANGLES, "--also-m", "16", "0.3")
    assert "measure again" in out


def test_the_result_goes_into_the_outing_and_nothing_else(run: Any, outing_file: Path) -> None:
    before = outing_file.read_text("utf-8")
    code, out, _ = run(*ANGLES, "--write", outing_file)
    assert code == 0
    assert "height_m = 12.95" in out
    after = outing_file.read_text("utf-8")
    old, new = ([line for line in text.splitlines() if not line.startswith("height_sigma_m")]
                for text in (before, after))  # fmt: skip
    assert [o for o, n in zip(old, new, strict=True) if o != n] == [
        "height_m = 6.0           # a guess"
    ]
    subject = load_outing(outing_file).subject
    assert (subject.height_m, subject.height_sigma_m) == (12.95, 0.33)


def test_each_result_has_its_keys(run: Any, outing_file: Path) -> None:
    run("measure", "width", "bearings", "--distance-m", "15", "--left-deg", "350", "--right-deg",
        "20", "--write", outing_file)  # fmt: skip
    run("measure", "drop", "--distance-m", "40", "--angle-deg", "-1", "--eye-m", "1.6", "--write",
        outing_file)  # fmt: skip
    run("measure", "place", "stand", "--stand", "46.34, 9.32",
        "--bearing-deg", "90", "--distance-m", "50", "--write", outing_file)  # fmt: skip
    outing = load_outing(outing_file)
    assert outing.subject.width_m == pytest.approx(30.0 * math.tan(math.radians(15.0)), abs=0.005)
    assert outing.subject.width_sigma_m > 0.0
    assert outing.framing.stand_drop_m == pytest.approx(0.9, abs=0.01)
    assert outing.subject.lon == pytest.approx(9.32065, abs=1e-5)
    assert outing.subject.position_sigma_m == pytest.approx(3.3, abs=0.2)


def test_a_drop_goes_to_one_lens_by_its_number(run: Any, outing_file: Path) -> None:
    words = ("measure", "drop", "--distance-m", "40", "--angle-deg", "-1", "--eye-m", "1.6")
    code, out, _ = run(*words, "--lens", "2", "--write", outing_file)
    assert code == 0
    assert "[[lens]] number 2 stand_drop_m = 0.9" in " ".join(out.split())
    outing = load_outing(outing_file)
    assert [one.stand_drop_m for one in outing.lenses] == [None, 0.9]
    assert "stand_drop_m = 0.9  # measured: give or take 0.35 m\n" in outing_file.read_text("utf-8")
    code, _, err = run(*words, "--lens", "3", "--write", outing_file)
    assert code == 1
    assert "no [[lens]] number 3" in err
    code, _, err = run(*words, "--lens", "2")
    assert code == 2
    assert "add --write OUTING" in err


def test_an_outing_in_feet_is_answered_in_feet(run: Any, outing_file: Path) -> None:
    text = outing_file.read_text("utf-8").replace('units = "metric"', 'units = "imperial"')
    outing_file.write_text(text, encoding="utf-8")
    _, out, _ = run(*ANGLES, "--outing", outing_file)
    assert out.startswith("Height 42.47 ft, give or take 1.07 ft")


def test_an_outline_of_another_height_keeps_the_file_as_it_is(run: Any, outing_file: Path) -> None:
    text = outing_file.read_text("utf-8").replace("# widths_m = ", "widths_m = ", 1)
    outing_file.write_text(text, encoding="utf-8")
    code, _, err = run(*ANGLES, "--write", outing_file)
    assert code == 1
    assert "widths" in err or "outline" in err
    assert outing_file.read_text("utf-8") == text


def test_a_place_under_one_key_stays_so(run: Any, outing_file: Path) -> None:
    text = outing_file.read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("lon = ")]
    one = "\n".join(lines).replace("lat = 46.3417 ", 'place = "46.3417 N 9.32 E" ', 1)
    outing_file.write_text(one, encoding="utf-8")
    words = ("--stand", "46.34, 9.32", "--bearing-deg", "90",
             "--distance-m", "50")  # fmt: skip
    code, out, _ = run("measure", "place", "stand", *words, "--write", outing_file)
    assert code == 0
    assert '[subject] place = "46.340000, 9.320649"' in " ".join(out.split())
    subject = load_outing(outing_file).subject
    assert (subject.lat, subject.lon) == (46.34, 9.320649)


def test_a_shadow_takes_place_and_zone_from_the_outing(run: Any, outing_file: Path) -> None:
    words = ("measure", "height", "shadow", "--shadow-m", "9", "--slope-deg", "0", "--time")
    _, local, _ = run(*words, "2027-06-21 17:00", "--outing", outing_file, "--json")
    _, zoned, _ = run(*words, "2027-06-21T15:00Z", "--at", "46.3417 N 9.32 E", "--json")
    assert json.loads(local) == json.loads(zoned)
    code, _, err = run(*words, "2027-06-21 23:00", "--outing", outing_file)
    assert code == 1
    assert "the Sun stood below the horizon" in err
    code, _, err = run(*words, "2027-10-31 02:30", "--outing", outing_file)
    assert code == 1
    assert "offset from UTC" in err


def picture(
    path: Path, *, focal_mm: float | None = None, focal_135_mm: int | None = None, high: int = 400
) -> Path:
    tags = Image.Exif()
    own = tags.get_ifd(0x8769)
    if focal_mm is not None:
        own[0x920A] = IFDRational(round(focal_mm * 10), 10)
    if focal_135_mm is not None:
        own[0xA405] = focal_135_mm
    Image.new("L", (600, high)).save(path, exif=tags)
    return path


def test_a_picture_brings_its_focal_length_and_size(
    run: Any, tmp_path: Path, outing_file: Path
) -> None:
    spots = ("--distance-m", "40", "--top-px", "300", "70", "--base-px", "300", "310",
             "--pitch-deg", "5", "--json")  # fmt: skip
    frame = picture(tmp_path / "a.jpg", focal_mm=50.0)
    words = ("measure", "height", "picture", "--picture")
    _, by_outing, _ = run(*words, frame, *spots, "--outing", outing_file)
    _, by_flag, _ = run(*words, frame, *spots, "--sensor-width-mm", "36")
    assert json.loads(by_outing) == json.loads(by_flag)
    # A camera of 600 pixels on 36 mm: 833 pixels of focal length.
    up, down = (math.atan(rows / (50.0 * 600.0 / 36.0)) for rows in (130.0, -110.0))
    tilt = math.radians(5.0)
    height = 40.0 * (math.tan(up + tilt) - math.tan(down + tilt))
    assert json.loads(by_flag)["measured"]["result"]["value_m"] == pytest.approx(height, rel=1e-9)
    _, by_135, _ = run(*words, picture(tmp_path / "b.jpg", focal_135_mm=50), *spots)
    assert json.loads(by_135)["measured"]["result"]["value_m"] == pytest.approx(height, rel=0.002)
    cut = picture(tmp_path / "cut.jpg", focal_mm=50.0, high=600)
    code, _, err = run(*words, cut, *spots, "--outing", outing_file)
    assert code == 1
    assert "cut.jpg is 1.00 times as long as wide and the outing's sensor 1.50 times" in err
    code, _, err = run(*words, picture(tmp_path / "c.jpg"), *spots)
    assert code == 1
    assert "give focal_length_mm and sensor_width_mm" in err
    code, _, err = run(*words, picture(tmp_path / "d.jpg", focal_mm=50.0), *spots)
    assert code == 1
    assert "give sensor_width_mm" in err


def test_a_person_in_a_bare_picture_is_enough(run: Any, tmp_path: Path) -> None:
    # Twice as many rows at the same distance, near the middle: twice as high, whatever the lens.
    frame = picture(tmp_path / "bare.jpg")
    rows = ("--top-px", "300", "120", "--base-px", "300", "220", "--staff-top-px", "330", "170",
            "--staff-base-px", "330", "220")  # fmt: skip
    words = ("measure", "height", "staff", "--picture", frame, "--staff-m", "1.8", *rows)
    code, told, _ = run(*words, "--focal-length-mm", "35", "--sensor-width-mm", "36", "--json")
    assert code == 0
    code, bare, _ = run(*words, "--json")
    assert code == 0
    known, rough = (json.loads(text)["measured"]["result"] for text in (told, bare))
    assert known["value_m"] == pytest.approx(3.6, rel=0.02)
    assert rough["value_m"] == pytest.approx(3.6, rel=0.02)
    assert rough["sigma_m"] > known["sigma_m"]


NOTEBOOK = """
[[height]]
by = "angles"
distance_m = 20.0
top_deg = 30.0
base_deg = -4

[[height]]
by = "pole"
pole_m = 4.0
top_percent = 57.7
pole_top_deg = 7.5
base_deg = -4.0
angle_sigma_deg = 0.2

[[place]]
by = "bearings"
from = [[36.3700, -84.3600, 45.0], [36.3700, -84.3500, 315.0]]
"""


def test_a_notebook_holds_a_visits_readings(run: Any, tmp_path: Path) -> None:
    notebook = tmp_path / "visit.toml"
    notebook.write_text(NOTEBOOK, encoding="utf-8")
    code, out, _ = run("measure", "height", "--notebook", notebook)
    assert code == 0
    assert "by 2 readings: tape and two angles and a pole at the base" in " ".join(out.split())
    code, out, _ = run("measure", "place", "--notebook", notebook)
    assert code == 0
    assert out.startswith("36.374")
    code, _, err = run("measure", "width", "--notebook", notebook)
    assert code == 1
    assert "visit.toml holds no [[width]]" in err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[height]]\ndistance_m = 1\n", "does not say by which way"),
        ('[[height]]\nby = "sextant"\n', "'sextant' is no way to measure a height; write one of"),
        ('[[height]]\nby = "angles"\ndistanze_m = 1\n', "did you mean distance_m?"),
        ('[[height]]\nby = "angles"\ndistance_m = "1"\n', "distance_m is '1'; write a number"),
        ('[[height]]\nby = "angles"\ndistance_m = 1\n', "top_deg is missing"),
        ('[[height]]\nby = "angles"\ntop_deg = 1\ntop_percent = 1\n', "top_deg is given twice"),
        ("[[height]]\nby = 'angles'\ndistance_m = nan\ntop_deg=1\nbase_deg=0", "distance_m is nan"),
        ("[height]\nby = 'angles'", "height is no section"),
        ("[[weight]]\nby = 'angles'", "[[weight]] is nothing that is measured"),
        ("[[height]", "is not valid TOML"),
    ],
)  # fmt: skip
def test_a_notebooks_slips_get_a_sentence(run: Any, tmp_path: Path, text: str, said: str) -> None:
    notebook = tmp_path / "visit.toml"
    notebook.write_text(text, encoding="utf-8")
    code, out, err = run("measure", "height", "--notebook", notebook)
    assert (code, out) == (1, "")
    assert said in err
    assert err.count("\n") == 1


def test_flags_that_are_missing_are_named_where_nobody_can_be_asked(run: Any) -> None:
    code, _, err = run("measure", "height", "angles", "--distance-m", "20")
    assert code == 2
    assert "--top-deg, --base-deg" in err
    code, out, _ = run("measure", "height")
    assert code == 2
    assert "Usage" in out


def answered(monkeypatch: pytest.MonkeyPatch, lines: list[str], *words: str) -> str:
    """Run a command on a terminal on which somebody types lines."""
    monkeypatch.setattr("backbearing.cli.measure_ways.asking", lambda: True)
    done = CliRunner().invoke(group, ["measure", *words], input="\n".join(lines) + "\n")
    assert done.exit_code == 0, done.output
    return done.stdout


def test_a_terminal_asks_for_what_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = ["angles", "twenty", "20", "30", "-4", "", "y", "26", "45.2%", "-2.5", "0", "n"]
    out = answered(monkeypatch, lines, "height")
    assert "by 2 readings" in out
    assert "12.95 m" in out


def test_a_terminal_asks_for_bearings_until_nothing_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rows = ["bearings", "36.37 -84.36 45", "36.37, -84.35, 315", ""]
    out = answered(monkeypatch, [*rows, ""], "place")
    assert out.startswith("36.374")
    assert "taken as true" in out
    # By a compass they are turned 6 degrees to the west there, and the place moves.
    out = answered(monkeypatch, [*rows, "tomorrow", "2027-06-06"], "place")
    assert not out.startswith("36.374")
    assert "declination of 2027-06-06" in " ".join(out.split())


def test_a_terminal_asks_for_the_place_only_without_an_outing(
    monkeypatch: pytest.MonkeyPatch, outing_file: Path
) -> None:
    lines = ["9", "2027-06-21 17:00", "", "n"]
    told = answered(monkeypatch, lines, "height", "shadow", "--outing", str(outing_file))
    asked = answered(monkeypatch, [*lines[:2], "46.3417 N 9.32 E", *lines[2:]], "height", "shadow")
    assert told == asked


SPOTS = "--top-px 1 1 --base-px 1 9"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("height angles --distance-m 20 --top-deg 95 --base-deg 0", "top_deg is 95"),
        ("height angles --distance-m -2 --top-deg 5 --base-deg 0", "distance_m is -2"),
        ("height angles --distance-m 9 --top-deg 0 --base-deg 5", "swapped"),
        ("height angles --distance-m nan --top-deg 9 --base-deg 5", "distance_m is nan"),
        ("height angles --distance-m 9 --top-deg 9 --base-deg 5 --tape x", "tape is 'x'"),
        ("place track --track none.gpx", "There is no file of a GPX track"),
        ("place bearings --from 36 -84 10", "one bearing gives a line"),
        ("place bearings --from 96 -84 10 --from 36 -84 90", "no place on the globe"),
        ("place stand --stand 36.3 --bearing-deg 9 --distance-m 9", "36.3"),
        ("width bearings --distance-m 9 --left-deg 20 --right-deg 10", "swapped"),
        ("drop --distance-m 9 --angle-deg 70 --eye-m 1.6", "angle_deg is 70"),
        (f"height picture --picture none.jpg --distance-m 9 {SPOTS}", "no frame none.jpg"),
    ],
)
def test_bad_readings_get_one_sentence(run: Any, words: str, said: str) -> None:
    code, out, err = run("measure", *words.split())
    assert (code, out) == (1, "")
    assert said in err
    assert err.startswith("backbearing: ")
    assert err.count("\n") == 1
