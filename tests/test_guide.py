"""The worked guide is run as it stands, and prints what it quotes."""

from __future__ import annotations

import re
import runpy
import shlex
import shutil
from pathlib import Path

import pytest

from backbearing.cli import main

ROOT = Path(__file__).resolve().parent.parent


def plain(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.slow
def test_the_guide_prints_what_it_quotes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "sample"
    shutil.copytree(ROOT / "sample_terrain", folder)
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", "100")
    guide = (ROOT / "docs" / "scouting-guide.md").read_text(encoding="utf-8")
    said = plain((folder / "lone_things.csv").read_text(encoding="utf-8"))
    commands = 0
    for language, block in re.findall(r"```(\w+)\n(.*?)```", guide, flags=re.DOTALL):
        if language == "text":
            for line in block.splitlines():
                assert plain(line) in said, line
        elif language == "python":
            exec(compile(block, "scouting-guide.md", "exec"), {})  # noqa: S102  # our own text
            assert "m from a way; ask first" in capsys.readouterr().out
        else:
            for line in block.splitlines():
                said = plain(command_said(line, monkeypatch, capsys))
                commands += 1
    assert commands == 4
    assert (folder / "scouting.html").stat().st_size < 3_000_000
    assert (folder / "sheet.pdf").read_bytes().startswith(b"%PDF")
    page = (folder / "plans" / "02_averil_chapel.html").read_text(encoding="utf-8")
    assert "Averil Chapel" in page


@pytest.mark.slow
def test_the_first_night_prints_what_it_quotes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    make = runpy.run_path(str(ROOT / "docs" / "make_first_night_ground.py"))
    make["write"](tmp_path / "southern_hills.tif")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    guide = (ROOT / "docs" / "first-night.md").read_text(encoding="utf-8")
    said, commands = "", 0
    for language, block in re.findall(r"```(\w+)\n(.*?)```", guide, flags=re.DOTALL):
        if language == "text":
            for line in block.splitlines():
                assert plain(line) in said, line
        elif language == "sh":
            for line in block.splitlines():
                said = plain(command_said(line, monkeypatch, capsys))
                commands += 1
    assert commands == 8
    assert (tmp_path / "night.pdf").read_bytes().startswith(b"%PDF")
    assert "Corrin hut" in (tmp_path / "night.html").read_text(encoding="utf-8")
    assert len((tmp_path / "outing.toml").read_text(encoding="utf-8").splitlines()) < 40


def command_said(
    line: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> str:
    """Run a line of a guide and give what it printed."""
    program, *arguments = shlex.split(line)
    assert program == "backbearing"
    monkeypatch.setattr("sys.argv", [program, *arguments])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code, line
    return capsys.readouterr().out


def test_a_shortlist_leaves_what_belongs_to_the_old_subject(tmp_path: Path) -> None:
    from backbearing.outing.load import load_outing
    from backbearing.scouting import read_candidates, scout
    from backbearing.workflows.shortlist import outing_text

    sample = ROOT / "sample_terrain"
    outing = load_outing(sample / "outing.toml")
    ranking = scout(outing, read_candidates(sample / "lone_things.csv"), nights=4, processes=1)
    row = ranking.frame.iloc[0]
    file = tmp_path / "first.toml"
    file.write_text(outing_text(outing.path, row, tmp_path), encoding="utf-8")
    made = load_outing(file)
    assert made.subject.lat == pytest.approx(row.geometry.y)
    assert made.subject.height_m == pytest.approx(row["height_m"])
    assert made.night.evening.isoformat() == row["best_night"]
    assert made.session is None
    assert made.ground.elevation[0].resolve() == outing.ground.elevation[0].resolve()
    assert made.camera == outing.camera
    # A byte order mark, as some editors write it, changes nothing.
    marked = tmp_path / "marked.toml"
    marked.write_bytes(b"\xef\xbb\xbf" + outing.path.read_bytes())
    assert "lat = " in outing_text(marked, row, tmp_path)


@pytest.mark.parametrize(
    ("name", "file"),
    [
        ("Hollin oak", "03_hollin_oak.toml"),
        ("../../etc/passwd", "03_etc_passwd.toml"),
        ("שלום", "03.toml"),
        ("CON:\x00|é" + "x" * 99, "03_con_e" + "x" * 35 + ".toml"),
    ],
)
def test_file_names_are_plain(name: str, file: str) -> None:
    from backbearing.workflows.shortlist import file_name

    assert file_name(3, name) == file
