"""A few processes that share the chunks of one task."""

from __future__ import annotations

import multiprocessing
import signal
import sys
import warnings
from dataclasses import dataclass
from multiprocessing.connection import wait
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import BackbearingError
from backbearing.scouting.ranking.chunk import rank_chunk

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import geopandas
    import numpy as np
    from numpy.typing import NDArray

    from backbearing.scouting.ranking.columns import ChunkResult
    from backbearing.scouting.ranking.context import Context
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.run.checkpoints import Kept, Progress


@dataclass(frozen=True)
class Crew:
    """Chunks to be worked out, and in how many processes.

    Forked children see what the parent has in memory: the raster, once read, is shared.
    """

    task: ScoutTask
    frame: geopandas.GeoDataFrame
    context: Context
    pieces: Sequence[NDArray[np.intp]]
    processes: int

    def work(self, kept: Kept, progress: Progress | None) -> list[ChunkResult]:
        """Give the results of all chunks, in order; finished ones are taken from the folder.

        Raises
        ------
        BackbearingError
            When a process ends on its own.
        """
        return kept.completed(self.pieces, self._worked, progress)

    def _one(self, number: int) -> ChunkResult:
        return rank_chunk(self.task, self.frame.iloc[self.pieces[number]], self.context)

    def _worked(self, left: list[int]) -> Iterator[tuple[int, ChunkResult]]:
        count = min(self.processes, len(left))
        if count < 2 or sys.platform != "linux":
            for number in left:
                yield number, self._one(number)
            return
        self.context.warm()
        helpers = [self._helper() for _ in range(count)]
        try:
            yield from _handed_out(left, helpers)
        finally:
            for pipe, helper in helpers:
                pipe.close()
                if helper.is_alive():
                    helper.terminate()
                helper.join()

    def _helper(self) -> tuple[Any, Any]:
        context = multiprocessing.get_context("fork")
        ours, theirs = context.Pipe()
        helper = context.Process(target=self._serve, args=(theirs, ours), daemon=True)
        with warnings.catch_warnings():
            # Python 3.12 warns of any fork beside threads; ours have all come home.
            warnings.simplefilter("ignore", DeprecationWarning)
            helper.start()
        theirs.close()
        return ours, helper

    def _serve(self, pipe: Any, parents_end: Any) -> None:
        """Work out chunks by number until the pipe closes; a stop is the parent's to heed."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        parents_end.close()
        while True:
            try:
                number = pipe.recv()
            except EOFError:
                return
            try:
                pipe.send((number, self._one(number), None))
            except Exception as problem:  # sent home and raised there
                pipe.send((number, None, problem))


def _handed_out(
    left: list[int], helpers: list[tuple[Any, Any]]
) -> Iterator[tuple[int, ChunkResult]]:
    """Hand each helper a chunk, and the next when it brings one back."""
    waiting = list(reversed(left))
    busy = 0
    try:
        for pipe, _ in helpers:
            pipe.send(waiting.pop())
            busy += 1
        while busy:
            ready: list[Any] = wait([pipe for pipe, _ in helpers])
            for pipe in ready:
                number, result, problem = pipe.recv()
                busy -= 1
                if problem is not None:
                    raise problem
                if waiting:
                    pipe.send(waiting.pop())
                    busy += 1
                yield number, result
    except (EOFError, ConnectionError) as gone:
        raise BackbearingError(
            "A process that was scouting ended on its own, perhaps for want of memory; run it "
            "again with fewer processes or smaller chunks."
        ) from gone
