"""The same ranking from Dask's workers as from one machine, even when one is lost."""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import pytest

from backbearing.base.errors import BackbearingError
from backbearing.outing.load import load_outing
from backbearing.scouting import read_candidates, scout
from backbearing.scouting.partitions.merged import Wanted, find
from backbearing.scouting.partitions.ranked_folder import open_ranked
from backbearing.scouting.run.dask_cluster import parcels, scout_region
from backbearing.scouting.run.into_parts import Sharing, scout_into

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.scouting import Candidates, Ranking
    from backbearing.scouting.partitions.ranked_folder import RankedFolder

# Distributed's own threads and sockets outlive a test by moments.
pytestmark = [
    pytest.mark.xdist_group("dask"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::FutureWarning"),
]

NIGHTS = 12
ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def outing() -> Outing:
    return load_outing(ROOT / "sample_terrain" / "outing.toml")


@pytest.fixture(scope="module")
def candidates() -> Candidates:
    return read_candidates(ROOT / "sample_terrain" / "lone_things.csv")


@pytest.fixture(scope="module")
def alone(outing: Outing, candidates: Candidates) -> Ranking:
    return scout(outing, candidates, nights=NIGHTS, processes=1)


@pytest.fixture(scope="module")
def cluster() -> Any:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as made:
        yield made


def same(one: Ranking, other: Ranking) -> None:
    pd.testing.assert_frame_equal(
        pd.DataFrame(one.frame), pd.DataFrame(other.frame), check_exact=True
    )
    np.testing.assert_array_equal(one.minutes, other.minutes)
    assert one.notes == other.notes


@pytest.mark.slow
def test_two_workers_find_the_same_though_one_is_killed_midway(
    outing, candidates, alone, cluster, tmp_path
):
    killed = []

    def kill_one(done: int, total: int) -> None:
        if 0 < done < total and not killed:
            worker = next(iter(cluster.workers.values()))
            killed.append(worker.pid)
            os.kill(worker.pid, signal.SIGKILL)

    found = scout_region(
        outing,
        candidates,
        scheduler=cluster.scheduler_address,
        nights=NIGHTS,
        chunk=4,
        keep=tmp_path,
        progress=kill_one,
    )
    assert killed
    same(found, alone)
    # A rerun takes up every finished parcel and sends none out.
    told = []
    again = scout_region(
        outing,
        candidates,
        scheduler=cluster.scheduler_address,
        nights=NIGHTS,
        chunk=4,
        keep=tmp_path,
        progress=lambda done, total: told.append((done, total)),
    )
    assert told == [(len(candidates), len(candidates))]
    same(again, alone)


@pytest.mark.slow
def test_in_parts_a_lost_scheduler_and_a_killed_worker_cost_nothing_that_is_home(
    outing, alone, cluster, tmp_path, monkeypatch
):
    pytest.importorskip("pyarrow")
    from distributed import LocalCluster

    things, gone, killed = ROOT / "sample_terrain" / "lone_things.csv", [], []

    def into(address: str, progress: Any) -> RankedFolder:
        sharing = Sharing(scheduler=address, chunk=4)
        return scout_into(
            outing, things, tmp_path, nights=NIGHTS, sharing=sharing, progress=progress
        )

    with LocalCluster(n_workers=1, processes=False, dashboard_address=":0") as own:

        def end_scheduler(done: int, total: int) -> None:
            if 0 < done < total and not gone:
                gone.append(done)
                own.sync(own.scheduler.close)

        monkeypatch.setattr("backbearing.cluster.dask_cluster.CONNECT_S", 0.5)
        with pytest.raises(BackbearingError, match=r"The scheduler at \S+ is gone; what came home"):
            into(own.scheduler_address, end_scheduler)
    monkeypatch.undo()
    home = open_ranked(tmp_path).files()
    assert home
    stamps = [path.stat().st_mtime_ns for path in home]

    def kill_one(done: int, total: int) -> None:
        if gone[0] < done < total and not killed:
            worker = next(iter(cluster.workers.values()))
            killed.append(worker.pid)
            os.kill(worker.pid, signal.SIGKILL)

    ranked = into(cluster.scheduler_address, kill_one)
    assert killed
    assert [path.stat().st_mtime_ns for path in home] == stamps
    found = find(ranked.files(), Wanted(top=100, failed=True))
    pd.testing.assert_frame_equal(
        pd.DataFrame(found.frame), pd.DataFrame(alone.frame), check_exact=True
    )
    np.testing.assert_array_equal(found.minutes, alone.minutes.max(axis=2))


@pytest.mark.slow
def test_a_worker_without_the_files_is_named(outing, candidates, cluster, tmp_path):
    towns = tmp_path / "towns.csv"
    towns.write_text("name,lat,lon,population\nAsh,36.0,-84.0,900\n", encoding="utf-8")
    asked = replace(outing, scouting=replace(outing.scouting, towns=towns))
    from backbearing.cluster import dask_cluster as region

    plain = region._told
    try:
        region._told = _blind
        with pytest.raises(BackbearingError, match=r"does not see .*towns\.csv"):
            scout_region(asked, candidates, scheduler=cluster.scheduler_address, nights=2)
    finally:
        region._told = plain


def _blind(paths: list[str]) -> tuple[str, list[str]]:
    from backbearing import __version__

    return __version__, [path for path in paths if path.endswith("towns.csv")]


def test_a_scheduler_that_does_not_answer_is_named(outing, candidates, monkeypatch):
    monkeypatch.setattr("backbearing.cluster.dask_cluster.CONNECT_S", 0.3)
    with pytest.raises(BackbearingError, match=r"tcp://127\.0\.0\.1:9 does not answer"):
        scout_region(outing, candidates, scheduler="tcp://127.0.0.1:9", nights=2)


def test_parcels_hold_every_candidate_once_and_none_spans_two_tiles(outing):
    from affine import Affine

    from backbearing.scouting.ranking.raster_window import TILE
    from backbearing.terrain import Elevation

    side = 4200
    heights = np.broadcast_to(np.float32(100.0), (side, side))
    ground = Elevation.from_array(heights, Affine(30, 0, 500_000, 0, -30, 5_000_000), "EPSG:32632")
    rng = np.random.default_rng(4)
    south, west, north, east = (float(v) for v in ground.bounds)
    lat, lon = rng.uniform(south, north, 400), rng.uniform(west, east, 400)
    cut = parcels(ground, lat=lat, lon=lon, chunk=30)
    assert sorted(np.concatenate(cut)) == list(range(400))
    at = ground.grid.pixels(lat=lat, lon=lon)
    for rows in cut:
        assert len(rows) <= 30
        assert len({(int(r // TILE), int(c // TILE)) for r, c in zip(at.row[rows], at.col[rows], strict=True)}) == 1  # fmt: skip  # noqa: E501
