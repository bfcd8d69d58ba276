"""``nights --write``: the night chosen goes into the outing file, and nothing else moves."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from backbearing.outing.load import load_outing
from invented import write_outing

if TYPE_CHECKING:
    from collections.abc import Callable

    Run = Callable[..., tuple[int, str, str]]

FROM = ("--from", "2027-06-08", "--nights", "8")


@pytest.fixture
def outing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = write_outing(tmp_path, lat=-31.5, lon=148.2, evening=dt.date(2027, 6, 5)).path
    text = path.read_text(encoding="utf-8").replace("2027-06-05", "2027-06-05  # a guess")
    path.write_text("# Mine.\n\n" + text, encoding="utf-8")
    return Path(path.name)


def test_the_longest_stretch_is_put_into_the_file(run: Run, outing: Path) -> None:
    before = outing.read_text(encoding="utf-8")
    code, said, _ = run("nights", outing, *FROM, "--write", "--json")
    assert code == 0
    document = json.loads(said)
    lengths = {
        night["evening"]: max((one["minutes"] for one in night["windows"]), default=0.0)
        for night in document["season"]["nights"]
    }
    longest = max(lengths, key=lengths.__getitem__)
    assert document["written_evening"] == longest
    after = outing.read_text(encoding="utf-8")
    assert after == before.replace("2027-06-05", longest)
    assert load_outing(outing).night.evening.isoformat() == longest


def test_it_says_which_and_why(run: Run, outing: Path) -> None:
    for count in ("8", "120"):
        _, said, _ = run("nights", outing, "--from", "2027-06-08", "--nights", count, "--write")
        assert len(said.splitlines()) <= 30
    _, said, _ = run("nights", outing, *FROM, "--write")
    assert "Wrote " in said
    assert "the longest of 8 nights" in " ".join(said.split())


def test_a_date_is_written_as_it_is(run: Run, outing: Path) -> None:
    code, said, _ = run("nights", outing, *FROM, "--write", "2027-07-03")
    assert code == 0
    assert "Wrote 3–4 July 2027" in said
    assert load_outing(outing).night.evening == dt.date(2027, 7, 3)
    assert "2027-07-03  # a guess" in outing.read_text(encoding="utf-8")


def test_without_a_good_night_the_file_stays(run: Run, outing: Path) -> None:
    before = outing.read_bytes()
    # In December the core stands beside the Sun.
    code, said, _ = run("nights", outing, "--from", "2027-12-12", "--nights", "3", "--write")
    assert code == 3
    assert "stays as it is" in said
    assert outing.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--write", "soon"), "and not 'soon'"),
        (("--write", "2027-02-30"), "takes a date"),
        (("--from-stand", "-31.51", "148.2", "--write"), "needs the DATE"),
    ],
)
def test_a_wrong_wish_is_usage(run: Run, outing: Path, words: tuple[str, ...], said: str) -> None:
    before = outing.read_bytes()
    code, _, told = run("nights", outing, *FROM, *words)
    assert code == 2
    assert said in told
    assert outing.read_bytes() == before
