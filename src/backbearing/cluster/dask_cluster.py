"""Parcels on more than one machine, through Dask.

A worker that is lost gives its parcels back and another does them again; every worker is asked
for its version and for the files before anything is sent.
"""

from __future__ import annotations

import logging
from concurrent.futures import CancelledError
from contextlib import suppress
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

from backbearing.base.errors import BackbearingError
from backbearing.base.version import __version__

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

P = TypeVar("P")
S = TypeVar("S")
A = TypeVar("A")

PARCELS_AHEAD: Final = 3
"""Parcels sent out for each worker before one comes back; more would only fill memory."""

LOSSES: Final = 5
"""How many workers a parcel may lose before the run stops: one that breaks them is at fault."""

CONNECT_S: Final = 20.0


class Cluster:
    """A Dask client, on an existing cluster or on a local one that ends with it.

    Parameters
    ----------
    scheduler : str or None
        Address of a running scheduler; None for a local cluster.
    workers : int
        Processes of the local one.

    Raises
    ------
    BackbearingError
        When ``distributed`` is not installed; on entering, when the scheduler does not answer.
    """

    def __init__(self, scheduler: str | None, workers: int) -> None:
        try:
            import distributed
        except ImportError as problem:
            raise BackbearingError(
                "Sharing work through Dask needs the package distributed",
                hint='install backbearing with "pip install backbearing[region]"',
            ) from problem
        self._dask: Any = distributed
        self._scheduler = scheduler
        self._workers = max(1, workers)
        self._local: Any = None
        self.client: Any = None
        # What it has to say is said here in one sentence.
        self._log = logging.getLogger("distributed.client")
        self._loud = self._log.level

    def __enter__(self) -> Cluster:
        import dask

        self._log.setLevel(logging.CRITICAL)
        settings = {"distributed.scheduler.allowed-failures": LOSSES}
        address = self._scheduler
        if address is None:
            with dask.config.set(settings):
                self._local = self._dask.LocalCluster(
                    n_workers=self._workers,
                    threads_per_worker=1,
                    processes=True,
                    dashboard_address=":0",
                )
            address = self._local.scheduler_address
        try:
            self.client = self._dask.Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as problem:
            self._end()
            raise BackbearingError(
                f"The scheduler at {address} does not answer ({problem})",
                hint="start it, or write its address as its own log shows it (tcp://host:port)",
            ) from problem
        return self

    def __exit__(self, *_: object) -> None:
        self._end()

    def _end(self) -> None:
        if self.client is not None:
            # One whose scheduler is gone cannot take leave of it.
            with suppress(OSError, TimeoutError):
                self.client.close()
        if self._local is not None:
            self._local.close()
        self._log.setLevel(self._loud)

    def check(self, files: Sequence[Path]) -> None:
        """Refuse a cluster without workers, with another version, or without the files.

        Raises
        ------
        BackbearingError
            One sentence that names the worker.
        """
        answers = self.client.run(_told, [str(path) for path in files])
        if not answers:
            raise BackbearingError(
                f"The scheduler at {self._scheduler} has no workers",
                hint="start some and try again",
            )
        for worker, (version, missing) in sorted(answers.items()):
            if version != __version__:
                raise BackbearingError(
                    f"The worker at {worker} has version {version} and this is {__version__}",
                    hint="install the same one on both",
                )
            if missing:
                raise BackbearingError(
                    f"The worker at {worker} does not see {missing[0]}",
                    hint="put the outing's files where every worker finds them at the same path",
                )

    def worked(
        self, work: Callable[[S, P], A], shared: S, waiting: Iterator[P], *, what: str = ""
    ) -> Iterator[A]:
        """Give each parcel's answer as it comes home; a few are out for each worker at a time.

        Parameters
        ----------
        work : callable
            A function of a module, from what is shared and a parcel to its answer.
        shared
            Sent to each worker once.
        waiting : iterator
            The parcels, made when they are sent.
        what : str
            What a parcel holds, for the sentence of one that ends its workers.

        Raises
        ------
        BackbearingError
            When a parcel ends worker after worker, when the scheduler is lost, or what went
            wrong in a parcel.
        """
        sent = self.client.scatter(shared, broadcast=True)
        many = PARCELS_AHEAD * max(1, len(self.client.scheduler_info()["workers"]))
        out = self._dask.as_completed(
            [self._send(work, sent, parcel) for parcel in islice(waiting, many)],
            loop=self.client.loop,
        )
        for future in out:
            try:
                answer = future.result()
            except self._dask.KilledWorker as problem:
                raise BackbearingError(
                    f"{LOSSES} workers ended over the same parcel{what and ' of '}{what}, perhaps "
                    "for want of memory",
                    hint="take smaller chunks or larger workers",
                ) from problem
            except (CancelledError, OSError, TimeoutError) as problem:
                if future.status == "error":
                    raise
                raise BackbearingError(
                    f"The scheduler{self._named()} is gone",
                    hint="what came home is kept; start it and its workers and ask again",
                ) from problem
            future.release()
            for parcel in islice(waiting, 1):
                out.add(self._send(work, sent, parcel))
            yield answer

    def _named(self) -> str:
        return "" if self._scheduler is None else f" at {self._scheduler}"

    def _send(self, work: Any, shared: Any, parcel: Any) -> Any:
        return self.client.submit(work, shared, parcel, pure=False)


def _told(paths: Sequence[str]) -> tuple[str, list[str]]:
    """On a worker: its version, and which of the files it does not see."""
    return __version__, [path for path in paths if not Path(path).exists()]
