"""``backbearing scout --into`` and ``backbearing ranked``: what is said, written and refused."""

from __future__ import annotations

import csv
import json
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas
import pytest

from backbearing.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable

pytest.importorskip("pyarrow")

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain"
HOSTILE = "</script><script>alert(1)</script> \x1b[31m=SUM(1)"


@pytest.fixture(scope="module")
def home(tmp_path_factory: Any) -> Path:
    """Make a ranking in parts, of candidates one of which has a hostile name."""
    home = tmp_path_factory.mktemp("ranked")
    for name in ("outing.toml", "places.geojson"):
        if (SAMPLE / name).exists():
            shutil.copy(SAMPLE / name, home)
    rows = (SAMPLE / "lone_things.csv").read_text(encoding="utf-8").splitlines()[:20]
    rows.append(f'"{HOSTILE}",36.3301,-84.2502,9,6,tree,candidate,,')
    (home / "things.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    words = ["scout", str(SAMPLE / "outing.toml"), "--candidates", str(home / "things.csv")]
    words += ["--nights", "3", "--chunk", "8", "--processes", "1", "--into", str(home / "folder")]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sys, "argv", ["backbearing", *words])
        with pytest.raises(SystemExit) as stop:
            main()
    assert not stop.value.code
    return home


def test_the_first_ones_are_shown_and_what_to_ask_next(run: Callable[..., Any], home: Path) -> None:
    code, out, _ = run("ranked", home / "folder", "--top", "2")
    flat = " ".join(out.split())
    assert code == 0
    assert "of 20 candidates ranked over 3 nights" in flat
    assert out.count("mm  ") >= 2
    assert "Not finished" not in flat
    assert "a rank is no leave to go there" in flat
    assert len(out.splitlines()) <= 30


def test_a_page_and_a_province_are_parts_of_the_whole(run, home: Path) -> None:
    def ranks(*words: str) -> list[int | None]:
        code, out, _ = run("ranked", home / "folder", "--json", *words)
        told = json.loads(out)
        assert told["format"] == "backbearing-ranking-part"
        assert (code == 3) == (not told["candidates"])
        return [one["rank"] for one in told["candidates"]]

    everyone = ranks("--top", "100", "--failed")
    count = sum(rank is not None for rank in everyone)
    assert everyone == [*range(1, count + 1), *[None] * (20 - count)]
    assert ranks("--top", "3", "--after", "2") == [3, 4, 5]
    _, out, _ = run("ranked", home / "folder", "--json", "--within", "5km", "--at", "36.3,-84.2")
    near = json.loads(out)["candidates"]
    assert 0 < len(near) < count
    assert all(abs(one["lat"] - 36.3) < 0.046 for one in near)
    assert all(len(one["best_minutes"]) == 3 for one in near)
    assert ranks("--box=10,10,11,11") == []


def test_what_is_written_holds_hostile_names_as_text(run, home: Path, tmp_path: Path) -> None:
    files = {kind: tmp_path / f"some.{kind}" for kind in ("csv", "gpkg", "geojson", "html")}
    named = [word for kind, path in files.items() for word in (f"--{kind}", path)]
    named[named.index("--html")] = "--map"
    code, out, _ = run("ranked", home / "folder", "--top", "50", *named, "--all")
    assert code == 0
    assert "\x1b[31m" not in out
    assert "<script>alert" not in files["html"].read_text(encoding="utf-8")
    with files["csv"].open(encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    frame = geopandas.read_file(files["geojson"])
    assert [str(v) for v in frame["id"]] == [row["id"] for row in rows]
    assert geopandas.read_file(files["gpkg"], layer="candidates")["id"].tolist() == list(
        frame["id"]
    )
    assert any("</script>" in name for name in frame["name"])
    again, _, said = run("ranked", home / "folder", "--csv", files["csv"])
    assert again == 1
    assert "already there" in said


def test_a_number_of_it_is_explained(run, home: Path, tmp_path: Path) -> None:
    _, out, _ = run("ranked", home / "folder", "--json")
    file = tmp_path / "part.json"
    file.write_text(out, encoding="utf-8")
    code, told, _ = run("explain", file, "1.part_ground")
    assert code == 0
    # The weight and the limits come from what the folder was asked for.
    assert "steepest_deg = 25" in told


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--box", "1,2,3"], 2, "takes four numbers"),
        (["--box", "1,2,3,95"], 1, "none on the globe"),
        (["--within", "5km"], 2, "go together"),
        (["--within", "5km", "--at", "36,-84", "--box", "1,2,3,4"], 2, "not both"),
        (["--top", "0"], 1, "1 to 20,000"),
    ],
)
def test_a_slip_is_one_sentence(run, home: Path, words: list[str], code: int, said: str) -> None:
    found, _, told = run("ranked", home / "folder", *words)
    assert (found, said in " ".join(told.split())) == (code, True)


def test_a_folder_without_a_ranking_is_one_sentence(run, tmp_path: Path) -> None:
    code, _, told = run("ranked", tmp_path)
    assert code == 1
    assert "holds no ranking in parts; make one with backbearing scout --into" in told


@pytest.mark.parametrize("option", [["--map", "a.html"], ["--keep", "kept"], ["--csv", "a.csv"]])
def test_what_does_not_go_with_into_is_said_before_work(run, home: Path, option) -> None:
    code, _, told = run("scout", SAMPLE / "outing.toml", "--into", home / "folder", *option)
    assert code == 2
    assert f"{option[0]} does not go with --into" in " ".join(told.split())
