"""Run independent computations in a few processes, where the system can fork."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import warnings
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from itertools import count
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any, Final, TypeVar

from backbearing.base.errors import BackbearingError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

_K = TypeVar("_K")
_T = TypeVar("_T")

FEWER: Final = "run it again with fewer processes"


class LostProcessError(BackbearingError):
    """A process ended on its own; what the others gave before stands."""


def in_parallel(tasks: Sequence[Callable[[], _T]], *, processes: int = 1) -> list[_T]:
    """Give the tasks' results in order, computed by up to so many processes.

    See `as_finished` for where they run.

    Raises
    ------
    Exception
        Whatever a task raised.
    LostProcessError
        When a process ends on its own.
    """
    results = dict(as_finished(lambda task: task(), tasks, processes=processes))
    return [results[i] for i in range(len(tasks))]


def as_finished(
    work: Callable[[_K], _T],
    items: Sequence[_K],
    *,
    processes: int = 1,
    hint: str = FEWER,
    apart: bool = False,
) -> Iterator[tuple[int, _T]]:
    """Give each item's place and result as it is finished, begun in the order given.

    Forked children see what the parent has in memory, so neither ``work`` nor the items are
    sent to them; their results are sent back. They share the place in a file that the parent has
    open: what the work reads from one is read before, or the file is opened in the child. Where
    the system does not fork (anything but Linux), or with one process, the items are worked out
    one after another. A program with threads of its own should keep to one process. Whoever
    stops before the end, by Ctrl-C or by an error, ends the children with it.

    Parameters
    ----------
    work : callable
        From an item to its result.
    items : sequence
    processes : int
    hint : str
        What to do when a process ends on its own.
    apart : bool
        Fork also where one process does: for what may end it.

    Raises
    ------
    Exception
        Whatever ``work`` raised.
    LostProcessError
        When a process ends on its own.
    """
    share = min(processes, len(items))
    if (share < 2 and not (apart and items)) or sys.platform != "linux":
        yield from ((i, work(item)) for i, item in enumerate(items))
        return
    number = next(_numbers)
    _inherited[number] = lambda i: work(items[i])
    try:
        yield from _forked(number, len(items), max(share, 1))
    except BrokenProcessPool as gone:
        raise LostProcessError(
            "A process ended on its own, perhaps for want of memory", hint=hint
        ) from gone
    finally:
        del _inherited[number]


_inherited: Final[dict[int, Callable[[int], Any]]] = {}
"""Work that children find in the memory they were forked with; nothing of it is sent."""

_numbers = count()


def _forked(number: int, items: int, share: int) -> Iterator[tuple[int, Any]]:
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(
        share, mp_context=multiprocessing.get_context("fork"), initializer=_begin
    )
    try:
        with warnings.catch_warnings():
            # Python 3.12 warns of any fork beside threads; ours have all come home.
            warnings.simplefilter("ignore", DeprecationWarning)
            places = {pool.submit(_one, number, i): i for i in range(items)}
        for done in as_completed(places):
            yield places.pop(done), done.result()
    except BaseException:
        for child in set(multiprocessing.active_children()) - others:
            child.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _one(number: int, i: int) -> Any:
    return _inherited[number](i)


def _begin() -> None:
    """Leave a stop to the parent, and go when it is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_leave_with, args=(parent.sentinel,), daemon=True).start()


def _leave_with(sentinel: int) -> None:
    wait([sentinel])
    os._exit(1)
