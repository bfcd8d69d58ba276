"""A job's answers, however it is shared, stopped, kept or robbed of a process."""

from __future__ import annotations

import os
import signal
import sys
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import pytest

from backbearing.base.errors import BackbearingError, WriteRefusedError
from backbearing.cluster.kept import KeptFormat
from backbearing.cluster.question import digest_of, stamps_of
from backbearing.cluster.shared_work import Sharing, shared_out

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

forks = pytest.mark.skipif(sys.platform != "linux", reason="processes are forked on Linux only")


def save(answer: list[int], path: Path) -> None:
    path.write_text(",".join(map(str, answer)), encoding="utf-8")


def load(path: Path, size: int) -> list[int] | None:
    try:
        found = [int(word) for word in path.read_text(encoding="utf-8").split(",")]
    except ValueError:
        return None
    return found if len(found) == size else None


@dataclass(frozen=True)
class Squares:
    """Squares of a few numbers at a time."""

    power: int = 2
    before: Callable[[list[int]], None] | None = None
    opens: list[str] = field(default_factory=list)
    what = "numbers"
    form = KeptFormat("squares", save, load, ".txt")

    @property
    def question(self) -> dict[str, str]:
        return {"the power": digest_of(self.power), "the rest": "always the same"}

    @property
    def digest(self) -> str:
        return digest_of(self.question)

    def files(self) -> tuple[Path, ...]:
        return ()

    def opened(self) -> int:
        self.opens.append("once")
        return self.power

    def work(self, opened: int, parcel: list[int]) -> list[int]:
        if self.before is not None:
            self.before(parcel)
        return [number**opened for number in parcel]


PARCELS = [[1, 2], [3, 4, 5], [6], [7, 8], [9, 10]]
SIZES = [len(one) for one in PARCELS]
WANTED = [[1, 4], [9, 16, 25], [36], [49, 64], [81, 100]]


def answered(job: Squares, sharing: Sharing, **options) -> list[list[int]]:
    found = dict(shared_out(job, PARCELS, SIZES, sharing, **options))
    return [found[i] for i in range(len(PARCELS))]


@pytest.mark.parametrize("processes", [1, 2])
def test_the_answers_are_those_of_one_process(processes: int) -> None:
    job = Squares()
    assert answered(job, Sharing(processes)) == WANTED
    assert job.opens == ["once"]
    assert answered(Squares(3), Sharing(processes), opened=2) == WANTED  # open already


@forks
def test_a_process_that_is_killed_gives_its_parcels_back(tmp_path: Path) -> None:
    mark = tmp_path / "killed"

    def kill_once(parcel: list[int]) -> None:
        if parcel == [6] and not mark.exists():
            mark.touch()
            os.kill(os.getpid(), signal.SIGKILL)

    assert answered(Squares(before=kill_once), Sharing(2)) == WANTED
    assert mark.exists()


@forks
def test_a_parcel_that_ends_each_process_is_told_in_a_sentence() -> None:
    def kill(parcel: list[int]) -> None:
        if parcel == [6]:
            os._exit(9)

    with pytest.raises(BackbearingError, match="ended on its own"):
        answered(Squares(before=kill), Sharing(2))


def test_a_stopped_run_goes_on_where_it_was(tmp_path: Path) -> None:
    def stop(done: int, total: int) -> None:
        if done >= 5:
            raise KeyboardInterrupt

    sharing, told, worked = Sharing(1, keep=tmp_path / "kept"), [], []
    with pytest.raises(KeyboardInterrupt):
        answered(Squares(), sharing, progress=stop)
    job = Squares(before=worked.append)
    found = answered(job, sharing, progress=lambda *numbers: told.append(numbers))
    assert found == WANTED
    assert worked == PARCELS[2:]
    assert told == [(5, 10), (6, 10), (8, 10), (10, 10)]
    # All is there: nothing is opened, no cluster is asked.
    idle = Squares()
    assert answered(idle, Sharing(1, "tcp://127.0.0.1:9", tmp_path / "kept")) == WANTED
    assert idle.opens == []


def test_a_damaged_part_is_done_again(tmp_path: Path) -> None:
    answered(Squares(), Sharing(keep=tmp_path))
    next(tmp_path.glob("squares-*-00001.txt")).write_text("9,16", encoding="utf-8")
    worked: list[list[int]] = []
    with pytest.warns(UserWarning, match="done again"):
        assert answered(Squares(before=worked.append), Sharing(keep=tmp_path)) == WANTED
    assert worked == [PARCELS[1]]


def test_parts_of_another_question_are_refused_with_what_changed(tmp_path: Path) -> None:
    answered(Squares(), Sharing(keep=tmp_path))
    with pytest.raises(WriteRefusedError, match="another question: the power changed since"):
        answered(Squares(3), Sharing(keep=tmp_path))
    assert answered(Squares(), Sharing(keep=tmp_path)) == WANTED
    (tmp_path / "question.json").write_text("{}", encoding="utf-8")
    with pytest.raises(WriteRefusedError, match="another job"):
        answered(Squares(), Sharing(keep=tmp_path))


def test_answers_are_given_on_one_by_one(tmp_path: Path) -> None:
    worked: list[list[int]] = []
    job = Squares(before=worked.append)
    found = shared_out(job, PARCELS, SIZES, Sharing(keep=tmp_path))
    assert next(found) == (0, [1, 4])
    assert worked == [[1, 2]]  # no parcel is worked out before its answer is asked for


def test_stamps_change_with_a_file(tmp_path: Path) -> None:
    file = tmp_path / "a.txt"
    missing = stamps_of([file, tmp_path])
    file.write_text("one", encoding="utf-8")
    there = stamps_of([file, tmp_path])
    os.utime(file, ns=(5, 5))
    assert missing != there != stamps_of([file, tmp_path])
    assert digest_of(1, "a") == digest_of(1, "a") != digest_of("1", "a")
