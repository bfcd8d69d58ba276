"""A large raster opened so that the processes of this machine unpack it once between them."""

from __future__ import annotations

import hashlib
import warnings
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from backbearing.terrain import chunks
from backbearing.terrain.cover.covered_elevation import CoveredElevation, covered_of
from backbearing.terrain.elevation import Elevation
from backbearing.terrain.marks.marked_elevation import bare_of
from backbearing.terrain.piece_folder import PieceFolder, cannot_share
from backbearing.terrain.piece_store import PieceStore, StoredSource
from backbearing.terrain.reading.files import FileSource
from backbearing.terrain.reading.mosaic import MosaicSource

if TYPE_CHECKING:
    from collections.abc import Iterator

    from backbearing.terrain.reading.sources import Source

MOST_BYTES: Final = 8 * 2**30
"""What the pieces of all rasters may come to: those of 46,000 x 46,000 cells."""

WIDE_TOGETHER: Final = 8
"""Patches read at once of tiles that are packed by rows: what lies beyond the first and the last
is unpacked again."""

FORMAT: Final = 1
"""Raised whenever what the files of a store hold changes."""

_BOOT: Final = Path("/proc/sys/kernel/random/boot_id")


def pieces_home() -> Path:
    """The folder in which this user's pieces lie, one folder for each raster."""
    from platformdirs import user_cache_path

    return user_cache_path("backbearing", appauthor=False) / "pieces"


def with_shared_pieces(
    elevation: Elevation, *, home: Path | None = None, most_bytes: int = MOST_BYTES
) -> Elevation:
    """Open a raster's pieces for sharing; the same answers to the last bit.

    Parameters
    ----------
    elevation : Elevation
        Bare or with cover. One that is held whole, in memory, or made of files that cannot be
        told apart by name, size and date (a VRT's) is given back as it is.
    home : Path, optional
        Instead of `pieces_home`, on a disk of this machine.
    most_bytes : int
        What the pieces of all rasters in ``home`` may come to; never more than half of what the
        disk has left. What was used longest ago goes first.

    Returns
    -------
    Elevation
        To be closed with `close_pieces`. Where the disk refuses, the same elevation, after a
        warning.
    """
    covered = covered_of(elevation)
    bare = bare_of(elevation) if covered is None else covered.bare
    source = bare._source
    if not bare.in_pieces or not _files_of(source):
        return elevation
    folder = (home or pieces_home()) / stamp_of(source)
    try:
        pieces = PieceFolder(folder, bare.source, most_bytes=most_bytes)
    except OSError as problem:
        warnings.warn(cannot_share(bare.source, folder, problem), stacklevel=2)
        return elevation
    store = PieceStore(source, pieces, side=chunks.PIECE, together=_together(source))
    shared = Elevation(StoredSource(source, store))
    return shared if covered is None else CoveredElevation.of(shared, covered.stack)


def close_pieces(elevation: Elevation, *, remove: bool) -> None:
    """Let go of shared pieces, and remove them unless another process has them open.

    The elevation goes on to answer, from the raster's own files.
    """
    source = elevation._source
    if isinstance(source, StoredSource):
        elevation._chunks.forget()
        source.store.folder.close(remove=remove)


@contextmanager
def shared_pieces(
    elevation: Elevation, *, keep: bool, many: int, **how: Any
) -> Iterator[Elevation]:
    """Share a raster's pieces while many questions are asked of it; one alone does not pay.

    Others are as for `with_shared_pieces`; ``keep`` leaves the pieces for the next time.
    """
    shared = with_shared_pieces(elevation, **how) if many > 1 else elevation
    try:
        yield shared
    finally:
        if shared is not elevation:
            close_pieces(shared, remove=not keep)


def stamp_of(source: Source) -> str:
    """Name a raster by its files' paths, sizes and dates, and by how they are read.

    And by this run of the machine: what was written before it last stopped may never have
    reached the disk whole.
    """
    files = [(str(path.resolve()), *_size_and_date(path)) for path in _files_of(source)]
    options = source.options if isinstance(source, FileSource | MosaicSource) else None
    boot = ""
    with suppress(OSError):
        boot = _BOOT.read_text(encoding="ascii").strip()
    grid = source.grid
    asked = (FORMAT, chunks.PIECE, files, options, grid.shape, tuple(grid.transform), boot)
    return hashlib.sha256(repr(asked).encode()).hexdigest()[:24]


def _together(source: Source) -> int:
    """Patches side by side to be read at once: many where a file's blocks are wider than one.

    Files without squares of their own are packed by rows that run right across.
    """
    lone = isinstance(source, FileSource)
    tiles = [tile.source for tile in source.tiles] if isinstance(source, MosaicSource) else [source]
    widest = max(one.block_cols if isinstance(one, FileSource) else 0 for one in tiles)
    if widest <= chunks.PIECE:
        return 1
    return -(-source.grid.shape[1] // chunks.PIECE) if lone else WIDE_TOGETHER


def _files_of(source: Source) -> list[Path]:
    """Files that hold all heights of a source; none where that is not known."""
    tiles = [tile.source for tile in source.tiles] if isinstance(source, MosaicSource) else [source]
    files = [one.path for one in tiles if isinstance(one, FileSource) and one.driver != "VRT"]
    return files if len(files) == len(tiles) else []


def _size_and_date(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_size, found.st_mtime_ns
