"""Terminals that know only ASCII, a full disk behind standard output, and a reader that left."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
FULL = Path("/dev/full")


def run(words: list[str], **how: object) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src"), **how.pop("env", {})}  # type: ignore[dict-item]
    return subprocess.run(
        [sys.executable, "-c", "from backbearing.cli import main; main()", *words],
        env=env,
        text=True,
        encoding="utf-8",
        stderr=subprocess.PIPE,
        check=False,
        **how,  # type: ignore[call-overload]
    )


@pytest.mark.skipif(not FULL.exists(), reason="no device that is always full")
@pytest.mark.parametrize("words", [["--help"], ["doctor"]])
def test_a_full_disk_behind_standard_output_is_said_and_fails(words: list[str]) -> None:
    with FULL.open("w") as full:
        found = run(words, stdout=full)
    assert found.returncode == 1
    assert "No space left" in found.stderr
    assert "Traceback" not in found.stderr


def test_an_ascii_terminal_gets_plain_signs() -> None:
    file = ROOT / "sample_terrain" / "outing.toml"
    found = run(
        ["ridge", str(file), "--spot", "36.3726", "-84.3602"],
        stdout=subprocess.PIPE,
        env={"PYTHONIOENCODING": "ascii"},
    )
    assert found.returncode == 0, found.stderr
    assert found.stdout.isascii()
    assert " deg" in found.stdout


def test_a_reader_that_went_away_is_no_fault() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as gone:
        found = run(["--help"], stdout=gone)
    assert found.stderr == ""
