"""A child process with limits, in which hostile files are read: memory and time end there."""

from __future__ import annotations

import multiprocessing as mp
import resource
import time
import traceback
import warnings
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

MOST_BYTES = 4_000_000_000
MOST_SECONDS = 10.0


@dataclass(frozen=True)
class Outcome:
    """What became of one reading: ``error`` is the class's name, empty where it was read."""

    error: str
    sentence: str
    seconds: float
    grown_bytes: int
    trace: str = ""


class Limited:
    """Runs a named reader on a path in a child process, and starts another when it died."""

    def __init__(self) -> None:
        self._context = mp.get_context("spawn")
        self._start()

    def _start(self) -> None:
        self._pipe, theirs = self._context.Pipe()
        self._child = self._context.Process(target=_serve, args=(theirs,), daemon=True)
        self._child.start()
        theirs.close()
        assert self._pipe.recv() == "ready"

    def read(self, reader: str, path: Path) -> Outcome:
        """Call ``module:function`` with the path.

        Raises
        ------
        AssertionError
            When it takes over ten seconds or the child dies.
        """
        self._pipe.send((reader, path))
        if not self._pipe.poll(3.0 * MOST_SECONDS):
            self.stop()
            self._start()
            raise AssertionError(f"{reader} hangs on {path.name}")
        try:
            found: Outcome = self._pipe.recv()
        except EOFError:
            self.stop()
            self._start()
            raise AssertionError(f"{reader} killed its process on {path.name}") from None
        return found

    def stop(self) -> None:
        """End the child."""
        self._child.kill()
        self._child.join()
        self._pipe.close()


def _serve(pipe: Any) -> None:
    from backbearing.base.errors import BackbearingError

    warnings.simplefilter("ignore")
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    pipe.send("ready")
    while True:
        reader, path = pipe.recv()
        module, name = reader.split(":")
        before, began = _peak_bytes(), time.monotonic()
        error = sentence = trace = ""
        try:
            getattr(import_module(module), name)(path)
        except BackbearingError as problem:
            error, sentence = type(problem).__name__, str(problem)
        except BaseException as problem:  # whatever it is, the test names it
            error, sentence, trace = type(problem).__name__, "", traceback.format_exc()[-2000:]
        spent = time.monotonic() - began
        pipe.send(Outcome(error, sentence, spent, _peak_bytes() - before, trace))


def _peak_bytes() -> int:
    # What getrusage tells may begin with the parent's memory, where there is no better.
    status = Path("/proc/self/status")
    if not status.exists():
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    held = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
    return int(held.split()[1]) * 1024
