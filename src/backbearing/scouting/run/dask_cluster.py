"""Scouting on more than one machine, through Dask.

Candidates are grouped by the raster's tiles, a parcel at a time goes to a worker with
whatever stands within reach of it, and each worker reads its own tile with the halo that
stands and skylines need. The numbers are those of `scout` to the last bit, whichever worker
finds them and however often a lost one's parcels are done again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.errors import BackbearingError
from backbearing.base.version import __version__
from backbearing.scouting.ranking.candidate_stands import LONGEST_M
from backbearing.scouting.ranking.chunk import rank_chunk
from backbearing.scouting.ranking.clutter import FARTHEST_M
from backbearing.scouting.ranking.columns import ChunkResult
from backbearing.scouting.ranking.context import Context, Standing
from backbearing.scouting.ranking.rank_order import ranking_of
from backbearing.scouting.ranking.raster_window import tiles_of
from backbearing.scouting.run.checkpoints import Kept
from backbearing.scouting.run.run import Prepared, chunk_of, prepared, visiting_order

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.scouting.run.checkpoints import Progress
    from backbearing.terrain.elevation import Elevation

PARCELS_AHEAD: Final = 3
"""Parcels sent out for each worker before one comes back; more would only fill memory."""

NEAR_M: Final = LONGEST_M + FARTHEST_M + 100.0
"""How far from a candidate a thing may stand and still be in a frame."""

LOSSES: Final = 5
"""How many workers a parcel may lose before the run stops: one that breaks them is at fault."""

CONNECT_S: Final = 20.0


def scout_region(
    outing: Outing,
    candidates: Candidates,
    *,
    scheduler: str | None = None,
    workers: int = 2,
    first_night: dt.date | None = None,
    nights: int | None = None,
    chunk: int | None = None,
    keep: Path | None = None,
    progress: Progress | None = None,
    elevation: Elevation | None = None,
) -> Ranking:
    """Rank candidates over a run of nights on a Dask cluster.

    Parameters
    ----------
    outing, candidates, first_night, nights, chunk, keep, progress, elevation
        As for `scout`.
    scheduler : str, optional
        Address of a running cluster's scheduler, such as ``tcp://10.0.0.5:8786``. Its
        workers must have this version installed and see the outing's files at the same
        paths. Without one, a local cluster is started and stopped.
    workers : int
        Processes of the local cluster.

    Returns
    -------
    Ranking
        The same as `scout` gives.

    Raises
    ------
    BackbearingError
        When ``distributed`` is not installed, the scheduler does not answer, a worker lacks
        a file or has another version, or a parcel ends worker after worker.
    NothingFoundError, OutingError, TerrainError, SkyError, CameraError, WriteRefusedError
        As for `scout`.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``, on two local workers. In a script this stands
    under ``if __name__ == "__main__":``, as workers load the script anew.

    >>> from backbearing import load_outing, read_candidates
    >>> from backbearing.scouting import scout_region
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> outing = load_outing(sample / "outing.toml")
    >>> ranking = scout_region(outing, candidates, workers=2, nights=3)
    >>> ranking.minutes.shape
    (39, 3, 4)
    """
    ready = prepared(outing, candidates, first_night, nights, elevation)
    pieces = parcels(
        ready.elevation, lat=ready.lat, lon=ready.lon, chunk=chunk_of(len(ready.lat), chunk)
    )
    kept = Kept.of(keep, ready.digest, pieces)
    with _Cluster(scheduler, workers) as cluster:
        cluster.check(ready.task)
        results = _work(cluster, ready, candidates, pieces, kept, progress)
    order = np.concatenate(pieces)
    return ranking_of(ready.task, candidates, ChunkResult.gathered(results, order), ready.notes)


def parcels(
    elevation: Elevation,
    *,
    lat: NDArray[np.float64],
    lon: NDArray[np.float64],
    chunk: int,
) -> list[NDArray[np.intp]]:
    """Cut candidates into parcels of at most ``chunk``, none across two tiles of the raster."""
    cut = []
    for tile in tiles_of(elevation, lat=lat, lon=lon):
        rows = tile[visiting_order(lat=lat[tile], lon=lon[tile])]
        cut += [rows[i : i + max(1, chunk)] for i in range(0, len(rows), max(1, chunk))]
    return cut


@dataclass(frozen=True)
class _Parcel:
    """What travels to a worker: a slice of the candidates, and what stands near them."""

    number: int
    frame: geopandas.GeoDataFrame
    standing: Standing


def _parcel(
    number: int, rows: NDArray[np.intp], candidates: Candidates, everything: Standing
) -> _Parcel:
    frame = candidates.frame.iloc[rows]
    here = everything.tree.data[rows]
    middle = here.mean(axis=0)
    reach = float(np.linalg.norm(here - middle, axis=1).max()) + NEAR_M
    # In the order of the whole, so that ties fall as they do on one machine.
    near = np.array(sorted(everything.tree.query_ball_point(middle, reach)), dtype=np.intp)
    return _Parcel(number, frame, everything.part(near))


def _work(
    cluster: _Cluster,
    ready: Prepared,
    candidates: Candidates,
    pieces: Sequence[NDArray[np.intp]],
    kept: Kept,
    progress: Progress | None,
) -> list[ChunkResult]:
    def work(left: list[int]) -> Iterator[tuple[int, ChunkResult]]:
        everything = Standing.of(candidates)
        waiting = (_parcel(i, pieces[i], candidates, everything) for i in left)
        return cluster.worked(ready.task, ready.digest, waiting)

    return kept.completed(pieces, work, progress)


_contexts: dict[str, Context] = {}
"""What this worker has opened, by task; one task at a time is held."""


def _rank_parcel(task: ScoutTask, digest: str, parcel: _Parcel) -> tuple[int, ChunkResult]:
    """On a worker: open what the task reads, once, and work out one parcel."""
    if digest not in _contexts:
        _contexts.clear()
        _contexts[digest] = Context.opened(task, parcel.standing)
    context = replace(_contexts[digest], standing=parcel.standing)
    return parcel.number, rank_chunk(task, parcel.frame, context)


def _told(paths: Sequence[str]) -> tuple[str, list[str]]:
    """On a worker: its version, and which of the files it does not see."""
    from pathlib import Path

    return __version__, [path for path in paths if not Path(path).exists()]


class _Cluster:
    """A Dask client, on an existing cluster or on a local one that ends with it."""

    def __init__(self, scheduler: str | None, workers: int) -> None:
        try:
            import distributed
        except ImportError as problem:
            raise BackbearingError(
                "Scouting through Dask needs the package distributed",
                hint='install backbearing with "pip install backbearing[region]"',
            ) from problem
        self._dask: Any = distributed
        self._scheduler = scheduler
        self._workers = max(1, workers)
        self._local: Any = None
        self.client: Any = None

    def __enter__(self) -> _Cluster:
        import dask

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
            self.client.close()
        if self._local is not None:
            self._local.close()

    def check(self, task: ScoutTask) -> None:
        """Refuse a cluster without workers, with another version, or without the files.

        Raises
        ------
        BackbearingError
            One sentence that names the worker.
        """
        answers = self.client.run(_told, [str(path) for path in task.files()])
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
        self, task: ScoutTask, digest: str, waiting: Iterator[_Parcel]
    ) -> Iterator[tuple[int, ChunkResult]]:
        """Give each parcel's result as it comes home; a few are out for each worker at a time.

        Raises
        ------
        BackbearingError
            When a parcel ends worker after worker, or what went wrong in it.
        """
        from itertools import islice

        shared = self.client.scatter(task, broadcast=True)
        many = PARCELS_AHEAD * max(1, len(self.client.scheduler_info()["workers"]))
        out = self._dask.as_completed(
            [self._send(shared, digest, parcel) for parcel in islice(waiting, many)],
            loop=self.client.loop,
        )
        for future in out:
            try:
                number, result = future.result()
            except self._dask.KilledWorker as problem:
                raise BackbearingError(
                    f"{LOSSES} workers ended over the same parcel of candidates, perhaps for "
                    "want of memory",
                    hint="take smaller chunks or larger workers",
                ) from problem
            future.release()
            for parcel in islice(waiting, 1):
                out.add(self._send(shared, digest, parcel))
            yield number, result

    def _send(self, task: Any, digest: str, parcel: _Parcel) -> Any:
        return self.client.submit(_rank_parcel, task, digest, parcel, pure=False)
