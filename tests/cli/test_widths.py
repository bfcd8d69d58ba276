"""Every command that needs no network, at four widths: no digit and no letter is lost."""

from __future__ import annotations

import datetime as dt
import re
import sys
from typing import TYPE_CHECKING

import pytest

from backbearing.cli import main
from invented import hill, write_outing

if TYPE_CHECKING:
    from pathlib import Path

NUMBER = re.compile(r"[-+]?\d+(?:[.:]\d+)*")
WIDTHS = (40, 60, 80, 120)
WIDE = 220

COMMANDS = (
    ("stand",),
    ("stand", "--all"),
    ("stand", "--compare"),
    ("stand", "--compare", "--all"),
    ("nights", "--nights", "9"),
    ("nights", "--nights", "9", "--all"),
    ("nights", "--nights", "9", "--all", "--from-stand", "-30.9998", "148.9997"),
    ("ridge",),
    ("ridge", "--all"),
    ("explain",),
    ("explain", "24mm.distance_m"),
    ("explain", "turn.distance_m"),
    ("doctor",),
    ("doctor", "--all"),
    ("targets",),
)


@pytest.fixture(scope="module")
def outing(tmp_path_factory) -> Path:
    asked = write_outing(
        tmp_path_factory.mktemp("widths"), lat=-31.0, lon=149.0, evening=dt.date(2027, 5, 8),
        ground=hill(70.0, 800.0), lenses=(16.0, 24.0, 85.0), session={},
        subject={"kind": "cairn", "height_m": 3.0, "width_m": 2.5, "name": "Far-Away Cairn"},
    )  # fmt: skip
    return asked.path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(outing: Path, words: tuple[str, ...], columns: int) -> str:
        named = () if words[0] == "targets" else (outing,)
        monkeypatch.setattr(sys, "argv", ["backbearing", words[0], *map(str, named), *words[1:]])
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit):
            main()
        return capsys.readouterr().out

    return call


def words_of(text: str) -> set[str]:
    """Words as they are read, apart from what a table's blocks put between them."""
    return set(re.split(r"[\s,:;]+", text))


@pytest.mark.slow
@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_no_digit_is_lost_and_no_word_broken(run, outing: Path, command: tuple[str, ...]) -> None:
    short = "--all" not in command and command[0] not in ("targets",)
    wide = run(outing, command, WIDE)
    if short and command[0] in ("stand", "nights", "ridge", "doctor"):
        # How much of it a narrow screen holds differs; nothing is said that the whole has not.
        wide += run(outing, (*command, "--all"), WIDE)
    for width in WIDTHS:
        narrow = run(outing, command, width)
        lost = set(NUMBER.findall(narrow)) - set(NUMBER.findall(wide))
        # "and 12 more: --all" counts what this screen left out.
        left = {m for line in re.findall(r"and (\d+) more", narrow) for m in (line,)}
        assert lost <= left, (width, lost)
        broken = words_of(narrow) - words_of(wide) - left - {"and", "more", "--all", ""}
        assert not broken, (width, broken)
        if not short:
            assert set(NUMBER.findall(wide)) == set(NUMBER.findall(narrow))
        long = [line for line in narrow.splitlines() if len(line) > width]
        assert all(" " not in line.strip() for line in long), (width, long)
