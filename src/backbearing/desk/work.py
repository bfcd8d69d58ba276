"""Long work in processes of its own, so that the minute's answers never wait for it.

A process is started by spawning, not forking: the desk has threads. It is kept for the next
question, runs at a lower priority than the desk, and is ended where nobody waits for its answer
any more. It goes when the desk goes, however that ends: it watches the desk's own end of a pipe.
"""

from __future__ import annotations

import asyncio
import atexit
import contextlib
import multiprocessing
import os
import signal
import sys
import threading
import traceback
from collections import OrderedDict
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any, Final

from starlette.concurrency import run_in_threadpool

from backbearing.base.errors import BackbearingError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Iterator
    from multiprocessing.connection import Connection

    Tell = Callable[[Any], None]

ANSWERS_KEPT: Final = 8
LOOK_EVERY_S: Final = 0.1
"""How often it is asked whether somebody still waits."""

LESS_URGENT: Final = 5
"""Of a process's niceness: what the page asks by the minute goes first."""


class GoneError(Exception):
    """The process was ended before it had an answer."""


class Worker:
    """One process that does one thing after another."""

    def __init__(self) -> None:
        context = multiprocessing.get_context("spawn")
        self._lock = threading.Lock()
        self._link, theirs = context.Pipe()
        self._process = context.Process(target=_serve, args=(theirs,), name="desk work")
        with _stop_put_off():
            self._process.start()
        theirs.close()
        atexit.register(self.end)

    @property
    def pid(self) -> int:
        """The process's number."""
        assert self._process.pid is not None  # noqa: S101  # it was started
        return self._process.pid

    @property
    def alive(self) -> bool:
        """Whether it can be asked."""
        with self._lock:
            return self._process.is_alive()

    def do(self, function: Callable[..., Any], *args: Any, tell: Tell | None = None) -> Any:
        """Have a function's answer worked out, and wait for it.

        Parameters
        ----------
        function : callable
            At the top of a module; its last argument is a function that tells how far it is.
        *args
            What can be pickled.
        tell : callable, optional
            Given whatever the function tells on its way.

        Raises
        ------
        GoneError
            When the process is ended meanwhile.
        BackbearingError
            As the function's own, its sentence alone; or when the process ends by itself.
        """
        try:
            self._link.send((function, args))
            while True:
                kind, answer = self._link.recv()
                if kind == "done":
                    return answer
                if kind == "refused":
                    raise BackbearingError(answer)
                if kind == "broken":
                    raise RuntimeError("work in a process failed")
                if tell is not None:
                    tell(answer)
        except (EOFError, OSError) as problem:
            raise GoneError from problem

    def end(self) -> None:
        """End the process at once; whoever waits for it is told."""
        atexit.unregister(self.end)
        # One at a time: a process is waited for once.
        with self._lock:
            self._process.kill()
            self._process.join()
            with contextlib.suppress(OSError):
                self._link.close()


def _serve(link: Connection) -> None:
    """Be a worker until the desk closes its end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    assert parent is not None  # noqa: S101  # it was spawned
    threading.Thread(target=_leave_with, args=(parent.sentinel,), daemon=True).start()
    if hasattr(os, "nice"):
        os.nice(LESS_URGENT)
    while True:
        try:
            function, args = link.recv()
        except (EOFError, OSError):
            return
        answer: tuple[str, Any]
        try:
            answer = ("done", function(*args, lambda told: link.send(("told", told))))
        except BackbearingError as problem:
            answer = ("refused", str(problem))
        except Exception:  # whatever fails is told on the terminal, as the desk does
            print(traceback.format_exc(), file=sys.stderr)
            answer = ("broken", None)
        link.send(answer)


def _leave_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)


@contextlib.contextmanager
def _stop_put_off() -> Iterator[None]:
    """Have a child begin deaf to Ctrl-C, which is the desk's to answer."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@dataclass(eq=False)
class _Task:
    """Work under way, how many wait for it, and the process that does it."""

    waiting: int = 0
    worker: Worker | None = None
    running: asyncio.Task[Any] | None = None
    dropped: bool = False

    def drop(self) -> None:
        """End it: nobody waits."""
        self.dropped = True
        if self.worker is not None:
            self.worker.end()


class Work:
    """A few processes, kept warm, and what they are asked.

    Parameters
    ----------
    processes : int
        At most so many at once; further questions wait for one.
    """

    def __init__(self, processes: int = 2) -> None:
        self._most = processes
        self._count = 0
        self._idle: list[Worker] = []
        self._tasks: dict[str, _Task] = {}
        self._kept: OrderedDict[str, Any] = OrderedDict()
        self._change = threading.Condition()
        self._closed = False

    async def answer(
        self,
        key: str,
        function: Callable[..., Any],
        *args: Any,
        gone: Callable[[], Awaitable[bool]],
    ) -> Any:
        """Work something out, once for all that ask it at the same time, and keep it a while.

        Parameters
        ----------
        key : str
            What is asked: two questions with one key have one answer.
        function : callable
            As for `Worker.do`, with its arguments.
        gone : callable
            Whether the asker no longer waits. When the last one does not, the work is ended.

        Raises
        ------
        GoneError
            When nobody waits for it any more, or the desk closes.
        BackbearingError
            As the function's own.
        """
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        task = self._tasks.get(key)
        if task is None:
            task = self._tasks[key] = _Task()
            task.running = asyncio.ensure_future(self._worked_out(task, key, function, args))
            task.running.add_done_callback(lambda done: done.cancelled() or done.exception())
        running = task.running
        assert running is not None  # noqa: S101  # begun with the task
        task.waiting += 1
        try:
            while not running.done():
                await asyncio.wait({running}, timeout=LOOK_EVERY_S)
                if not running.done() and await gone():
                    raise GoneError
            return running.result()
        finally:
            task.waiting -= 1
            if task.waiting == 0:
                if self._tasks.get(key) is task:
                    del self._tasks[key]
                if not running.done():
                    task.drop()

    async def _worked_out(
        self, task: _Task, key: str, function: Callable[..., Any], args: tuple[Any, ...]
    ) -> Any:
        found = await run_in_threadpool(self._done, task, function, args)
        self._kept[key] = found
        if len(self._kept) > ANSWERS_KEPT:
            self._kept.popitem(last=False)
        return found

    def _done(self, task: _Task, function: Callable[..., Any], args: tuple[Any, ...]) -> Any:
        """Have a worker do a task, and put the worker back when it can be asked again."""
        worker = task.worker = self._taken(task)
        try:
            if task.dropped:
                worker.end()
            return worker.do(function, *args)
        except GoneError:
            worker.end()
            if task.dropped or self._closed:
                raise
            raise BackbearingError(
                "A process ended on its own, perhaps for want of memory", hint="ask again"
            ) from None
        finally:
            task.worker = None
            self._put_back(worker)

    def make_ready(self, function: Callable[..., Any], *args: Any) -> None:
        """Start a process before it is needed, and have it do what every question begins with."""
        with contextlib.suppress(GoneError, BackbearingError, RuntimeError):
            self._done(_Task(), function, args)

    def _taken(self, task: _Task) -> Worker:
        """Take an idle process or a new one; wait while all are at work."""
        with self._change:
            while True:
                if self._closed or task.dropped:
                    raise GoneError
                if self._idle:
                    worker = self._idle.pop()
                    if worker.alive:
                        return worker
                    worker.end()
                    self._count -= 1
                elif self._count < self._most:
                    self._count += 1
                    return Worker()
                else:
                    self._change.wait(LOOK_EVERY_S)

    def _put_back(self, worker: Worker) -> None:
        with self._change:
            if worker.alive and not self._closed:
                self._idle.append(worker)
            else:
                worker.end()
                self._count -= 1
            self._change.notify()

    def close(self) -> None:
        """End every process."""
        with self._change:
            self._closed = True
            idle, self._idle = self._idle, []
        for worker in idle:
            worker.end()
        for task in tuple(self._tasks.values()):
            task.drop()
