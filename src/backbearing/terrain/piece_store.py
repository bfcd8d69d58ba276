"""Pieces of a large raster, unpacked once for all processes of a machine and shared by files.

Processes that work side by side on one raster want the same pieces, and unpacking a file's blocks
is most of what reading costs. Here the first that wants a piece writes it into a folder, and all
map it from there: the same memory serves them all. Beside each piece lies its maximum pyramid,
so that far ground that cannot rise above a skyline is passed over without a look at the raster.

A **patch** is a square of the raster that no other shares cells with; a **piece** is a patch with
the first row and column of its neighbours. Raster files are read by the patch, so that no block
of a file is unpacked twice.

Every file is written beside its place and renamed. The folder holds no more than it may: what
was used longest ago goes first, and is made again when it is wanted. A disk that refuses is no
trouble: the process says so once and reads the raster as if there were no folder.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import sys
import tempfile
import warnings
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.terrain.reading.sources import TerrainWarning

if sys.platform != "win32":
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from backbearing.terrain.grid import Grid, Pixels
    from backbearing.terrain.reading.sources import Heights, Source

    Singles = NDArray[np.float32]

FREE_SHARE: Final = 0.5
"""Of the room that a disk has left, the most that pieces may come to."""

CLAIMS, IN_USE, SAID = BESIDE = "claims", "in-use", "said"
"""Files beside the pieces: bytes to lock, a lock held while a process has the folder open, and
what reading the raster gave cause to warn of."""

DRAFT: Final = ".draft-"


class Kept(NamedTuple):
    """What is known of a piece without its heights: see :class:`.chunks.Summary`."""

    highest_m: float
    has_void: bool
    fine: Singles
    coarse: Singles


class PieceStore:
    """The pieces of one raster in a folder that processes of one machine share.

    Parameters
    ----------
    source : Source
        The raster, in single precision.
    folder : Path
        Of this raster alone; the folders beside it count towards ``most_bytes``.
    side : int
        Cells along a patch.
    most_bytes : int
        What all the pieces may come to.

    Raises
    ------
    OSError
        When the folder cannot be made, is somebody else's, or cannot be written to.
    """

    def __init__(self, source: Source, folder: Path, *, side: int, most_bytes: int) -> None:
        self._source = source
        self.folder = folder
        self._side = side
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if hasattr(os, "getuid") and folder.stat().st_uid != os.getuid():
            raise PermissionError(0, "it belongs to somebody else", str(folder))
        self._most_bytes = min(most_bytes, self._room())
        # Two files: some network disks make one kind of lock of both.
        self._in_use: int | None = os.open(folder / IN_USE, os.O_RDWR | os.O_CREAT, 0o600)
        self._claims = os.open(folder / CLAIMS, os.O_RDWR | os.O_CREAT, 0o600)
        self._hold(shared=True)
        self._works = True
        self._say_again()

    def _room(self) -> int:
        """Bytes that pieces may come to on this disk, what they take now among them."""
        taken = sum(size for _, size, _ in self._files())
        return int(FREE_SHARE * (shutil.disk_usage(self.folder).free + taken))

    def _shape(self, down: int, across: int, *, edge: int) -> tuple[int, int]:
        rows, cols = self._source.grid.shape
        side = self._side
        return min(side + edge, rows - down * side), min(side + edge, cols - across * side)

    def piece(self, down: int, across: int) -> Heights:
        """Give a piece's heights in metres, mapped or read; not to be written."""
        found = self._mapped("piece", down, across, edge=1) if self._works else None
        return self._made(down, across) if found is None else found

    def _made(self, down: int, across: int) -> Heights:
        """Put a piece together from its patch and the edges of its neighbours."""
        if not self._works:
            return self._read(down, across, edge=1)
        side = self._side
        rows, cols = self._shape(down, across, edge=1)
        heights = np.empty((rows, cols), dtype=np.float32)
        # Neighbours first, so that no more than one patch is held beside the piece.
        if rows > side and cols > side:
            heights[side:, side:] = self._patch(down + 1, across + 1)[:1, :1]
        if rows > side:
            heights[side:, :side] = self._patch(down + 1, across)[:1, :side]
        if cols > side:
            heights[:side, side:] = self._patch(down, across + 1)[:side, :1]
        heights[:side, :side] = self._patch(down, across)
        if self._write(self._path("piece", down, across), [heights]):
            with suppress(OSError):
                self._path("patch", down, across).unlink()
            found = self._mapped("piece", down, across, edge=1)
            if found is not None:
                return found
        return heights

    def _patch(self, down: int, across: int) -> Heights:
        """Give a patch's heights; read from the raster by one process, where it is nowhere."""
        found = self._patch_at_hand(down, across)
        if found is not None:
            return found
        with self._claimed(down, across):
            # Another may have read it meanwhile.
            found = self._patch_at_hand(down, across)
            if found is not None:
                return found
            heights = self._read(down, across, edge=0)
            self._write(self._path("patch", down, across), [heights])
            return heights

    def _patch_at_hand(self, down: int, across: int) -> Heights | None:
        if not self._works:
            return None
        found = self._mapped("patch", down, across, edge=0)
        if found is None:
            found = self._mapped("piece", down, across, edge=1)
        return None if found is None else found[: self._side, : self._side]

    def _read(self, down: int, across: int, *, edge: int) -> Heights:
        """Read from the raster itself."""
        side = self._side
        rows, cols = self._shape(down, across, edge=edge)
        with warnings.catch_warnings(record=True) as said:
            warnings.simplefilter("always")
            heights = self._source.read(
                slice(down * side, down * side + rows), slice(across * side, across * side + cols)
            )
        for one in said:
            warnings.warn(one.message, stacklevel=4)
        self._note([str(one.message) for one in said if one.category is TerrainWarning])
        return heights

    def _note(self, said: list[str]) -> None:
        """Keep what was warned of for those who will not read the raster any more."""
        if said and self._works:
            with suppress(OSError), (self.folder / SAID).open("a", encoding="utf-8") as file:
                file.writelines(f"{' '.join(one.split())}\n" for one in said)

    def _say_again(self) -> None:
        with suppress(OSError, UnicodeDecodeError):
            for one in (self.folder / SAID).read_text(encoding="utf-8").splitlines():
                warnings.warn(one, TerrainWarning, stacklevel=4)

    def window(self, rows: slice, cols: slice) -> Heights:
        """Give the heights of a window in metres."""
        if not self._works:
            return self._source.read(rows, cols)
        heights = np.empty((rows.stop - rows.start, cols.stop - cols.start), dtype=np.float32)
        side = self._side
        for down in range(rows.start // side, -(-rows.stop // side)):
            for across in range(cols.start // side, -(-cols.stop // side)):
                r0, r1 = max(rows.start, down * side), min(rows.stop, (down + 1) * side)
                c0, c1 = max(cols.start, across * side), min(cols.stop, (across + 1) * side)
                heights[r0 - rows.start : r1 - rows.start, c0 - cols.start : c1 - cols.start] = (
                    self._patch(down, across)[
                        r0 - down * side : r1 - down * side,
                        c0 - across * side : c1 - across * side,
                    ]
                )
        return heights

    def summary(self, down: int, across: int, shapes: list[tuple[int, int]]) -> Kept | None:
        """Take up what was kept of a piece; ``shapes`` are those of its pyramid's two levels."""
        if not self._works:
            return None
        sizes = [rows * cols for rows, cols in shapes]
        try:
            found = np.fromfile(self._path("summary", down, across), dtype=np.float32)
        except OSError:
            return None
        if len(found) != 2 + sum(sizes):
            return None
        fine, coarse = found[2 : 2 + sizes[0]], found[2 + sizes[0] :]
        return Kept(
            float(found[0]), bool(found[1]), fine.reshape(shapes[0]), coarse.reshape(shapes[1])
        )

    def keep_summary(self, down: int, across: int, kept: Kept) -> None:
        """Keep what was worked out about a piece."""
        head = np.array([kept.highest_m, kept.has_void], dtype=np.float32)
        self._write(self._path("summary", down, across), [head, kept.fine, kept.coarse])

    def close(self, *, remove: bool) -> None:
        """Let go of the folder, and remove it unless another process has it open."""
        if self._in_use is None:
            return
        self._works = False
        alone = self._hold(shared=False)
        os.close(self._in_use)
        os.close(self._claims)
        self._in_use = None
        if remove and alone:
            shutil.rmtree(self.folder, ignore_errors=True)

    def _hold(self, *, shared: bool) -> bool:
        """Mark the folder as in use, or find out whether nobody else has it in use."""
        if sys.platform == "win32" or self._in_use is None:
            return True
        try:
            fcntl.flock(self._in_use, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    @contextmanager
    def _claimed(self, down: int, across: int) -> Iterator[None]:
        """Let one process at a time read a patch; all of them where the disk knows no locks."""
        number = down * (self._source.grid.shape[1] // self._side + 1) + across
        if sys.platform == "win32" or not self._works:
            yield
            return
        with suppress(OSError):
            fcntl.lockf(self._claims, fcntl.LOCK_EX, 1, number)
        try:
            yield
        finally:
            with suppress(OSError):
                fcntl.lockf(self._claims, fcntl.LOCK_UN, 1, number)

    def _path(self, what: str, down: int, across: int) -> Path:
        return self.folder / f"{what}-{down:04d}-{across:04d}"

    def _mapped(self, what: str, down: int, across: int, *, edge: int) -> Heights | None:
        """Map a file's heights; None where there is none that is whole."""
        path, shape = self._path(what, down, across), self._shape(down, across, edge=edge)
        try:
            if path.stat().st_size != 4 * shape[0] * shape[1]:
                return None
            os.utime(path)
            return np.asarray(np.memmap(path, dtype=np.float32, mode="r", shape=shape))
        except (OSError, ValueError):
            return None

    def _write(self, path: Path, parts: list[Singles]) -> bool:
        """Write a file beside its place and rename it; tell whether it is there."""
        if not self._works:
            return False
        draft: Path | None = None
        try:
            self._make_room(sum(part.nbytes for part in parts))
            handle, name = tempfile.mkstemp(dir=self.folder, prefix=DRAFT)
            draft = Path(name)
            with os.fdopen(handle, "wb") as file:
                for part in parts:
                    file.write(np.ascontiguousarray(part).data)
            draft.replace(path)
        except OSError as problem:
            if draft is not None:
                with suppress(OSError):
                    draft.unlink()
            self._give_up(problem)
            return False
        return True

    def _make_room(self, bytes_more: int) -> None:
        """Remove what was used longest ago until so much more may be written."""
        files = sorted(self._files())
        over = sum(size for _, size, _ in files) + bytes_more - self._most_bytes
        for _, size, path in files:
            if over <= 0:
                break
            with suppress(OSError):
                path.unlink()
            over -= size
        if over > 0:
            raise OSError(errno.ENOSPC, "there is no room for a single one")

    def _files(self) -> list[tuple[int, int, Path]]:
        """When each file of pieces was last used, its bytes and path, for all rasters."""
        found = []
        for path in self.folder.parent.glob("*/*"):
            # Others write and remove here too.
            with suppress(OSError):
                told = path.lstat()
                if stat.S_ISREG(told.st_mode) and path.name not in BESIDE:
                    found.append((told.st_mtime_ns, told.st_size, path))
        return found

    def _give_up(self, problem: OSError) -> None:
        self._works = False
        warnings.warn(cannot_share(self._source.name, self.folder, problem), stacklevel=3)


def cannot_share(raster: str, folder: Path, problem: OSError) -> TerrainWarning:
    """Say that a raster's pieces cannot be kept, and what is done instead."""
    return TerrainWarning(
        f"Pieces of {raster} cannot be kept in {folder} ({problem.strerror or problem}); each "
        "process reads the raster for itself, which takes longer and gives the same numbers."
    )


@dataclass(frozen=True)
class StoredSource:
    """A raster whose pieces are shared: heights as those of ``source``, to the last bit."""

    source: Source
    store: PieceStore

    @property
    def grid(self) -> Grid:
        """Shape, transform and CRS of the whole."""
        return self.source.grid

    @property
    def name(self) -> str:
        """The path, as given."""
        return self.source.name

    @property
    def tags(self) -> Mapping[str, str]:
        """What the file says of itself."""
        return self.source.tags

    @property
    def array(self) -> None:
        """Nothing is in memory before it is asked for."""
        return None

    def read(self, rows: slice, cols: slice) -> Heights:
        """Give a window in metres."""
        return self.store.window(rows, cols)

    def covered(self, pixels: Pixels) -> NDArray[np.bool_]:
        """Tell where a tile was given, void or not."""
        return self.source.covered(pixels)
