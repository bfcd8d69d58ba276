"""``backbearing scout``: its table, its JSON, its exit codes, and stopping it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from backbearing.cli import main

if TYPE_CHECKING:
    from pathlib import Path

HEAD = "name,lat,lon,height_m,width_m,kind\n"


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            main()
        captured = capsys.readouterr()
        assert "Traceback" not in captured.out + captured.err
        return int(stop.value.code or 0), captured.out, captured.err

    return call


@pytest.fixture
def job(tmp_path: Path, sample_text: str):
    """Write an outing and a file of candidates."""

    def make(rows: str, scouting: str = "") -> tuple[Path, Path]:
        text, *_ = sample_text.split("[scouting]", 1)
        if "[safety]" not in text:
            text += '\n[safety]\nemergency_number = ""\n'
        outing, candidates = tmp_path / "outing.toml", tmp_path / "things.csv"
        outing.write_text(f"{text}\n{scouting}", encoding="utf-8")
        candidates.write_text(HEAD + rows, encoding="utf-8")
        return outing, candidates

    return make


PARTS = ("dark", "altitude", "skyline_break", "isolation", "ground", "walk", "town_glow", "sky")
ALL_ZERO = "\n".join(["[scouting]", *(f"{part} = 0" for part in PARTS), ""])
GOOD = "Oak \x1b[31m,36.3726,-84.3602,6,5,tree\nFar,50.0,-84.3,6,5,tree\n"


def test_the_table_shows_reasons_parts_failures_and_cautions(run, job) -> None:
    outing, candidates = job(GOOD)
    code, out, _ = run("scout", outing, "--candidates", candidates, "--nights", "2", "--all")
    flat = " ".join(out.split())
    assert code == 0
    assert "1 of 2 candidates ranked over 2 nights" in flat
    assert "over the ridge at" in flat
    assert "town glow ? (x1)" in flat
    assert "1 ruled out" in flat
    assert "It lies outside the elevation raster" in flat
    assert "no promise" in flat
    assert "Tell someone where you park" in flat
    assert "\x1b[31m" not in out
    assert "<U+001B>" in out


def test_json_is_versioned_and_nothing_else(run, job) -> None:
    outing, candidates = job(GOOD)
    code, out, err = run("scout", outing, "--candidates", candidates, "--nights", "2", "--json")
    found = json.loads(out)
    assert (code, err) == (0, "")
    assert (found["format"], found["version"]) == ("backbearing-scouting", 1)
    first, last = found["candidates"]
    assert first["rank"] == 1
    assert last["rank"] is None
    assert last["score"] is None
    assert last["failure"]
    assert [len(night) for night in first["minutes"]] == [4, 4]
    assert sum(max(night) for night in first["minutes"]) == first["total_minutes"]
    assert first["lat"] == pytest.approx(36.3726)


def test_nothing_found_is_three_and_says_why(run, job) -> None:
    outing, candidates = job("Far,50.0,-84.3,6,5,tree\n")
    code, out, _ = run("scout", outing, "--candidates", candidates, "--nights", "1")
    assert code == 3
    assert "outside the elevation raster" in " ".join(out.split())


def test_the_outings_own_file_and_span(run, job, tmp_path: Path) -> None:
    outing, _ = job(
        GOOD, '[scouting]\ncandidates = "things.csv"\nnights = 3\nfirst_night = 2027-05-08\n'
    )
    code, out, _ = run("scout", outing, "--csv", tmp_path / "ranking.csv")
    assert code == 0
    assert "over 3 nights from 8–9 May 2027" in " ".join(out.split())
    assert (tmp_path / "ranking.csv").read_text(encoding="utf-8").count("\n") >= 3


@pytest.mark.parametrize(
    ("words", "rows", "scouting", "saying"),
    [
        ((), GOOD, "", "Name a file of candidates"),
        (("--candidates", "gone.csv"), GOOD, "", "gone.csv"),
        ((), GOOD, "[scouting]\nnights = 0\n", "[scouting] nights"),
        ((), GOOD, "[scouting]\nwalks = 2\n", "did you mean walk?"),
        ((), GOOD, "[scouting]\nwalk = -1\n", "[scouting] walk is -1"),
        (
            (),
            GOOD,
            ALL_ZERO,
            "All weights are 0",
        ),
        ((), GOOD, '[scouting]\ncandidates = "things.csv"\ntowns = "gone.csv"\n', "gone.csv"),
    ],
)
def test_what_is_wrong_gets_one_sentence(run, job, words, rows, scouting, saying) -> None:
    outing, _ = job(rows, scouting)
    code, out, err = run("scout", outing, *words)
    assert code in (1, 2)
    assert out == ""
    assert saying in " ".join(err.split())


def test_no_file_is_overwritten_unasked(run, job, tmp_path: Path) -> None:
    outing, candidates = job(GOOD)
    (tmp_path / "r.csv").write_text("mine", encoding="utf-8")
    code, _, err = run("scout", outing, "--candidates", candidates, "--csv", tmp_path / "r.csv")
    assert code == 1
    assert "left as it is" in err
    assert (tmp_path / "r.csv").read_text(encoding="utf-8") == "mine"


@pytest.mark.slow
def test_a_stop_says_how_to_go_on_and_leaves_no_process(job, tmp_path: Path) -> None:
    rows = "".join(f"t{i},{36.30 + 0.0004 * i},-84.30,6,5,tree\n" for i in range(400))
    outing, candidates = job(rows)
    kept = tmp_path / "kept"
    words = ["--candidates", str(candidates), "--nights", "60", "--chunk", "8", "--keep", str(kept)]
    # A shell may have left the signal ignored for its background jobs.
    code = "import sys, signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    code += "from backbearing.cli import main; sys.argv = sys.argv[1:]; main()"
    command = [sys.executable, "-c", code, "backbearing", "scout", str(outing), *words]
    child = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True
    )
    while child.poll() is None and not (kept.is_dir() and any(kept.glob("scouted-*.npz"))):
        time.sleep(0.05)
    os.killpg(child.pid, signal.SIGINT)
    _, err = child.communicate(timeout=60)
    assert child.returncode == 1
    assert "Traceback" not in err
    assert "the same command goes on from there" in err
    assert 1 <= len(list(kept.glob("scouted-*.npz"))) < 50
    with pytest.raises(ProcessLookupError):
        os.killpg(child.pid, 0)
