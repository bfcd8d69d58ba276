"""Run a few independent computations in as many processes, where the system can fork."""

from __future__ import annotations

import multiprocessing
import sys
import warnings
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

_T = TypeVar("_T")


def together(tasks: Sequence[Callable[[], _T]], *, processes: int = 1) -> list[_T]:
    """Give the tasks' results in order, computed by up to so many processes.

    Forked children see what the parent has in memory, so nothing is sent to them; their
    results are sent back. Where the system does not fork (anything but Linux), or with one
    process, the tasks run one after another. A program with threads of its own should keep
    to one process.

    Raises
    ------
    Exception
        Whatever a task raised.
    """
    share = min(processes, len(tasks))
    if share < 2 or sys.platform != "linux":
        return [task() for task in tasks]
    context = multiprocessing.get_context("fork")
    helpers = []
    for first in range(1, share):
        receiver, sender = context.Pipe(duplex=False)
        helper = context.Process(target=_work, args=(sender, tasks[first::share]))
        with warnings.catch_warnings():
            # Python 3.12 warns of any fork beside threads; ours have all come home.
            warnings.simplefilter("ignore", DeprecationWarning)
            helper.start()
        sender.close()
        helpers.append((first, receiver, helper))
    results: dict[int, _T] = {i: tasks[i]() for i in range(0, len(tasks), share)}
    for first, receiver, helper in helpers:
        good, found = receiver.recv()
        helper.join()
        if not good:
            raise found
        results |= dict(zip(range(first, len(tasks), share), found, strict=True))
    return [results[i] for i in range(len(tasks))]


def _work(sender: Any, tasks: Sequence[Callable[[], Any]]) -> None:
    try:
        sender.send((True, [task() for task in tasks]))
    except Exception as problem:  # sent home and raised there
        sender.send((False, problem))
