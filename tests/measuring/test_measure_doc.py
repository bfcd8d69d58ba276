"""docs/measure.md: each command that it shows is run, and says what stands below it."""

from __future__ import annotations

import re
import shlex
import sys
from pathlib import Path

import pytest

from backbearing.cli import main
from backbearing.workflows.visit import measured, read_notebook
from backbearing.workflows.visit_ways import WAYS

PAGE = Path(__file__).resolve().parents[2] / "docs" / "measure.md"
SHOWN = re.findall(r"```sh\n(.*?)```\s+```text\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)


def test_the_page_shows_commands() -> None:
    assert len(SHOWN) == 4


@pytest.mark.parametrize(("command", "said"), SHOWN)
def test_a_command_says_what_the_page_quotes(
    command: str, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", shlex.split(command))
    monkeypatch.setenv("COLUMNS", "100")
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    out = " ".join(capsys.readouterr().out.split())
    for line in said.splitlines():
        assert line in out


def test_the_pages_notebook_is_read(tmp_path: Path) -> None:
    (text,) = re.findall(r"```toml\n(.*?)```", PAGE.read_text("utf-8"), re.DOTALL)
    notebook = tmp_path / "visit.toml"
    notebook.write_text(text, encoding="utf-8")
    height = measured("height", read_notebook(notebook, "height"))
    assert len(height.readings) == 2
    assert height.result.notes[-1].startswith("the two differ by ")
    assert measured("place", read_notebook(notebook, "place")).result.way == "2 bearings"


@pytest.mark.parametrize("name", [name for ways in WAYS.values() for name in ways])
def test_the_page_names_every_way(name: str) -> None:
    shown = PAGE.read_text("utf-8")
    assert f"`{name}`" in shown or f"**`{name}`**" in shown or name == "angle"
