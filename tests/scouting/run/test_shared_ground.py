"""Scouting over a raster in pieces: shared or not the same ranking, and nothing left behind."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

from backbearing.scouting import scout, task_of
from backbearing.scouting.ranking import raster_window
from backbearing.scouting.ranking.context import Standing
from backbearing.scouting.run.shared_ground import close_ground, opened_context
from backbearing.terrain import TerrainWarning, shared_pieces
from backbearing.terrain import chunks as chunks_module
from backbearing.terrain.piece_store import StoredSource

if TYPE_CHECKING:
    from pathlib import Path

    from backbearing.plan.ranking import Ranking
    from backbearing.scouting.reading.candidate_table import Candidates


@pytest.fixture(autouse=True)
def in_pieces(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Have the sample raster read in pieces, and the user's cache in a folder of the test."""
    monkeypatch.setattr(chunks_module, "PIECE", 96)
    monkeypatch.setattr(chunks_module, "WHOLE_UP_TO", 0)
    monkeypatch.setattr(chunks_module, "KEEP_BYTES", 200_000)
    monkeypatch.setattr(raster_window, "HELD_CELLS", 0)
    monkeypatch.setattr(raster_window, "TILE", 64)
    monkeypatch.setattr(shared_pieces, "pieces_home", lambda: tmp_path / "cache")


@pytest.fixture(scope="module")
def things(make_candidates: Any) -> Candidates:
    rng = np.random.default_rng(2)
    return make_candidates(rng.uniform(36.2, 36.5, 16), rng.uniform(-84.4, -84.0, 16))


def ranked(outing: Any, things: Candidates, **more: Any) -> Ranking:
    return scout(outing, things, nights=1, chunk=6, **more)


def test_the_ranking_is_that_of_a_raster_read_by_each_for_itself(
    plain_outing, things, tmp_path, monkeypatch
):
    outing = replace(plain_outing, lenses=plain_outing.lenses[:1])
    shared = ranked(outing, things, processes=2)
    assert list((tmp_path / "cache").iterdir()) == []
    ranked(outing, things, processes=1, keep=tmp_path / "kept")
    assert len(list((tmp_path / "cache").glob("*/piece-*"))) > 4
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setattr(shared_pieces, "pieces_home", lambda: tmp_path / "file")
    with pytest.warns(TerrainWarning, match="each process reads the raster for itself"):
        alone = ranked(outing, things, processes=1)
    pd.testing.assert_frame_equal(
        pd.DataFrame(shared.frame), pd.DataFrame(alone.frame), check_exact=True
    )
    np.testing.assert_array_equal(shared.minutes, alone.minutes)
    assert alone.ranked > 5


def test_a_worker_opens_shared_ground_once_and_removes_it(plain_outing, things, tmp_path):
    task = task_of(plain_outing, lat=36.35, lon=-84.13, nights=1)
    standing = Standing.of(things)
    context = opened_context(task, "a", standing)
    assert opened_context(task, "a", standing) is context
    assert isinstance(context.elevation._source, StoredSource)
    height_m = context.elevation.height_at(lat=36.35, lon=-84.13)
    close_ground("another", remove=True)
    assert len(list((tmp_path / "cache").iterdir())) == 1
    close_ground("a", remove=True)
    assert list((tmp_path / "cache").iterdir()) == []
    assert task.ground.open().height_at(lat=36.35, lon=-84.13) == height_m
