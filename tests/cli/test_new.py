"""``backbearing new``: five questions, or as many options, then a short file and its plan."""

from __future__ import annotations

import json
import os
import re
import select
import signal
import sys
import time
import tomllib
from typing import TYPE_CHECKING

import numpy as np
import pytest

from backbearing.outing.kit_place import KIT_VARIABLE
from backbearing.outing.load import load_outing
from invented import write_ground

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Run = Callable[..., tuple[int, str, str]]

LAT, LON = -31.5, 148.2
WORDS = (
    "--at", "31 30 00 S 148 12 00 E", "--name", "Old mill", "--height", "9",
    "--night", "2027-06-05", "--lenses", "16, 24, 40, 85", "--ground", "hills.tif",
)  # fmt: skip


def hills(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return np.asarray(
        400.0
        + 120.0 * np.exp(-((east - 2500.0) ** 2 + (north - 1500.0) ** 2) / 2e6)
        + 30.0 * np.sin(east / 900.0)
        + 20.0 * np.cos(north / 700.0)
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder but for a raster of ours at 31 S, and no kit."""
    home = tmp_path / "outing"
    home.mkdir()
    write_ground(home / "hills.tif", hills, lat=LAT, lon=LON, half_m=4000.0)
    monkeypatch.chdir(home)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv(KIT_VARIABLE, str(tmp_path / "no_kit.toml"))
    return home


def without(flag: str) -> list[str]:
    at = WORDS.index(flag)
    return [*WORDS[:at], *WORDS[at + 2 :]]


def test_options_write_a_short_outing_and_plan_it(run: Run, folder: Path) -> None:
    code, said, _ = run("new", *WORDS)
    assert code == 0
    assert len(said.splitlines()) <= 30
    assert all(len(line) <= 80 for line in said.splitlines())
    assert "16 mm" in said
    assert "85 mm" in said
    assert said.rstrip().endswith("Next: backbearing sheet outing.toml")
    text = (folder / "outing.toml").read_text(encoding="utf-8")
    assert len([line for line in text.splitlines() if line]) <= 24
    outing = load_outing(folder / "outing.toml")
    assert (outing.subject.lat, outing.subject.lon) == (LAT, LON)
    assert (outing.subject.name, outing.subject.height_m) == ("Old mill", 9.0)
    assert [one.lens.focal_length_mm for one in outing.lenses] == [16.0, 24.0, 40.0, 85.0]
    assert (outing.camera.width_px, outing.camera.height_px) == (6000, 4000)
    # Beside the outing the raster is named by its name alone: the folder can be moved.
    assert tomllib.loads(text)["ground"]["elevation"] == "hills.tif"


def test_the_same_plan_comes_from_the_file(run: Run, folder: Path) -> None:
    _, first, _ = run("new", *WORDS)
    _, again, _ = run("stand", "outing.toml")
    table = [line for line in again.splitlines() if line.startswith(("walk out", "distance"))]
    assert len(table) == 2
    assert all(line in first for line in table)


@pytest.mark.parametrize("flag", ["--at", "--height", "--night", "--lenses", "--ground"])
def test_without_a_terminal_a_missing_option_is_named(run: Run, folder: Path, flag: str) -> None:
    code, _, said = run("new", *without(flag))
    assert code == 2
    assert f"{flag} is missing" in said
    assert "--starter" in said
    assert [path.name for path in folder.iterdir()] == ["hills.tif"]


@pytest.mark.parametrize(
    ("flag", "word", "said"),
    [
        ("--at", "148.2, -31.5", "write the latitude first"),
        ("--height", "tall", "The height is 'tall'"),
        ("--height", "0", "height_m is 0"),
        ("--height", "9000", "height_m is 9000"),
        ("--night", "tomorrow", "'tomorrow' is no night"),
        ("--night", "2027-02-30", "2027-02-30 is no date"),
        ("--night", "best of 9000", "ask for 1 to 732"),
        ("--lenses", "wide", "'wide' is no lens"),
        ("--lenses", "0", "focal"),
        ("--lenses", "24, 24", "named twice"),
        ("--lenses", " ", "No lens is named"),
        ("--ground", "gone.tif", "gone.tif"),
        ("--ground", "a\x1b[2Jb.tif", "fits into no outing file"),
        ("--ground", "\udcff.tif", "fits into no outing file"),
        ("--at", "31 30 N 148 12 E", "hills.tif has no ground at the place"),
        ("--camera", "APSC", 'did you mean "APS-C"'),
        ("--width", "-3", "The width is '-3'"),
    ],
)
def test_a_wrong_option_gets_one_sentence(
    run: Run, folder: Path, flag: str, word: str, said: str
) -> None:
    rest = without(flag) if flag in WORDS else WORDS
    code, _, told = run("new", *rest, flag, word)
    assert code == 1
    assert said in told
    assert len(told.strip().splitlines()) == 1
    assert [path.name for path in folder.iterdir()] == ["hills.tif"]


def test_what_is_there_is_left_as_it_is(run: Run, folder: Path) -> None:
    (folder / "outing.toml").write_text("precious", encoding="utf-8")
    code, _, said = run("new", *WORDS)
    assert code == 1
    assert "--overwrite" in said
    assert (folder / "outing.toml").read_text(encoding="utf-8") == "precious"


def test_the_starter_is_still_there(run: Run, folder: Path) -> None:
    for flag in ("--starter", "--all"):
        assert run("new", flag, f"{flag[2:]}.toml")[0] == 0
        assert load_outing(folder / f"{flag[2:]}.toml").lenses
    _, said, _ = run("new", "--starter", "other.toml", "--json")
    assert json.loads(said)["written"] == "other.toml"


def test_words_that_steer_a_terminal_or_fit_no_file_are_made_plain(run: Run, folder: Path) -> None:
    odd = "\x1b[2Jmill\udcff\n[lens]"
    code, _, _ = run("new", *without("--name"), "--name", odd, "--kind", odd, "--json")
    assert code == 0
    subject = load_outing(folder / "outing.toml").subject
    assert subject.name == subject.kind == "[2Jmill [lens]"


def test_a_place_that_tells_its_doubt_keeps_it(run: Run, folder: Path) -> None:
    run("new", *without("--at"), "--at", "geo:-31.5,148.2;u=40", "--json")
    assert load_outing(folder / "outing.toml").subject.position_sigma_m == 40.0


def test_a_kit_gives_names(run: Run, folder: Path, tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text(
        'format = 1\n[body.mine]\nsensor_format = "135"\nwidth_px = 7000\n'
        '[lens."the wide"]\nfocal_length_mm = 20.0\nf_number = 1.8\n',
        encoding="utf-8",
    )
    words = without("--lenses")
    code, _, _ = run("new", *words, "--lenses", "The Wide, 35 f/1.4", "--kit", kit, "--json")
    assert code == 0
    raw = tomllib.loads((folder / "outing.toml").read_text(encoding="utf-8"))
    assert raw["camera"] == {"use": "mine"}
    assert raw["lens"] == [{"use": "the wide"}, {"focal_length_mm": 35.0, "f_number": 1.4}]
    # A focal length that one lens of the kit has is that lens.
    run("new", *words, "--lenses", "20", "--kit", kit, "--json", "--overwrite")
    raw = tomllib.loads((folder / "outing.toml").read_text(encoding="utf-8"))
    assert raw["lens"] == [{"use": "the wide"}]
    code, _, said = run("new", *words, "--lenses", "the wid", "--kit", kit, "--overwrite")
    assert code == 1
    assert 'did you mean "the wide"?' in said


def test_tiles_that_are_kept_are_ground(
    run: Run, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from backbearing.fetching import cache

    kept = tmp_path / "tiles"
    (kept / "copernicus-30").mkdir(parents=True)
    # The product's own name for the degree that holds 31.5 S 148.2 E.
    tile = kept / "copernicus-30" / "Copernicus_DSM_COG_10_S32_00_E148_00_DEM.tif"
    (folder / "hills.tif").rename(tile)
    monkeypatch.setattr("backbearing.workflows.first_outing.ground_folder", lambda: kept)
    code, _, _ = run("new", *without("--ground"), "--ground", "kept")
    assert code == 0
    ground = load_outing(folder / "outing.toml").ground
    assert ground.elevation == (tile,)
    assert ground.product == "copernicus 30"
    assert "Copernicus" in ground.credit
    assert cache.ground_folder() != kept
    # Elsewhere none are kept.
    words = ("--at", "12 N 20 E", "--ground", "kept", "other.toml")
    code, _, said = run("new", *without("--at")[:-2], *words)
    assert code == 1
    assert "kept" in said


@pytest.mark.slow
def test_the_best_night_is_the_longest_of_those_that_nights_lists(run: Run, folder: Path) -> None:
    rest = without("--night")
    _, said, _ = run(
        "new", *rest, "--night", "best of 25", "--from", "2027-04-20", "--json"
    )  # fmt: skip
    made = json.loads(said)
    _, said, _ = run("nights", "outing.toml", "--from", "2027-04-20", "--nights", "25", "--json")
    nights = json.loads(said)["season"]["nights"]
    longest = max(
        ((one["minutes"], night["evening"]) for night in nights for one in night["windows"]),
        key=lambda pair: pair[0],
    )
    assert made["evening"] == longest[1]
    assert f"{longest[0]:.0f} minutes" in made["why_this_night"]
    assert "the longest of 25 nights" in made["why_this_night"]


@pytest.mark.slow
def test_nights_that_are_all_bad_are_told(run: Run, folder: Path) -> None:
    # In December the core stands beside the Sun.
    code, _, said = run(
        "new", *without("--night"), "--night", "best of 5", "--from", "2027-12-12"
    )  # fmt: skip
    assert code == 3
    assert "None of the 5 nights from 2027-12-12" in said
    assert [path.name for path in folder.iterdir()] == ["hills.tif"]


class Terminal:
    """The command at the other end of a pseudo-terminal, as somebody would type to it."""

    def __init__(self, *words: str, cwd: Path) -> None:
        import pty

        self.said = ""
        self.pid, self.handle = pty.fork()
        if self.pid == 0:
            os.chdir(cwd)
            os.environ["COLUMNS"] = "80"
            os.environ["NO_COLOR"] = "1"
            # Whoever started the tests may have had Ctrl-C ignored, as shells do in the background.
            signal.signal(signal.SIGINT, signal.SIG_DFL)
            program = "from backbearing.cli import main; main()"
            os.execv(sys.executable, [sys.executable, "-c", program, *words])  # noqa: S606

    def until(self, pattern: str) -> str:
        """Read until something is said; give what was said since the last time."""
        start = len(self.said)
        while not re.search(pattern, self.said[start:]):
            try:
                ready, _, _ = select.select([self.handle], [], [], 60.0)
                assert ready, f"nothing more was said after {self.said[-400:]!r}"
                part = os.read(self.handle, 4096)
            except OSError:
                part = b""
            if not part:
                break
            self.said += part.decode("utf-8", "replace")
        return self.said[start:]

    def type(self, text: str) -> None:
        os.write(self.handle, text.encode("utf-8"))

    def end(self) -> int:
        self.until(r"\Z(?!)")
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


needs_pty = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are of POSIX")


@needs_pty
@pytest.mark.slow
def test_five_answers_on_a_terminal(folder: Path) -> None:
    answers = ("31 30 S 148 12 E\n", "old mill, 9\n", "2027-06-05\n", "16 24 40 85\n", "\n")
    typed = 0
    one = Terminal("new", cwd=folder)
    for number, answer in enumerate(answers, start=1):
        assert f"{number} of 5" in one.until(rf"{number} of 5 [^\n]*: ?$")
        one.type(answer)
        typed += len(answer)
    code = one.end()
    assert code == 0, one.said
    # Not a sixth question.
    assert len(re.findall(r"\d of \d", one.said)) == 5
    assert "hills.tif]" in one.said
    assert "walk out, by compass" in one.said
    outing = load_outing(folder / "outing.toml")
    assert len(outing.lenses) == 4
    assert (outing.subject.name, outing.subject.kind) == ("old mill", "old mill")
    assert typed < 60


@needs_pty
@pytest.mark.slow
def test_a_wrong_answer_is_asked_again_and_an_option_is_not_asked(folder: Path) -> None:
    one = Terminal(
        "new", "--ground", "hills.tif", "--lenses", "24", "--night", "2027-06-05", cwd=folder
    )
    assert "1 of 2" in one.until(r"1 of 2 [^\n]*: ?$")
    one.type("148.2, -31.5\n")
    assert "write the latitude first" in one.until(r"1 of 2 [^\n]*: ?$")
    one.type("-31.5, 148.2\n")
    one.until(r"2 of 2 [^\n]*: ?$")
    one.type("mill\n")
    assert "does not end in a height" in one.until(r"2 of 2 [^\n]*: ?$")
    one.type("mill, 30 ft\n")
    assert one.end() == 0
    assert load_outing(folder / "outing.toml").subject.height_m == pytest.approx(9.144)


@needs_pty
@pytest.mark.slow
def test_ground_that_is_missing_is_told_after_the_first_answer(folder: Path) -> None:
    (folder / "hills.tif").rename(folder.parent / "hills.tif")
    one = Terminal("new", cwd=folder)
    one.until(r"1 of 5 [^\n]*: ?$")
    one.type("31 30 S 148 12 E\n")
    told = one.until(r"2 of 5 [^\n]*: ?$")
    assert 'backbearing ground --at "31.50000 S 148.20000 E"' in told
    for number, answer in ((2, "mill, 9\n"), (3, "2027-06-05\n"), (4, "24\n"), (5, "\n")):
        if number > 2:
            one.until(rf"{number} of 5 [^\n]*: ?$")
        one.type(answer)
    # Nothing is no raster; it is asked again.
    one.until(r"5 of 5 [^\n]*: ?$")
    one.type("../hills.tif\n")
    assert one.end() == 0, one.said
    raster = load_outing(folder / "outing.toml").ground.elevation[0]
    assert raster == folder.parent / "hills.tif"


@needs_pty
@pytest.mark.slow
@pytest.mark.parametrize("answers", [(), ("31 30 S 148 12 E\n", "old mill, 9\n")])
def test_control_c_leaves_nothing(folder: Path, answers: tuple[str, ...]) -> None:
    one = Terminal("new", cwd=folder)
    for number, answer in enumerate(answers, start=1):
        one.until(rf"{number} of 5 [^\n]*: ?$")
        one.type(answer)
    one.until(rf"{len(answers) + 1} of 5 [^\n]*: ?$")
    # The prompt stands there a moment before the interpreter waits for a key.
    time.sleep(0.5)
    one.type("\x03")
    assert one.end() == 1
    assert "Stopped." in one.said
    assert "Traceback" not in one.said
    assert [path.name for path in folder.iterdir()] == ["hills.tif"]


@needs_pty
@pytest.mark.slow
def test_nights_that_are_all_bad_are_asked_again(folder: Path) -> None:
    one = Terminal("new", *without("--night"), "--from", "2027-12-12", cwd=folder)
    one.until(r"1 of 1 [^\n]*: ?$")
    one.type("best of 4\n")
    assert "None of the 4 nights" in one.until(r"Which night\?: ?$")
    one.type("2028-05-20\n")
    assert one.end() == 0
    assert load_outing(folder / "outing.toml").night.evening.isoformat() == "2028-05-20"
