"""Share a job out: in this process, in a few of them, or over machines; kept as it comes home."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, TypeVar

from backbearing.base.parallel import LostProcessError, as_finished
from backbearing.cluster.dask_cluster import LOSSES, Cluster
from backbearing.cluster.kept import Kept, KeptFormat
from backbearing.cluster.opened import opened_once
from backbearing.cluster.question import check_question

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from backbearing.cluster.kept import Progress

P = TypeVar("P")
A = TypeVar("A")
P_contra = TypeVar("P_contra", contravariant=True)


@dataclass(frozen=True, slots=True)
class Sharing:
    """How a job is shared out.

    Attributes
    ----------
    processes : int
        Of this machine, where the system forks (Linux), else one; or of a local cluster.
    scheduler : str or None
        Address of a Dask cluster, or ``"local"`` for one of its own; None for neither.
    keep : Path or None
        Folder of finished parcels: the same job goes on from there.
    """

    processes: int = 1
    scheduler: str | None = None
    keep: Path | None = None


class Job(Protocol[P_contra, A]):
    """What all parcels share: sent to workers of other machines, so small and picklable.

    Answers must not depend on which parcels are worked out with them, nor where.
    """

    @property
    def what(self) -> str:
        """What parcels hold, such as ``cells``."""

    @property
    def digest(self) -> str:
        """Of all that the answers hang on."""

    @property
    def question(self) -> Mapping[str, str]:
        """The same in parts, each with a digest of its own, by what a person calls it."""

    @property
    def form(self) -> KeptFormat[A]:
        """How an answer is kept."""

    def files(self) -> tuple[Path, ...]:
        """Files and folders that a worker reads."""

    def opened(self) -> Any:
        """Open what parcels are worked out with, once for a process."""

    def work(self, opened: Any, parcel: P_contra) -> A:
        """Work out one parcel."""


def shared_out(
    job: Job[P, A],
    parcels: Sequence[P],
    sizes: Sequence[int],
    sharing: Sharing,
    *,
    opened: Any = None,
    progress: Progress | None = None,
) -> Iterator[tuple[int, A]]:
    """Give each parcel's number and answer as it comes home, finished ones of a folder first.

    No answer is held here once it is given on. A process or a worker that ends gives its
    parcels back, and others do them again.

    Parameters
    ----------
    job : Job
    parcels : sequence
        However the work is shared they must be cut alike: a kept part belongs to its cut.
    sizes : sequence of int
        How many things are in each parcel.
    sharing : Sharing
    opened : optional
        What ``job.opened`` would give, where it is open in this process already.
    progress : callable, optional
        Told how many things are done, and of how many.

    Raises
    ------
    WriteRefusedError
        When the folder cannot be used, or holds parts of another question.
    BackbearingError
        When workers cannot be had, or end over the same parcel again and again.
    """
    kept = Kept.of(sharing.keep, job.digest, sizes, job.form)
    if sharing.keep is not None:
        check_question(sharing.keep, job.form.prefix, job.question)

    def work(left: list[int]) -> Iterator[tuple[int, A]]:
        if left and sharing.scheduler is not None:
            return _far(job, parcels, left, sharing)
        return _here(job, parcels, left, sharing.processes, opened)

    return kept.arriving(work, progress)


def _here(
    job: Job[P, A], parcels: Sequence[P], left: list[int], processes: int, opened: Any
) -> Iterator[tuple[int, A]]:
    """In this process and its children; those see what is opened here."""
    if left and opened is None:
        opened = job.opened()
    lost = 0
    while left:
        order = list(left)
        answers = as_finished(
            lambda number: job.work(opened, parcels[number]),
            order,
            processes=processes,
            # What ends a child would end this process.
            apart=processes > 1,
        )
        try:
            for place, answer in answers:
                left.remove(order[place])
                lost = 0
                yield order[place], answer
        except LostProcessError:
            lost += 1
            if lost >= LOSSES:
                raise


def _far(
    job: Job[P, A], parcels: Sequence[P], left: list[int], sharing: Sharing
) -> Iterator[tuple[int, A]]:
    """On the workers of a cluster."""
    address = None if sharing.scheduler == "local" else sharing.scheduler
    with Cluster(address, sharing.processes) as cluster:
        cluster.check(job.files())
        waiting = ((number, parcels[number]) for number in left)
        yield from cluster.worked(_work_parcel, job, waiting, what=job.what)


def _work_parcel(job: Job[P, A], numbered: tuple[int, P]) -> tuple[int, A]:
    """On a worker: open what the job reads, once, and work out one parcel."""
    number, parcel = numbered
    return number, job.work(opened_once(job.digest, job.opened), parcel)
