"""Areas and seasons over Dask's workers are those of one process, even when one is lost."""

from __future__ import annotations

import os
import signal
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.ridge import area_parts
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.cluster.shared_work import Sharing
from backbearing.outing.load import load_outing
from backbearing.scouting.reading.candidates import read_candidates
from backbearing.workflows.site_seasons import seasons_of_sites

if TYPE_CHECKING:
    from backbearing.outing.request import Outing

# Distributed's own threads and sockets outlive a test by moments.
pytestmark = [
    pytest.mark.slow,
    pytest.mark.xdist_group("dask"),
    pytest.mark.filterwarnings("ignore::ResourceWarning"),
    pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
    pytest.mark.filterwarnings("ignore::FutureWarning"),
]

SAMPLE = Path(__file__).resolve().parents[2] / "sample_terrain"


@pytest.fixture(scope="module")
def outing() -> Outing:
    return load_outing(SAMPLE / "outing.toml")


@pytest.fixture(scope="module")
def cluster() -> Any:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=":0"
    ) as made:
        yield made


class KillOne:
    """A progress that kills a worker midway, once."""

    def __init__(self, cluster: Any) -> None:
        self.cluster, self.killed = cluster, 0

    def __call__(self, done: int, total: int) -> None:
        if 0 < done < total and not self.killed:
            self.killed = next(iter(self.cluster.workers.values())).pid
            os.kill(self.killed, signal.SIGKILL)


def test_an_area_though_a_worker_is_killed_midway_and_sites(
    outing: Outing, cluster: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(area_parts, "LEAST_SIDE", 40)
    kill = KillOne(cluster)
    sharing = Sharing(scheduler=cluster.scheduler_address, keep=tmp_path)
    shared = ridge_area(outing, within_m=5000.0, sharing=sharing, progress=kill)
    assert kill.killed
    alone = ridge_area(outing, within_m=5000.0)
    for name in ("first_clear_minutes", "last_clear_minutes", "clear_minutes", "margin_deg"):
        np.testing.assert_array_equal(getattr(shared, name), getattr(alone, name))
    assert shared.trial == alone.trial
    # A second job on the workers that are left: they let go of what the first had opened.
    sites = read_candidates(SAMPLE / "lone_things.csv")
    over = seasons_of_sites(outing, sites, nights=4, sharing=replace(sharing, keep=None))
    assert repr(over) == repr(seasons_of_sites(outing, sites, nights=4))
