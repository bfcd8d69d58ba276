"""Scouting on more than one machine, through Dask.

Candidates are grouped by the raster's tiles, a parcel at a time goes to a worker with
whatever stands within reach of it, and each worker reads its own tile with the halo that
stands and skylines need; what one has unpacked, the others of its machine find unpacked. The
numbers are those of `scout` to the last bit, whichever worker finds them and however often a
lost one's parcels are done again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.cluster.dask_cluster import Cluster
from backbearing.scouting.partitions.candidate_parts import REACH_M
from backbearing.scouting.ranking.chunk import rank_chunk
from backbearing.scouting.ranking.columns import ChunkResult
from backbearing.scouting.ranking.context import Standing
from backbearing.scouting.ranking.rank_order import ranking_of
from backbearing.scouting.ranking.raster_window import tiles_of
from backbearing.scouting.run.checkpoints import kept_chunks
from backbearing.scouting.run.run import Prepared, chunk_of, prepared, visiting_order
from backbearing.scouting.run.shared_ground import close_ground_everywhere, opened_context

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    import geopandas
    from numpy.typing import NDArray

    from backbearing.cluster.kept import Kept, Progress
    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain.elevation import Elevation


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
    kept = kept_chunks(keep, ready.digest, pieces)
    with Cluster(scheduler, workers) as cluster:
        cluster.check(ready.task.files())
        try:
            results = _work(cluster, ready, candidates, pieces, kept, progress)
        finally:
            close_ground_everywhere(cluster, ready.digest, remove=keep is None)
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
    reach = float(np.linalg.norm(here - middle, axis=1).max()) + REACH_M
    # In the order of the whole, so that ties fall as they do on one machine.
    near = np.array(sorted(everything.tree.query_ball_point(middle, reach)), dtype=np.intp)
    return _Parcel(number, frame, everything.part(near))


def _work(
    cluster: Cluster,
    ready: Prepared,
    candidates: Candidates,
    pieces: Sequence[NDArray[np.intp]],
    kept: Kept[ChunkResult],
    progress: Progress | None,
) -> list[ChunkResult]:
    def work(left: list[int]) -> Iterator[tuple[int, ChunkResult]]:
        everything = Standing.of(candidates)
        waiting = (_parcel(i, pieces[i], candidates, everything) for i in left)
        asked = _Asked(ready.task, ready.digest)
        return cluster.worked(_rank_parcel, asked, waiting, what="candidates")

    return kept.completed(work, progress)


@dataclass(frozen=True)
class _Asked:
    """What every parcel of a run shares."""

    task: ScoutTask
    digest: str


def _rank_parcel(asked: _Asked, parcel: _Parcel) -> tuple[int, ChunkResult]:
    """On a worker: open what the task reads, once, and work out one parcel."""
    opened = opened_context(asked.task, asked.digest, parcel.standing)
    context = opened.among(parcel.standing)
    return parcel.number, rank_chunk(asked.task, parcel.frame, context)
