"""Scout many candidates: in chunks, in a few processes, kept as they are finished."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.base.cautions import cannot_see, general
from backbearing.base.errors import NothingFoundError
from backbearing.base.numbers import counted
from backbearing.base.parallel import as_finished
from backbearing.base.tile_order import place_on_curve
from backbearing.outing.known_cover import known_cover
from backbearing.scouting.ranking.chunk import rank_chunk
from backbearing.scouting.ranking.columns import ChunkResult
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.rank_order import ranking_of
from backbearing.scouting.ranking.task import task_of
from backbearing.scouting.run.checkpoints import kept_chunks
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.shared_pieces import shared_pieces

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from backbearing.cluster.kept import Progress
    from backbearing.outing.request import Outing
    from backbearing.plan.ranking import Ranking, Rejected
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.scouting.reading.candidate_table import Candidates
    from backbearing.terrain.elevation import Elevation


CHUNK: Final = 500
"""Candidates worked out at a time, at most."""

SHARES: Final = 12
"""Into so many chunks a few candidates are cut, so that processes share them and all see
something soon."""

LEAST: Final = 20
"""Candidates below which a chunk does not pay what it begins with."""


def chunk_of(count: int, chunk: int | None) -> int:
    """Candidates to a chunk, as asked or by how many there are; not by the processes.

    A run that goes on with other processes must find its finished chunks.
    """
    return max(1, chunk) if chunk is not None else min(CHUNK, max(LEAST, -(-count // SHARES)))


def scout(
    outing: Outing,
    candidates: Candidates,
    *,
    first_night: dt.date | None = None,
    nights: int | None = None,
    chunk: int | None = None,
    processes: int = 2,
    keep: Path | None = None,
    progress: Progress | None = None,
    elevation: Elevation | None = None,
) -> Ranking:
    """Rank candidates over a run of nights.

    Parameters
    ----------
    outing : Outing
        Camera, lenses, framing, target, what counts as dark and clear, ground, and
        ``[scouting]``. Its own subject is not looked at.
    candidates : Candidates
        As `read_candidates` gives them.
    first_night, nights : optional
        Instead of the outing's own; 1 to 732 nights.
    chunk : int, optional
        Candidates worked out and kept at a time; else a twelfth of all, from 20 to 500.
    processes : int
        Among how many processes the chunks are shared, where the system forks (Linux).
    keep : Path, optional
        Folder of finished chunks, made when missing. The same task goes on from there; a
        stop (``KeyboardInterrupt``) leaves what is finished.
    progress : callable, optional
        Told how many candidates are done, and of how many.
    elevation : Elevation, optional
        The raster, when it is open already.

    Raises
    ------
    NothingFoundError
        When there is no candidate at all.
    OutingError, TerrainError, SkyError, CameraError, WriteRefusedError
        One sentence each.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``:

    >>> from datetime import date
    >>> from backbearing import load_outing, read_candidates, scout
    >>> candidates = read_candidates(sample / "lone_things.csv")
    >>> outing = load_outing(sample / "outing.toml")
    >>> ranking = scout(outing, candidates, first_night=date(2027, 6, 4), nights=3, processes=1)
    >>> ranking.frame["name"].iloc[0]
    'Sorrel oak'
    """
    ready = prepared(outing, candidates, first_night, nights, elevation)
    order = visiting_order(lat=ready.lat, lon=ready.lon)
    size = chunk_of(len(order), chunk)
    pieces = [order[i : i + size] for i in range(0, len(order), size)]
    kept = kept_chunks(keep, ready.digest, pieces)
    with shared_pieces(ready.elevation, keep=keep is not None, many=len(pieces)) as ground:
        context = Context.of(ready.task, candidates, ground)

        def work(left: list[int]) -> Iterator[tuple[int, ChunkResult]]:
            if min(processes, len(left)) > 1:
                context.warm()
            found = as_finished(
                lambda i: rank_chunk(ready.task, candidates.frame.iloc[pieces[i]], context),
                left,
                processes=processes,
                hint="run it again with fewer processes or smaller chunks",
            )
            return ((left[i], result) for i, result in found)

        results = kept.completed(work, progress)
    return ranking_of(ready.task, candidates, ChunkResult.gathered(results, order), ready.notes)


@dataclass(frozen=True, eq=False)
class Prepared:
    """A task ready to be cut into chunks.

    Attributes
    ----------
    task : ScoutTask
    elevation : Elevation
    lat, lon : ndarray, shape (n,)
        The candidates, degrees.
    digest : str
        Of the task and all that it is asked of.
    notes : tuple of str
        For the ranking.
    """

    task: ScoutTask
    elevation: Elevation
    lat: NDArray[np.float64]
    lon: NDArray[np.float64]
    digest: str
    notes: tuple[str, ...]


def prepared(
    outing: Outing,
    candidates: Candidates,
    first_night: dt.date | None = None,
    nights: int | None = None,
    elevation: Elevation | None = None,
) -> Prepared:
    """Make the task of an outing and its candidates; parameters and errors as for `scout`."""
    if not len(candidates.frame):
        raise nobody_in(candidates.source, candidates.rejected, len(candidates.rejected))
    lat = np.asarray(candidates.frame.geometry.y, dtype=np.float64)
    lon = np.asarray(candidates.frame.geometry.x, dtype=np.float64)
    task = task_of(
        outing,
        lat=float(lat[len(lat) // 2]),
        lon=float(lon[len(lon) // 2]),
        first_night=first_night,
        nights=nights,
    )
    if elevation is None:
        elevation = open_elevation(outing)
    # Measured marks are of one subject's place.
    elevation = bare_of(elevation)
    return Prepared(
        task, elevation, lat, lon, task_digest(task, candidates), notes_of(task, candidates.notes)
    )


def visiting_order(*, lat: NDArray[np.float64], lon: NDArray[np.float64]) -> NDArray[np.intp]:
    """Order in which candidates are visited: neighbours together, so that they share ground.

    By cells of 0.2 degree, each beside the one before; ties in the order of the file.
    """
    cells = [np.floor(np.nan_to_num(v) / 0.2) for v in (lat, lon)]
    return np.argsort(place_on_curve(*cells), kind="stable")


def task_digest(task: ScoutTask, candidates: Candidates) -> str:
    """Name a task and all that it is asked of, so that only its own chunks are taken up."""
    import pandas as pd

    found = hashlib.sha256(task.digest().encode())
    for frame in (candidates.frame, candidates.others):
        plain = pd.DataFrame(frame.drop(columns="geometry"))
        found.update(pd.util.hash_pandas_object(plain, index=False).to_numpy().tobytes())
        found.update(np.asarray(frame.geometry.x, dtype=np.float64).tobytes())
        found.update(np.asarray(frame.geometry.y, dtype=np.float64).tobytes())
    return found.hexdigest()[:20]


def notes_of(task: ScoutTask, of_candidates: tuple[str, ...]) -> tuple[str, ...]:
    """Say what the numbers stand on, what they cannot see, and the general cautions."""
    notes = [
        (
            "A ranking compares places on maps. It says nothing of leave to be there, and a high "
            "score is no promise of access or safety."
        ),
        (
            f"Times are in {task.zone}. Stands and skylines are solved every 4 minutes of the "
            "sky's turn and taken as straight between; the best minute is settled in full."
        ),
        (
            "A walk is a straight line to the nearest way in your files; water, fences and closed "
            "land may lie between."
        ),
    ]
    if task.night.at is not None or any(one.at is not None for one in task.lenses):
        notes.append("Asked minutes of the outing are not heeded: scouting looks at whole nights.")
    if task.ground.marks:
        notes.append(
            "The outing's skyline marks are not used here: they were read at one place, and the "
            "skylines are the raster's own."
        )
    known = known_cover(task.ground)
    unseen = cannot_see(known, surface=task.ground.holds_cover)
    return (*notes, *of_candidates, *unseen, *general(known))


def nobody_in(source: str, rejected: Sequence[Rejected], count: int) -> NothingFoundError:
    """Say that a file has no candidate; ``rejected`` are the first of ``count`` left out."""
    if not rejected:
        return NothingFoundError(f"{source} holds no candidates.")
    return NothingFoundError(
        f"{source} holds no candidate that can be used; of {counted(count, 'rows')} left out, "
        f"the first: {rejected[0].reason}"
    )
