"""Finished parcels in a folder, so that a stopped run goes on where it was."""

from __future__ import annotations

import hashlib
import signal
import threading
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from backbearing.base.errors import WriteRefusedError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    Progress = Callable[[int, int], None]
    """Told how many things are done, and of how many."""

A = TypeVar("A")


@dataclass(frozen=True)
class KeptFormat(Generic[A]):
    """How an answer is kept in a file.

    Attributes
    ----------
    prefix : str
        What its files' names begin with, such as ``scouted``.
    save : callable
        From an answer and a path; writes at once or leaves what is there.
    load : callable
        From a path and the size of the parcel to the answer; None where the file is not whole.
    suffix : str
        What the names end in.
    """

    prefix: str
    save: Callable[[A, Path], None]
    load: Callable[[Path, int], A | None]
    suffix: str = ".npz"


@dataclass(frozen=True)
class Kept(Generic[A]):
    """Where the answers of one job's parcels are kept; nowhere when there is no folder.

    Attributes
    ----------
    folder : Path or None
    digest : str
        Of the job, its inputs, and how they are cut into parcels.
    sizes : tuple of int
        How many things are in each parcel.
    form : KeptFormat
    """

    folder: Path | None
    digest: str
    sizes: tuple[int, ...]
    form: KeptFormat[A]

    @classmethod
    def of(
        cls, folder: Path | None, digest: str, sizes: Sequence[int], form: KeptFormat[A]
    ) -> Kept[A]:
        """Make the folder where it is missing; ``digest`` is of the job and its inputs.

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
        cut = hashlib.sha256(f"{digest} {list(sizes)!r}".encode()).hexdigest()[:16]
        return cls(None if folder is None else Path(folder), cut, tuple(sizes), form)

    def path(self, number: int) -> Path:
        """Where a parcel's answer is kept; only asked where there is a folder."""
        assert self.folder is not None  # noqa: S101  # asked only where there is one
        return self.folder / f"{self.form.prefix}-{self.digest}-{number:05d}{self.form.suffix}"

    def load(self, number: int) -> A | None:
        """Take up a parcel's finished answer; None where there is none that is whole."""
        if self.folder is None or not self.path(number).is_file():
            return None
        found = self.form.load(self.path(number), self.sizes[number])
        if found is None:
            warnings.warn(f"{self.path(number)} is damaged; that part is done again.", stacklevel=2)
        return found

    def save(self, number: int, answer: A) -> None:
        """Keep a finished answer."""
        if self.folder is not None:
            with no_stop():
                self.form.save(answer, self.path(number))

    def arriving(
        self,
        work: Callable[[list[int]], Iterable[tuple[int, A]]],
        progress: Progress | None = None,
    ) -> Iterator[tuple[int, A]]:
        """Give each parcel's number and answer, one at a time; none is held here.

        Finished ones are taken from the folder first; ``work`` is given the numbers of the
        others, and what it brings is kept before it is given on.
        """
        left, done, total = [], 0, sum(self.sizes)
        for number, size in enumerate(self.sizes):
            answer = self.load(number)
            if answer is None:
                left.append(number)
                continue
            done += size
            yield number, answer
        if progress is not None:
            progress(done, total)
        for number, answer in work(left):
            self.save(number, answer)
            done += self.sizes[number]
            if progress is not None:
                progress(done, total)
            yield number, answer

    def completed(
        self,
        work: Callable[[list[int]], Iterable[tuple[int, A]]],
        progress: Progress | None = None,
    ) -> list[A]:
        """Give the answers of all parcels, in order; see `arriving`."""
        answers = dict(self.arriving(work, progress))
        return [answers[number] for number in range(len(self.sizes))]


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
