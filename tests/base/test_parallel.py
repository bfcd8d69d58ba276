"""Sharing work among processes changes neither results nor errors, and leaves none behind."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from functools import partial

import pytest

from backbearing.base.errors import BackbearingError, TerrainError
from backbearing.base.parallel import as_finished, in_parallel

forks = pytest.mark.skipif(sys.platform != "linux", reason="only Linux forks here")


def square(i: int) -> tuple[int, int]:
    return i * i, os.getpid()


def fail() -> int:
    raise TerrainError("no ground here", lat=1.0)


@pytest.mark.parametrize("processes", [1, 2, 5])
def test_results_come_in_order(processes: int) -> None:
    found = in_parallel([partial(square, i) for i in range(5)], processes=processes)
    assert [value for value, _ in found] == [0, 1, 4, 9, 16]
    assert len({pid for _, pid in found}) <= processes


@forks
def test_children_do_the_work_and_find_what_the_parent_has() -> None:
    held = [10, 20, 30, 40]
    found = dict(as_finished(lambda i: (held[i], os.getpid()), [3, 1, 2], processes=2))
    assert [found[i][0] for i in range(3)] == [40, 20, 30]
    assert os.getpid() not in {pid for _, pid in found.values()}


def test_an_error_comes_home_with_its_facts() -> None:
    with pytest.raises(TerrainError, match="no ground") as caught:
        in_parallel([partial(square, 1), fail], processes=2)  # type: ignore[list-item]
    assert caught.value.facts == {"lat": 1.0}
    assert not multiprocessing.active_children()


@forks
def test_a_lost_process_is_told_in_a_sentence() -> None:
    with pytest.raises(BackbearingError, match=r"ended on its own, .*; take a nap\.$"):
        list(as_finished(os._exit, [9, 9, 9], processes=2, hint="take a nap"))
    assert not multiprocessing.active_children()


@forks
@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError])
def test_whoever_stops_midway_ends_the_children_at_once(stop: type[BaseException]) -> None:
    began = time.monotonic()
    with pytest.raises(stop):  # noqa: PT012  # the loop is what is stopped
        for _ in as_finished(time.sleep, [0.0, 60.0, 60.0, 60.0], processes=2):
            raise stop
    assert time.monotonic() - began < 20.0
    assert not multiprocessing.active_children()


@forks
def test_a_stop_from_the_keyboard_is_the_parents_to_heed() -> None:
    def told(_: int) -> str:
        os.kill(os.getpid(), signal.SIGINT)
        return "went on"

    assert dict(as_finished(told, [0, 1], processes=2)) == {0: "went on", 1: "went on"}


@forks
def test_children_go_when_their_parent_is_killed() -> None:
    program = (
        "import os, time\n"
        "from backbearing.base.parallel import as_finished\n"
        "def work(seconds):\n"
        "    os.write(1, b'%d\\n' % os.getpid())\n"
        "    time.sleep(seconds)\n"
        "list(as_finished(work, [60, 60], processes=2))\n"
    )
    with subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE) as parent:
        assert parent.stdout is not None
        try:
            children = [int(parent.stdout.readline()) for _ in range(2)]
        finally:
            parent.kill()
    deadline = time.monotonic() + 20.0
    while any(alive(child) for child in children) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert not any(alive(child) for child in children)


def alive(pid: int) -> bool:
    try:
        with open(f"/proc/{pid}/stat", encoding="ascii") as stat:  # noqa: PTH123
            return stat.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False
