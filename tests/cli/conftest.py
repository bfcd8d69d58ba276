"""What the tests of the commands share."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import pytest

from backbearing.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[..., tuple[int, str, str]]:
    """Run a command in this process, 80 columns wide: its exit code, what it said, and where."""

    def call(*words: str | Path) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["backbearing", *map(str, words)])
        monkeypatch.setenv("COLUMNS", "80")
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        return int(stop.value.code or 0), said.out, said.err

    return call
