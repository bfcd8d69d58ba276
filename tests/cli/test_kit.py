"""``backbearing kit``: one screen, an example that works, and a kit for one command."""

from __future__ import annotations

import datetime as dt
import json
import os
from typing import TYPE_CHECKING

from backbearing.outing.kit import load_kit
from backbearing.outing.kit_place import KIT_VARIABLE
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import pytest

    Run = Callable[..., tuple[int, str, str]]


def test_the_example_is_a_kit_and_fits_one_screen(run: Run, tmp_path: Path) -> None:
    _, example, _ = run("kit", "--example")
    path = tmp_path / "kit.toml"
    path.write_text(example, encoding="utf-8")
    kit = load_kit(path)
    assert kit.body
    assert kit.lens
    assert kit.light
    assert kit.me
    code, said, _ = run("kit", "--kit", path)
    assert code == 0
    assert len(said.splitlines()) <= 30
    assert all(len(line) <= 80 for line in said.splitlines() if str(path) not in line)
    for name in (*kit.body, *kit.lens, *kit.light):
        assert name in said


def test_a_large_kit_fits_one_screen_too(run: Run, tmp_path: Path) -> None:
    text = "format = 1\n" + "".join(
        f'[body."body {n}"]\nsensor_format = "135"\nwidth_px = {6000 + n}\n'
        f'[lens."lens {n}"]\nfocal_length_mm = {20 + n}\n'
        f'[light."lamp {n}"]\nwidth_m = 0.1\nheight_m = 0.2\n'
        for n in range(40)
    )
    path = tmp_path / "kit.toml"
    path.write_text(text, encoding="utf-8")
    _, said, _ = run("kit", "--kit", path)
    assert len(said.splitlines()) <= 30
    assert "and 34 more: --all" in said
    assert "lens 39" in run("kit", "--kit", path, "--all")[1]


def test_write_puts_it_there_once(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "settings" / "kit.toml"
    monkeypatch.setenv(KIT_VARIABLE, str(path))
    code, _, said = run("kit")
    assert code == 1
    assert "backbearing kit --write" in said
    assert run("kit", "--write")[0] == 0
    path.write_text("format = 1\n", encoding="utf-8")
    code, _, said = run("kit", "--write")
    assert code == 1
    assert "left as it is" in said
    assert path.read_text(encoding="utf-8") == "format = 1\n"
    code, said, _ = run("kit", "--json")
    assert json.loads(said)["body"] == {}


def test_a_kit_named_for_one_command(run: Run, tmp_path: Path) -> None:
    outing = write_outing(tmp_path, lat=-31.5, lon=148.2, evening=dt.date(2027, 6, 5)).path
    text = outing.read_text(encoding="utf-8")
    head, rest = text.split("[camera]\n")
    lenses = rest[rest.index("[[lens]]") :].replace("focal_length_mm = 24.0", 'use = "my 28"')
    outing.write_text(f'{head}[camera]\nuse = "mine"\n{lenses}', encoding="utf-8")
    kit = tmp_path / "one.toml"
    kit.write_text(
        'format = 1\n[body.mine]\nsensor_format = "135"\nwidth_px = 7000\n'
        '[lens."my 28"]\nfocal_length_mm = 28.0\n[me]\neye_height_m = 1.23\n',
        encoding="utf-8",
    )
    before = os.environ.get(KIT_VARIABLE)
    code, said, _ = run("stand", outing, "--kit", kit, "--json")
    assert code == 0
    plan = json.loads(said)
    # The numbers themselves, for a computer without this kit.
    assert "my 28" not in said
    assert '"focal_length_mm": 28.0' in said
    assert '"width_px": 7000' in said
    assert '"eye_height_m": 1.23' in said
    assert plan["format"]
    assert os.environ.get(KIT_VARIABLE) == before
    # And where a number comes from is told.
    _, why, _ = run("explain", outing, "28mm.distance_m", "--kit", kit)
    assert f"From your kit {kit}:" in " ".join(why.split())
    assert 'focal_length_mm of lens "my 28"' in " ".join(why.split())
    assert "eye_height_m of me" in " ".join(why.split())
    code, _, wrong = run("stand", outing, "--kit", tmp_path / "none.toml")
    assert code == 1
    assert "there is no kit at" in wrong


def test_doctor_looks_at_the_kit(run: Run, tmp_path: Path) -> None:
    kit = tmp_path / "kit.toml"
    kit.write_text("format = 1\n[lens.one]\nfocal_length_mm = 20\n", encoding="utf-8")
    _, said, _ = run("doctor", "--kit", kit, "--all")
    assert "0 bodies, 1 lens, 0 lights" in " ".join(said.split())
    kit.write_text("format = 1\n[lens.one]\nfocal_length_mm = 0\n", encoding="utf-8")
    code, said, _ = run("doctor", "--kit", kit)
    assert code == 1
    assert "WRONG kit:" in said
