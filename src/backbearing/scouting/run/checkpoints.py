"""Finished chunks in a folder, so that a stopped run goes on where it was."""

from __future__ import annotations

import hashlib
import signal
import threading
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from backbearing.base.errors import WriteRefusedError
from backbearing.scouting.ranking.columns import ChunkResult

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    Progress = Callable[[int, int], None]
    """Told how many candidates are done, and of how many."""


@dataclass(frozen=True)
class Kept:
    """Where the chunks of one task are kept; nowhere when there is no folder.

    Attributes
    ----------
    folder : Path or None
    digest : str
        Of the task, its inputs, and how they are cut into chunks.
    """

    folder: Path | None
    digest: str

    @classmethod
    def of(cls, folder: Path | None, task_digest: str, pieces: Sequence[NDArray[np.intp]]) -> Kept:
        """Make the folder where it is missing.

        Raises
        ------
        WriteRefusedError
            When it cannot be made, or is a file.
        """
        if folder is not None:
            try:
                Path(folder).mkdir(parents=True, exist_ok=True)
            except OSError as problem:
                raise WriteRefusedError(
                    f"{folder} cannot be made or used as a folder for finished chunks "
                    f"({problem.strerror or problem})",
                    hint="name another",
                    path=str(folder),
                ) from problem
        sizes = repr([len(piece) for piece in pieces])
        digest = hashlib.sha256(f"{task_digest} {sizes}".encode()).hexdigest()[:16]
        return cls(None if folder is None else Path(folder), digest)

    def _path(self, number: int) -> Path:
        assert self.folder is not None  # noqa: S101  # asked only where there is one
        return self.folder / f"scouted-{self.digest}-{number:05d}.npz"

    def load(self, number: int, count: int) -> ChunkResult | None:
        """Take up a finished chunk of so many rows; None where there is none that is whole."""
        if self.folder is None or not self._path(number).is_file():
            return None
        found = ChunkResult.load(self._path(number))
        if found is None or len(found) != count:
            warnings.warn(
                f"{self._path(number)} is damaged; that part is done again.", stacklevel=2
            )
            return None
        return found

    def completed(
        self,
        pieces: Sequence[NDArray[np.intp]],
        work: Callable[[list[int]], Iterable[tuple[int, ChunkResult]]],
        progress: Progress | None,
    ) -> list[ChunkResult]:
        """Give the results of all pieces, in order.

        Finished ones are taken from the folder; ``work`` is given the numbers of the others,
        and what it brings is kept as it comes.
        """
        found = {i: self.load(i, len(piece)) for i, piece in enumerate(pieces)}
        results = {i: result for i, result in found.items() if result is not None}
        left = [i for i in range(len(pieces)) if i not in results]
        done, total = sum(map(len, results.values())), sum(map(len, pieces))
        if progress is not None:
            progress(done, total)
        for number, result in work(left):
            self.save(number, result)
            results[number] = result
            done += len(result)
            if progress is not None:
                progress(done, total)
        return [results[i] for i in range(len(pieces))]

    def save(self, number: int, result: ChunkResult) -> None:
        """Keep a finished chunk."""
        if self.folder is not None:
            with no_stop():
                result.save(self._path(number))


@contextmanager
def no_stop() -> Iterator[None]:
    """Put a stop (Ctrl-C) off until what is within is done; only the main thread gets any."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[tuple[Any, ...]] = []
    usual = signal.signal(signal.SIGINT, lambda *told: came.append(told))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, usual)
    if came and callable(usual):
        usual(*came[0])
