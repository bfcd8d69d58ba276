"""Long work beside the desk: one answer for all who ask, none for nobody, and no orphans."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from backbearing.base.errors import BackbearingError
from backbearing.desk.work import GoneError, Work, Worker

if TYPE_CHECKING:
    from collections.abc import Coroutine, Iterator


def squared(value: int, tell: Any) -> int:
    tell("half way")
    return value * value


def refused(tell: Any) -> None:
    raise BackbearingError("There is no ground", hint="bring some")


def own_pid(tell: Any) -> int:
    return os.getpid()


def counted(file: Path, tell: Any) -> str:
    with file.open("a") as out:
        out.write("x")
    time.sleep(0.3)
    return file.read_text()


def for_ever(file: Path, tell: Any) -> None:
    file.write_text(str(os.getpid()))
    while True:
        time.sleep(0.05)


def ended(tell: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def alive(pid: int) -> bool:
    """Whether a process is there and no zombie."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


def until(true: Any, within_s: float = 20.0) -> None:
    end = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def worker() -> Iterator[Worker]:
    made = Worker()
    yield made
    made.end()


async def never() -> bool:
    return False


def test_a_worker_answers_tells_and_refuses(worker: Worker) -> None:
    told: list[Any] = []
    assert worker.do(squared, 12, tell=told.append) == 144
    assert told == ["half way"]
    with pytest.raises(BackbearingError, match=r"^There is no ground; bring some\.$"):
        worker.do(refused)
    assert worker.do(own_pid) == worker.pid != os.getpid()


def test_who_waits_for_an_ended_worker_is_told(worker: Worker, tmp_path: Path) -> None:
    file = tmp_path / "pid"
    other = threading.Thread(target=lambda: (until(file.exists), worker.end()))
    other.start()
    with pytest.raises(GoneError):
        worker.do(for_ever, file)
    other.join()
    until(lambda: not alive(worker.pid))


def run(work: Coroutine[Any, Any, Any]) -> Any:
    """Run it in a thread of its own: a browser's driver keeps a loop in this one."""
    with ThreadPoolExecutor(1) as beside:
        return beside.submit(asyncio.run, work).result()


def test_one_answer_for_all_who_ask_it_at_once_and_later(tmp_path: Path) -> None:
    file = tmp_path / "count"

    async def asked() -> list[str]:
        work = Work(2)
        try:
            at_once = await asyncio.gather(
                *(work.answer("count", counted, file, gone=never) for _ in range(3))
            )
            return [*at_once, await work.answer("count", counted, file, gone=never)]
        finally:
            work.close()

    assert run(asked()) == ["x"] * 4


def test_work_that_nobody_waits_for_is_ended_and_the_next_is_done(tmp_path: Path) -> None:
    file = tmp_path / "pid"

    async def gone() -> bool:
        return file.exists() and bool(file.read_text())

    async def asked() -> tuple[bool, int]:
        work = Work(1)
        try:
            with pytest.raises(GoneError):
                await work.answer("long", for_ever, file, gone=gone)
            pid = int(file.read_text())
            nine = await work.answer("short", squared, 3, gone=never)
            return alive(pid), nine
        finally:
            work.close()

    assert run(asked()) == (False, 9)


def test_one_who_leaves_does_not_end_it_for_the_other(tmp_path: Path) -> None:
    file = tmp_path / "count"

    async def leaves() -> bool:
        return True

    async def asked() -> list[Any]:
        work = Work(1)
        try:
            return await asyncio.gather(
                work.answer("count", counted, file, gone=leaves),
                work.answer("count", counted, file, gone=never),
                return_exceptions=True,
            )
        finally:
            work.close()

    first, second = run(asked())
    assert isinstance(first, GoneError)
    assert second == "x"


def test_a_process_that_ends_by_itself_is_told_and_replaced() -> None:
    async def asked() -> int:
        work = Work(1)
        try:
            with pytest.raises(BackbearingError, match="ended on its own"):
                await work.answer("ended", ended, gone=never)
            return await work.answer("short", squared, 4, gone=never)
        finally:
            work.close()

    assert run(asked()) == 16


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="reads /proc")
def test_killed_with_no_chance_to_say_so_the_desk_leaves_no_process(tmp_path: Path) -> None:
    """The children of a killed desk end by themselves, at work or idle."""
    script = """
import sys, time
from pathlib import Path
sys.path.insert(0, {here!r})
from test_work import for_ever, own_pid
from backbearing.desk.work import Worker
import threading
if __name__ == "__main__":
    busy, idle = Worker(), Worker()
    print(idle.do(own_pid), busy.pid, flush=True)
    busy.do(for_ever, Path({file!r}))
"""
    here = str(Path(__file__).resolve().parent)
    file = tmp_path / "pid"
    program = tmp_path / "program.py"
    program.write_text(script.format(here=here, file=str(file)))
    with subprocess.Popen([sys.executable, str(program)], stdout=subprocess.PIPE, text=True) as one:
        assert one.stdout is not None
        pids = [int(pid) for pid in one.stdout.readline().split()]
        until(file.exists)
        assert all(alive(pid) for pid in pids)
        one.kill()
    until(lambda: not any(alive(pid) for pid in pids))
