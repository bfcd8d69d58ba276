"""``backbearing targets``: every name that it lists is taken by [target]."""

from __future__ import annotations

import json
import re
import sys
from typing import TYPE_CHECKING

import pytest

from backbearing.cli import main
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def call(*words: str) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["backbearing", *words])
        with pytest.raises(SystemExit) as stop:
            main()
        return int(stop.value.code or 0), capsys.readouterr().out

    return call


def test_every_line_is_taken(run, tmp_path: Path, sample_text: str) -> None:
    code, out = run("targets", "--all")
    assert code == 0
    lines = re.findall(r'^((?:name|body|star) = "[^"]+")', out, flags=re.MULTILINE)
    assert len(lines) > 30
    path = tmp_path / "outing.toml"
    for line in lines[:14]:
        path.write_text(sample_text.replace('name = "core"', line), encoding="utf-8")
        assert load_outing(path).target.name


def test_the_same_as_json(run) -> None:
    code, out = run("targets", "--json")
    found = json.loads(out)
    assert (code, found["format"]) == (0, "backbearing-targets")
    assert found["places"]["core"]["ra_deg"] == pytest.approx(266.4168, abs=1e-3)
    assert {one["name"] for one in found["stars"]} >= {"Antares", "Sirius"}
