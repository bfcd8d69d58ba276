"""An area swept part by part is the one that is swept in one, to the last bit."""

from __future__ import annotations

import os
import pickle
import signal
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from backbearing.alignment.ridge import area_parts
from backbearing.alignment.ridge.area_parts import AreaJob, parts_of
from backbearing.alignment.ridge.clearance_map import ridge_area
from backbearing.base.errors import WriteRefusedError
from backbearing.cluster.shared_work import Sharing
from backbearing.outing.load import load_outing
from backbearing.plan.clearance import AreaCells

if TYPE_CHECKING:
    from backbearing.outing.request import Outing
    from backbearing.plan.clearance import RidgeArea

SAMPLE = Path(__file__).resolve().parents[3] / "sample_terrain" / "outing.toml"
WITHIN_M = 6000.0


@pytest.fixture(scope="module")
def outing() -> Outing:
    return load_outing(SAMPLE)


@pytest.fixture(scope="module")
def in_one(outing: Outing) -> RidgeArea:
    return ridge_area(outing, within_m=WITHIN_M)


@pytest.fixture(autouse=True)
def small_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(area_parts, "LEAST_SIDE", 40)


def same(one: RidgeArea, other: RidgeArea) -> None:
    for name in ("first_clear_minutes", "last_clear_minutes", "clear_minutes", "margin_deg"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    assert one.trial == other.trial
    assert one.bearings_deg == other.bearings_deg


@pytest.mark.parametrize("shape", [(344, 403), (2000, 90), (1, 1), (9000, 4100)])
def test_the_parts_hold_every_cell_once(shape: tuple[int, int]) -> None:
    cells: Any = AreaCells(7, 7 + shape[0], 3, 3 + shape[1], None, "")  # type: ignore[arg-type]
    times = np.zeros(shape, dtype=np.uint8)
    for part in parts_of(cells):
        times[part.window] += 1
        assert max(part.shape) <= area_parts.LARGEST_SIDE
        rows, cols = part.of_raster(cells)
        assert (rows.start - 7, cols.start - 3) == (part.row0, part.col0)
    assert (times == 1).all()


def test_one_process_and_one_minute(outing: Outing, in_one: RidgeArea) -> None:
    told: list[tuple[int, int]] = []
    shared = ridge_area(
        outing, within_m=WITHIN_M, sharing=Sharing(1), progress=lambda *n: told.append(n)
    )
    same(shared, in_one)
    assert told[0] == (0, in_one.margin_deg.size)
    assert told[-1] == (in_one.margin_deg.size,) * 2
    assert len(told) > 8
    minute = {"at": "23:40", "within_m": WITHIN_M}
    same(ridge_area(outing, sharing=Sharing(1), **minute), ridge_area(outing, **minute))


@pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux only")
def test_two_processes_one_of_them_killed_midway(
    outing: Outing, in_one: RidgeArea, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plain, mark, asker = AreaJob.work, tmp_path / "killed", os.getpid()

    def work(self: AreaJob, opened: Any, parcel: Any) -> Any:
        if parcel.row0 and parcel.col0 and os.getpid() != asker and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return plain(self, opened, parcel)

    monkeypatch.setattr(AreaJob, "work", work)
    same(ridge_area(outing, within_m=WITHIN_M, sharing=Sharing(2)), in_one)
    assert mark.exists()


def test_a_stopped_area_goes_on_and_another_question_is_refused(
    outing: Outing, in_one: RidgeArea, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sharing = Sharing(1, keep=tmp_path / "done")

    def stop(done: int, total: int) -> None:
        if done > total // 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        ridge_area(outing, within_m=WITHIN_M, sharing=sharing, progress=stop)
    finished = len(list((tmp_path / "done").glob("ridge-*.npz")))
    worked: list[Any] = []
    plain = AreaJob.work
    monkeypatch.setattr(
        AreaJob, "work", lambda self, opened, part: worked.append(part) or plain(self, opened, part)
    )
    same(ridge_area(outing, within_m=WITHIN_M, sharing=sharing), in_one)
    assert 2 <= finished == len(parts_of(in_one.cells)) - len(worked)
    later = replace(outing, night=replace(outing.night, clear_by_deg=2.0))
    with pytest.raises(WriteRefusedError, match=r"another question: the night and .*changed since"):
        ridge_area(later, within_m=WITHIN_M, sharing=sharing)
    with pytest.raises(WriteRefusedError, match="the area"):
        ridge_area(outing, within_m=3000.0, sharing=sharing)
    taller = replace(outing, framing=replace(outing.framing, eye_height_m=2.5))
    with pytest.raises(WriteRefusedError, match="the eye"):
        ridge_area(taller, within_m=WITHIN_M, sharing=sharing)


def test_what_parts_share_can_be_sent_and_opens_the_same_ground(
    outing: Outing, in_one: RidgeArea, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs: list[AreaJob] = []
    plain = AreaJob.of
    monkeypatch.setattr(AreaJob, "of", lambda *a: jobs.append(plain(*a)) or jobs[-1])
    ridge_area(outing, within_m=WITHIN_M, sharing=Sharing(1))
    sent = pickle.dumps(jobs[0])
    assert len(sent) < 200_000
    job = pickle.loads(sent)  # noqa: S301  # our own, made just now
    assert job.digest == jobs[0].digest
    part = parts_of(job.cells)[4]
    found = job.work(job.opened(), part)
    np.testing.assert_array_equal(found.margin, in_one.margin_deg[part.window])
    assert all(path.exists() for path in job.files())
