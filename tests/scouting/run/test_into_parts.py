"""A ranking in parts is one machine's ranking, however the run went."""

from __future__ import annotations

import warnings
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

from backbearing.base.errors import NothingFoundError, OutingError
from backbearing.outing.load import load_outing
from backbearing.scouting import read_candidates, scout
from backbearing.scouting.partitions.merged import Wanted, find
from backbearing.scouting.partitions.ranked_folder import open_ranked
from backbearing.scouting.partitions.read_back import read_ranked
from backbearing.scouting.run.into_parts import Sharing, scout_into

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.scouting.partitions.ranked_folder import RankedFolder

pytest.importorskip("pyarrow")

NIGHTS = 12
ROOT = Path(__file__).resolve().parents[3]
THINGS = ROOT / "sample_terrain" / "lone_things.csv"
HOSTILE = "\"</script><img src=x onerror=a()>\u202e'=1+1"


class Stopped(Exception):  # noqa: N818
    """What ends a run midway."""


@pytest.fixture(scope="module")
def outing() -> Outing:
    return load_outing(ROOT / "sample_terrain" / "outing.toml")


@pytest.fixture(scope="module")
def things(tmp_path_factory: Any) -> Path:
    """The sample's candidates, one with a hostile name and one off the raster."""
    file = tmp_path_factory.mktemp("things") / "things.csv"
    rows = THINGS.read_text(encoding="utf-8").splitlines()
    quoted = HOSTILE.replace('"', '""')
    rows += [f'"{quoted}",36.3301,-84.2502,6,4,tree,candidate,,', "far off,40,-84,6,4,tree,,,"]
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return file


@pytest.fixture(scope="module")
def alone(outing: Outing, things: Path) -> Ranking:
    return scout(outing, read_candidates(things), nights=NIGHTS, processes=1)


def into(outing: Outing, things: Path, folder: Path, **more: Any) -> RankedFolder:
    sharing = Sharing(processes=1, chunk=9)
    return scout_into(outing, things, folder, **{"nights": NIGHTS, "sharing": sharing, **more})


@pytest.fixture(scope="module")
def stopped_and_resumed(outing, things, tmp_path_factory) -> tuple[RankedFolder, list[int]]:
    """A run that is stopped after two parcels, one of which is then damaged, and resumed."""
    folder = tmp_path_factory.mktemp("run") / "country"
    homes: list[int] = []

    def stop(done: int, total: int) -> None:
        homes.append(done)
        if len(homes) == 3:
            raise Stopped

    with pytest.raises(Stopped):
        into(outing, things, folder, progress=stop)
    there = open_ranked(folder).files()
    assert len(there) == 2
    kept, broken = there
    stamp = kept.stat().st_mtime_ns
    broken.write_bytes(broken.read_bytes()[:-300])
    told: list[int] = []
    with pytest.warns(UserWarning, match=rf"{broken.name} is damaged .*; that part is done again"):
        ranked = into(outing, things, folder, progress=lambda done, total: told.append(done))
    assert kept.stat().st_mtime_ns == stamp
    return ranked, told


def test_in_parts_the_ranking_is_one_machines_to_the_last_bit(stopped_and_resumed, alone):
    ranked, told = stopped_and_resumed
    # One of the two that were there was damaged, so that it is done again.
    assert 0 < told[0] <= 9
    assert told == sorted(told)
    assert told[-1] == len(alone) == ranked.candidates
    found = find(ranked.files(), Wanted(top=100, failed=True))
    pd.testing.assert_frame_equal(
        pd.DataFrame(found.frame), pd.DataFrame(alone.frame), check_exact=True
    )
    np.testing.assert_array_equal(found.minutes, alone.minutes.max(axis=2))
    assert (found.done, found.ranked) == (len(alone), alone.ranked)
    back = read_ranked(ranked.folder, Wanted(top=3)).ranking
    for name in ("asked", "weights", "zone", "first_night", "lens_names", "notes"):
        assert getattr(back, name) == getattr(alone, name)
    assert ranked.rejected == alone.rejected
    named = found.frame["name"][found.frame["name"].str.contains("script")]
    assert named.tolist() == [HOSTILE.replace("\u202e", "<U+202E>")]


def test_a_finished_run_asked_again_works_nothing_out(stopped_and_resumed, outing, things):
    ranked, _ = stopped_and_resumed
    stamps = {path: path.stat().st_mtime_ns for path in ranked.files()}
    told: list[tuple[int, int]] = []
    again = into(outing, things, ranked.folder, progress=lambda *both: told.append(both))
    assert told == [(again.candidates, again.candidates)]
    assert {path: path.stat().st_mtime_ns for path in again.files()} == stamps


@pytest.mark.parametrize("change", ["nights", "outing", "candidates", "chunk"])
def test_another_question_is_refused_and_the_folder_left(
    change, stopped_and_resumed, outing, things, tmp_path
):
    ranked, _ = stopped_and_resumed
    before = {p: p.read_bytes() for p in ranked.folder.rglob("*") if p.is_file()}
    more: dict[str, Any] = {}
    if change == "nights":
        more["nights"] = NIGHTS + 1
    elif change == "outing":
        outing = replace(outing, framing=replace(outing.framing, share=0.3))
    elif change == "chunk":
        more["sharing"] = Sharing(processes=1, chunk=10)
    else:
        other = tmp_path / things.name
        other.write_bytes(things.read_bytes() + b"one more,36.32,-84.26,6,4,tree,,,\n")
        things = other
    with pytest.raises(OutingError, match=r"another outing, other candidates, nights or chunks"):
        into(outing, things, ranked.folder, **more)
    assert {p: p.read_bytes() for p in ranked.folder.rglob("*") if p.is_file()} == before


def test_no_candidate_is_one_sentence(outing, tmp_path):
    file = tmp_path / "none.csv"
    file.write_text("name,lat,lon\nnowhere,95.0,-84.2\n", encoding="utf-8")
    with pytest.raises(NothingFoundError, match=r"none\.csv holds no candidate that can be used"):
        into(outing, file, tmp_path / "folder")


def test_a_folder_without_a_ranking_is_named(tmp_path):
    with pytest.raises(OutingError, match="holds no ranking in parts"):
        open_ranked(tmp_path)


def test_damaged_candidates_are_cut_anew(outing, things, tmp_path):
    with pytest.raises(Stopped):
        into(outing, things, tmp_path, progress=_stop)
    (tmp_path / "candidates" / "parts.json").write_text("{", encoding="utf-8")
    with (
        pytest.warns(UserWarning, match=r"parts\.json is damaged"),
        pytest.raises(Stopped),
    ):
        into(outing, things, tmp_path, progress=_stop)
    with warnings.catch_warnings(), pytest.raises(Stopped):
        into(outing, things, tmp_path, progress=_stop)


def _stop(done: int, total: int) -> None:
    raise Stopped
