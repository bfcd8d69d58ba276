"""Skyline marks in every command that shows a skyline, and ``measure skyline``."""

from __future__ import annotations

import datetime as dt
import json
import math
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from backbearing.cli import measure_skyline
from backbearing.outing.load import load_outing
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

LAT, LON = -31.2, 149.1
TREES = "".join(
    f"\n[[skyline_mark]]\nazimuth_deg = {azimuth}\naltitude_deg = 14\ndistance_m = 90\n"
    for azimuth in range(96, 126, 2)
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_outing(
        tmp_path, lat=LAT, lon=LON, evening=dt.date(2027, 5, 8), lenses=(24.0, 35.0),
        raster={"half_m": 1500.0}, night={"moon": "any", "at": "20:20"},
    )  # fmt: skip
    return tmp_path / "outing.toml"


@pytest.fixture
def wooded(path: Path) -> Path:
    path.write_text(path.read_text(encoding="utf-8") + TREES, encoding="utf-8")
    return path


Run = "Callable[..., tuple[int, str, str]]"


def test_stand_says_it_in_one_line_and_all_in_a_table(
    wooded: Path, run: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    # The next command names the file as it was named: a long path is a word that nothing breaks.
    monkeypatch.chdir(wooded.parent)
    wooded = wooded.relative_to(wooded.parent)
    code, said, _ = run("stand", wooded)
    assert code == 0
    assert "Marks: 15 readings; over the raster by 14." in said
    assert len(said.splitlines()) <= 30
    assert max(map(len, said.splitlines())) <= 80
    _, more, _ = run("stand", wooded, "--all")
    assert "Skyline marks read from the subject" in more
    assert "a mark raises the skyline below the target by" in more
    assert "120 readings" not in more


def test_a_stand_without_marks_says_nothing_of_them(
    path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    for words in (["stand", path, "--all"], ["ridge", path, "--spot", LAT, LON, "--all"],
                  ["nights", path, "--all"]):  # fmt: skip
        _, said, _ = run(*words)
        assert "marks:" not in said.lower()
        assert "skyline mark" not in said.lower()


def test_ridge_shows_marks_in_table_picture_and_json(
    wooded: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    picture = wooded.parent / "ridge.svg"
    _, said, _ = run("ridge", wooded, "--spot", LAT, LON, "--picture", picture)
    assert "15 skyline marks hold here; the highest over the raster by 14." in said
    assert len(said.splitlines()) <= 30
    assert "measured mark" in picture.read_text(encoding="utf-8")
    _, more, _ = run("ridge", wooded, "--spot", LAT, LON, "--all")
    assert ", mark" in more
    assert "Skyline marks as seen from here" in more
    _, text, _ = run("ridge", wooded, "--spot", LAT, LON, "--json")
    view = json.loads(text)["view"]
    assert len(view["marks"]) == 15
    assert any(point["by_mark"] for point in view["path"])


def test_an_area_says_that_marks_are_not_used(
    wooded: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    _, said, _ = run("ridge", wooded, "--area", wooded.parent / "a.tif", "--within", "0.2")
    assert "Skyline marks are not used here" in " ".join(said.split())


def test_explain_knows_the_marks(
    wooded: Path, path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    _, said, _ = run("explain", wooded, "marks.highest_over_deg", "--json")
    (one,) = json.loads(said)["explanations"]
    assert one["value"] == pytest.approx(14.0, abs=0.7)
    assert one["inputs"]["readings"] == 15
    code, _, wrong = run("explain", wooded, "marks.tillt_deg")
    assert code != 0
    assert "marks.tilt_deg" in wrong
    _, skyline, _ = run("explain", wooded, "24mm.skyline_deg", "--json")
    (height,) = json.loads(skyline)["explanations"]
    assert height["inputs"]["raised_by_marks_deg"] > 5.0


def test_explain_without_marks_says_how_to_write_them(
    path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    code, _, wrong = run("explain", path, "marks.tilt_deg")
    assert code != 0
    assert "[[skyline_mark]]" in wrong


def test_doctor_flags_a_reading_below_bare_ground(
    path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    whole = path.read_text(encoding="utf-8")
    mark = "\n[[skyline_mark]]\nazimuth_deg = 140\naltitude_deg = {}\n"
    path.write_text(whole + mark.format(-9), encoding="utf-8")
    code, said, _ = run("doctor", path)
    assert code == 1
    assert "below bare ground at 140°: tilt?" in " ".join(said.split())
    path.write_text(whole + mark.format(95), encoding="utf-8")
    code, said, _ = run("doctor", path)
    assert code == 1
    assert "-45 to 85" in " ".join(said.split())
    path.write_text(whole + mark.format(9), encoding="utf-8")
    _, said, _ = run("doctor", path, "--all")
    assert "skyline marks: Marks: 1 reading;" in " ".join(said.split())


def test_json_of_a_plan_holds_all_of_it(
    wooded: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    _, text, _ = run("stand", wooded, "--json")
    marks = json.loads(text)["plan"]["marks"]
    assert len(marks["sets"][0]["marks"]) == 15
    assert marks["sets"][0]["errors"]["tilt_taken_deg"] == 0.0
    assert marks["holds_within_m"] == 50.0
    assert [at["lens"] for at in marks["at_stands"]] == ["24 mm", "35 mm"]


def test_readings_are_laid_beside_the_raster_and_written(
    path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    before = path.read_bytes()
    words = ["measure", "skyline", "--reading", 120, 9.5, "--reading", 122, 11, "--distance", 80,
             "--from-stand", 330, 20]  # fmt: skip
    code, said, _ = run(*words, "--outing", path)
    assert code == 0
    assert "over the raster by" in said
    assert len(said.splitlines()) <= 30
    assert path.read_bytes() == before
    run(*words, "--write", path)
    assert path.read_bytes().startswith(before)
    marks = load_outing(path).ground.marks.readings
    assert [(m.azimuth_deg, m.altitude_deg, m.distance_m) for m in marks] == [
        (120.0, 9.5, 80.0), (122.0, 11.0, 80.0),
    ]  # fmt: skip
    assert marks[0].read_from.bearing_deg == 330.0


def photo(folder: Path) -> Path:
    tags = Image.Exif()
    tags.get_ifd(0x8769).update({0x920A: IFDRational(5, 1), 0xA405: 28})
    file = folder / "day.jpg"
    Image.new("L", (4000, 3000)).save(file, exif=tags)
    return file


def test_a_daytime_frame_becomes_marks(
    path: Path, run: Callable[..., tuple[int, str, str]]
) -> None:
    """First principles: a level pinhole sees f tan(altitude) above its middle row.

    28 mm on 135 film is f / 43.267 mm of its diagonal, 5,000 pixels of 4000 x 3000.
    """
    focal_px = 28.0 / math.hypot(36.0, 24.0) * 5000.0
    points = path.parent / "points.csv"
    up = focal_px * math.tan(math.radians(8.0))
    points.write_text(f"column_px,row_px,distance_m\n1999.5,{1499.5 - up:.3f},75\n")
    table = path.parent / "marks.csv"
    words = ["measure", "skyline", "--points", points, "--photo", photo(path.parent)]
    code, said, _ = run(
        *words, "--azimuth-at", 1999.5, 1499.5, 142, "--level-row", 1499.5, "--csv", table
    )
    assert code == 0
    assert "The frame looked to 142" in said
    names, row = (line.split(",") for line in table.read_text().splitlines())
    mark = dict(zip(names, map(float, row), strict=True))
    assert mark["azimuth_deg"] == pytest.approx(142.0, abs=1e-3)
    assert mark["altitude_deg"] == pytest.approx(8.0, abs=1e-3)
    assert mark["distance_m"] == 75.0
    code, _, wrong = run(*words, "--azimuth-at", 1999.5, 1499.5, 142, "--level-row", 1499.5,
                         "--csv", table)  # fmt: skip
    assert code != 0
    assert "marks.csv" in wrong


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ([], "Give readings"),
        (["--reading", "10", "95"], "-45 to 85"),
        (["--reading", "nan", "5"], "north"),
        (["--reading", "10", "5", "--distance", "0"], "1 to"),
        (["--reading", "10", "5", "--from-place", "91", "0"], "-90 to 90"),
        (["--reading", "10", "5", "--from-place", "1", "0", "--from-stand", "1", "2"], "one way"),
        (["--known", "1", "2", "3", "4"], "--points"),
        (["--points", "{points}"], "--focal"),
        (["--points", "{points}", "--focal", "24"], "--width-px"),
        (["--points", "{points}", "--focal", "24", "--width-px", "600", "--height-px", "400"],
         "--sensor-width"),
        (["--points", "{points}", "--focal", "24", "--width-px", "600", "--height-px", "400",
          "--sensor-width", "36"], "No altitude is known"),
        (["--points", "{points}", "--focal", "24", "--width-px", "600", "--height-px", "400",
          "--sensor-width", "36", "--tilt", "3"], "No azimuth is known"),
        (["--points", "{points}", "--focal", "24", "--width-px", "60", "--height-px", "40",
          "--sensor-width", "36", "--tilt", "3", "--azimuth-at", "5", "5", "120"],
         "outside the frame"),
        (["--points", "{points}", "--focal", "24", "--width-px", "600", "--height-px", "400",
          "--sensor-width", "36", "--tilt", "120", "--azimuth-at", "5", "5", "120"], "tilt"),
        (["--table", "nothing.csv"], "no file of skyline marks"),
        (["--points", "{points}", "--photo", "nothing.jpg"], "nothing.jpg"),
    ],
)  # fmt: skip
def test_what_cannot_be_a_reading_gets_one_sentence(
    tmp_path: Path, run: Callable[..., tuple[int, str, str]], words: list[str], says: str
) -> None:
    points = tmp_path / "points.csv"
    points.write_text("column_px,row_px\n300,100\n")
    code, said, wrong = run("measure", "skyline", *(w.format(points=points) for w in words))
    assert code in (1, 2)
    assert says in " ".join((said + wrong).split())
    assert "Traceback" not in wrong


def test_whoever_sits_at_a_terminal_is_asked(
    path: Path, run: Callable[..., tuple[int, str, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measure_skyline, "asking", lambda: True)
    lines = iter(["120 9.5", "north of it", "122, 11", ""])
    monkeypatch.setattr("click.termui.visible_prompt_func", lambda _: next(lines))
    code, said, asked = run("measure", "skyline", "--distance", 80)
    assert code == 0
    assert "2 skyline marks read from the subject" in said
    assert "Write two numbers" in asked
