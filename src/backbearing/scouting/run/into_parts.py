"""Scouting into a folder, parcel by parcel: nothing is ever held whole.

The candidates are cut into parts on disk, a parcel at a time is read, worked out in a process
or on a cluster, and kept as it comes home. A stopped run goes on from what is there. The ranking
is merged when it is asked for (``partitions/merged.py``).
"""

from __future__ import annotations

import hashlib
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from backbearing.alignment.night.from_outing import open_elevation
from backbearing.base.files import made_folder, write_file
from backbearing.base.input_files import check_readable, checked_path
from backbearing.base.parallel import as_finished
from backbearing.cluster.dask_cluster import Cluster
from backbearing.cluster.kept import no_stop
from backbearing.scouting.partitions.candidate_parts import (
    INDEX,
    CandidateParts,
    read_candidate_parts,
)
from backbearing.scouting.partitions.cut import Parcel, ParcelName, cut, parcel_names
from backbearing.scouting.partitions.geoparquet import DamagedPartError, with_arrow
from backbearing.scouting.partitions.ranked_folder import (
    CANDIDATES,
    RankedFolder,
    SpanAsked,
    begin,
    other_ranking,
)
from backbearing.scouting.partitions.ranked_part import ranked_bytes
from backbearing.scouting.partitions.split import split_candidates
from backbearing.scouting.ranking.chunk import rank_chunk
from backbearing.scouting.ranking.context import Context
from backbearing.scouting.ranking.rank_order import asked_of
from backbearing.scouting.ranking.task import task_of
from backbearing.scouting.reading.batches import LARGEST_BYTES
from backbearing.scouting.run.run import chunk_of, nobody_in, notes_of
from backbearing.scouting.run.shared_ground import close_ground_everywhere, opened_context
from backbearing.tables.limits import suffix_of
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.shared_pieces import close_pieces, with_shared_pieces

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence
    from os import PathLike
    from pathlib import Path

    from backbearing.cluster.kept import Progress
    from backbearing.outing.request import Outing
    from backbearing.scouting.ranking.task import ScoutTask
    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.grid import Grid

CUT: Final = 3
"""Raised whenever candidates are read or cut otherwise, so that no parts of old are used."""


@dataclass(frozen=True)
class Sharing:
    """How the work is shared out; the numbers do not depend on it.

    Attributes
    ----------
    processes : int
        On this machine, or workers of a local cluster.
    scheduler : str or None
        Address of a Dask scheduler; ``local`` for a cluster that ends with the run; None for
        plain processes.
    chunk : int or None
        Candidates to a parcel; else a twelfth of all, from 20 to 500.

    Examples
    --------
    >>> from backbearing.scouting import Sharing
    >>> Sharing(scheduler="tcp://10.0.0.5:8786").chunk is None
    True
    """

    processes: int = 2
    scheduler: str | None = None
    chunk: int | None = None


def scout_into(
    outing: Outing,
    candidates: str | PathLike[str],
    folder: Path,
    *,
    layer: str | None = None,
    first_night: dt.date | None = None,
    nights: int | None = None,
    sharing: Sharing = Sharing(),
    progress: Progress | None = None,
) -> RankedFolder:
    """Rank a file of candidates into a folder, each parcel kept as it comes home.

    The numbers are those of `scout`, to the last bit. The same call goes on with what an
    earlier one has left.

    Parameters
    ----------
    outing : Outing
    candidates : path
        As for `read_candidates`.
    folder : Path
        Made when missing. A folder of another ranking is refused.
    layer : str, optional
        Of a GeoPackage with several.
    first_night, nights, progress : optional
        As for `scout`.
    sharing : Sharing

    Raises
    ------
    NothingFoundError, OutingError, TerrainError, SkyError, CameraError, WriteRefusedError
        As for `scout`.
    BackbearingError
        When pyarrow is not installed, a part is damaged, or the cluster fails.

    Examples
    --------
    With ``sample``, the folder ``sample_terrain``, into a folder that goes again:

    >>> import tempfile
    >>> from pathlib import Path
    >>> from backbearing import load_outing
    >>> from backbearing.scouting import Sharing, scout_into
    >>> outing, things = load_outing(sample / "outing.toml"), sample / "lone_things.csv"
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = scout_into(
    ...         outing, things, Path(folder), nights=1, sharing=Sharing(processes=1, chunk=20)
    ...     )
    ...     print(f"{made.candidates} candidates, {made.parcels} parcels, {len(made.files())} home")
    39 candidates, 3 parcels, 3 home
    """
    with_arrow()
    # Measured marks are of one subject's place.
    elevation = bare_of(open_elevation(outing))
    parts = _parted(checked_path(candidates), layer, elevation.grid, folder)
    if not len(parts):
        raise nobody_in(parts.about.source, parts.about.rejected, parts.about.rejected_count)
    task = task_of(
        outing,
        lat=parts.middle_lat,
        lon=parts.middle_lon,
        first_night=first_night,
        nights=nights,
    )
    chunk = chunk_of(len(parts), sharing.chunk)
    names = parcel_names(parts, chunk)
    ranked = begin(_asked_folder(outing, folder, task, parts, chunk, len(names)))
    left = _left(ranked, names)
    size = {name.text: name.count for name in names}
    done = len(parts) - sum(size[name.text] for name in left)
    if progress is not None:
        progress(done, len(parts))
    for parcel, answer in _worked(_Asked(task, ranked.digest), parts, left, sharing, elevation):
        with no_stop():
            write_file(ranked.path_of(parcel), answer, overwrite=True)
        done += size[parcel]
        if progress is not None:
            progress(done, len(parts))
    return ranked


def _parted(file: Path, layer: str | None, grid: Grid, folder: Path) -> CandidateParts:
    """Cut the candidates into parts, or take up those that are there."""
    digest = _file_digest(file, layer, grid)
    there = made_folder(folder / CANDIDATES)
    if (there / INDEX).exists():
        try:
            found = read_candidate_parts(there)
            if found.about.digest != digest:
                raise other_ranking(folder)
            if all((there / part.file).is_file() for part in found.parts):
                return found
        except DamagedPartError as problem:
            warnings.warn(f"{problem}; the candidates are cut anew.", stacklevel=2)
    return split_candidates(file, grid, there, digest=digest, layer=layer)


def _file_digest(file: Path, layer: str | None, grid: Grid) -> str:
    """Name what a file of candidates holds, and the grid by which it is cut."""
    check_readable(file, "candidates", largest_bytes=LARGEST_BYTES)
    with file.open("rb") as data:
        content = hashlib.file_digest(data, "sha256").hexdigest()
    cells = (grid.shape, tuple(grid.transform)[:6], grid.crs.to_wkt())
    text = repr((CUT, file.name, suffix_of(file), layer, content, cells))
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _asked_folder(
    outing: Outing, folder: Path, task: ScoutTask, parts: CandidateParts, chunk: int, parcels: int
) -> RankedFolder:
    text = repr((task.digest(), parts.about.digest, chunk))
    return RankedFolder(
        folder=folder,
        digest=hashlib.sha256(text.encode()).hexdigest()[:24],
        outing=str(outing.path.absolute()),
        units=outing.units.name,
        asked=SpanAsked(
            task.first_night,
            task.nights,
            task.zone,
            task.lenses_mm,
            task.lens_names,
            task.request.weights,
            asked_of(task),
        ),
        candidates=len(parts),
        parcels=parcels,
        notes=notes_of(task, parts.about.notes),
        rejected=parts.about.rejected,
        rejected_count=parts.about.rejected_count,
    )


def _left(ranked: RankedFolder, names: Sequence[ParcelName]) -> list[ParcelName]:
    """Parcels that have not come home, or whose answers are damaged."""
    left = []
    for name in names:
        try:
            whole = ranked.is_whole(name)
        except DamagedPartError as problem:
            warnings.warn(f"{problem.what}; that part is done again.", stacklevel=2)
            whole = False
        if not whole:
            left.append(name)
    return left


@dataclass(frozen=True)
class _Asked:
    """What every parcel of a run shares."""

    task: ScoutTask
    digest: str


def _worked(
    asked: _Asked,
    parts: CandidateParts,
    left: Sequence[ParcelName],
    sharing: Sharing,
    elevation: Elevation,
) -> Iterator[tuple[str, bytes]]:
    """Give name and answer of each parcel as it comes home."""
    if not left:
        return
    if sharing.scheduler is None:
        yield from _in_processes(asked, parts, left, sharing.processes, elevation)
        return
    address = None if sharing.scheduler == "local" else sharing.scheduler
    with Cluster(address, sharing.processes) as cluster:
        cluster.check(asked.task.files())
        whole = False
        try:
            yield from cluster.worked(_rank_parcel, asked, cut(parts, left), what="candidates")
            whole = True
        finally:
            # A run that goes on later finds the ground as it is.
            close_ground_everywhere(cluster, asked.digest, remove=whole)


def _in_processes(
    asked: _Asked,
    parts: CandidateParts,
    left: Sequence[ParcelName],
    processes: int,
    elevation: Elevation,
) -> Iterator[tuple[str, bytes]]:
    first = next(cut(parts, left[:1]))
    ground = with_shared_pieces(elevation) if len(left) > 1 else elevation
    whole = False
    try:
        context = Context.opened(asked.task, first.standing, ground)
        if min(processes, len(left)) > 1:
            context.warm()

        def work(name: ParcelName) -> tuple[str, bytes]:
            return _ranked(asked.task, next(cut(parts, [name])), context)

        hint = "run it again with fewer processes or smaller chunks"
        for _, answer in as_finished(work, left, processes=processes, hint=hint):
            yield answer
        whole = True
    finally:
        close_pieces(ground, remove=whole)


def _rank_parcel(asked: _Asked, parcel: Parcel) -> tuple[str, bytes]:
    """On a worker: open what the task reads, once, and work out one parcel."""
    opened = opened_context(asked.task, asked.digest, parcel.standing)
    return _ranked(asked.task, parcel, opened)


def _ranked(task: ScoutTask, parcel: Parcel, context: Context) -> tuple[str, bytes]:
    result = rank_chunk(task, parcel.frame, context.among(parcel.standing))
    return parcel.name, ranked_bytes(parcel, result)
