"""A folder of arrays that processes of one machine share: mapped, bounded, never in the way.

Every file is written beside its place and renamed. The folder and those beside it hold no more
than they may: what was used longest ago goes first. A disk that refuses is told once, and from
then on nothing is kept or found.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import sys
import tempfile
import warnings
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.terrain.reading.sources import TerrainWarning

if sys.platform != "win32":
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Singles = NDArray[np.float32]

FREE_SHARE: Final = 0.5
"""Of the room that a disk has left, the most that pieces may come to."""

CLAIMS, IN_USE, SAID = BESIDE = "claims", "in-use", "said"
"""Files beside the pieces: bytes to lock, a lock held while a process has the folder open, and
what reading the raster gave cause to warn of."""

DRAFT: Final = ".draft-"


class PieceFolder:
    """Arrays of single precision in files, each by its name.

    Parameters
    ----------
    folder : Path
        Made when missing; the folders beside it count towards ``most_bytes``.
    raster : str
        What the arrays are of, for the sentence of a disk that refuses.
    most_bytes : int
        What all of them may come to; never more than half of what the disk has left.

    Raises
    ------
    OSError
        When the folder cannot be made, is somebody else's, or cannot be written to.
    """

    def __init__(self, folder: Path, raster: str, *, most_bytes: int) -> None:
        self.folder, self._raster = folder, raster
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if hasattr(os, "getuid") and folder.stat().st_uid != os.getuid():
            raise PermissionError(0, "it belongs to somebody else", str(folder))
        taken = sum(size for _, size, _ in self.files())
        room = int(FREE_SHARE * (shutil.disk_usage(folder).free + taken))
        self._most_bytes = min(most_bytes, room)
        # Two files: some network disks make one kind of lock of both.
        self._in_use: int | None = os.open(folder / IN_USE, os.O_RDWR | os.O_CREAT, 0o600)
        self._claims = os.open(folder / CLAIMS, os.O_RDWR | os.O_CREAT, 0o600)
        self._hold(shared=True)
        self.works = True

    def mapped(self, name: str, shape: tuple[int, int]) -> Singles | None:
        """Map an array; None where there is none that is whole."""
        if not self.works:
            return None
        path = self.folder / name
        try:
            if path.stat().st_size != 4 * shape[0] * shape[1]:
                return None
            os.utime(path)
            return np.asarray(np.memmap(path, dtype=np.float32, mode="r", shape=shape))
        except (OSError, ValueError):
            return None

    def read(self, name: str, count: int) -> Singles | None:
        """Read so many numbers; None where there is no file of just so many."""
        if not self.works:
            return None
        try:
            found = np.fromfile(self.folder / name, dtype=np.float32)
        except OSError:
            return None
        return found if len(found) == count else None

    def write(self, name: str, parts: Sequence[Singles]) -> bool:
        """Write arrays one after another as one file; tell whether it is there."""
        return self.write_rows([name], ([part] for part in parts), sum(p.nbytes for p in parts))

    def write_rows(
        self, names: Sequence[str], rows: Iterator[Sequence[Singles]], nbytes: int
    ) -> bool:
        """Write several files side by side, some rows of each at a time.

        Parameters
        ----------
        names : sequence of str
        rows : iterator
            Each time the next rows of every file.
        nbytes : int
            What all of them will come to.
        """
        if not self.works:
            return False
        drafts: list[Path] = []
        try:
            self._make_room(nbytes)
            with ExitStack() as opened:
                files = [opened.enter_context(self._draft(drafts)) for _ in names]
                for some in rows:
                    for file, part in zip(files, some, strict=True):
                        file.write(np.ascontiguousarray(part).data)
            for name, draft in zip(names, drafts, strict=True):
                draft.replace(self.folder / name)
        except OSError as problem:
            self._give_up(problem)
            return False
        finally:
            for draft in drafts:
                with suppress(OSError):
                    draft.unlink()
        return True

    def _draft(self, drafts: list[Path]) -> Any:
        handle, name = tempfile.mkstemp(dir=self.folder, prefix=DRAFT)
        drafts.append(Path(name))
        return os.fdopen(handle, "wb")

    def remove(self, name: str) -> None:
        """Remove a file, if it is there and can be."""
        with suppress(OSError):
            (self.folder / name).unlink()

    @contextmanager
    def claimed(self, number: int) -> Iterator[None]:
        """Let one process at a time do something; all of them where the disk knows no locks."""
        if sys.platform == "win32" or not self.works:
            yield
            return
        with suppress(OSError):
            fcntl.lockf(self._claims, fcntl.LOCK_EX, 1, number)
        try:
            yield
        finally:
            with suppress(OSError):
                fcntl.lockf(self._claims, fcntl.LOCK_UN, 1, number)

    def note(self, said: Sequence[str]) -> None:
        """Keep what was warned of for those who will not read the raster any more."""
        if said and self.works:
            with suppress(OSError), (self.folder / SAID).open("a", encoding="utf-8") as file:
                file.writelines(f"{' '.join(one.split())}\n" for one in said)

    def noted(self) -> list[str]:
        """What others have noted."""
        with suppress(OSError, UnicodeDecodeError):
            return (self.folder / SAID).read_text(encoding="utf-8").splitlines()
        return []

    def close(self, *, remove: bool) -> None:
        """Let go of the folder, and remove it unless another process has it open."""
        if self._in_use is None:
            return
        self.works = False
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

    def _make_room(self, bytes_more: int) -> None:
        """Remove what was used longest ago until so much more may be written."""
        files = sorted(self.files())
        over = sum(size for _, size, _ in files) + bytes_more - self._most_bytes
        for _, size, path in files:
            if over <= 0:
                break
            with suppress(OSError):
                path.unlink()
            over -= size
        if over > 0:
            raise OSError(errno.ENOSPC, "there is no room for a single one")

    def files(self) -> list[tuple[int, int, Path]]:
        """When each file was last used, its bytes and path, for all rasters."""
        found = []
        for path in self.folder.parent.glob("*/*"):
            # Others write and remove here too.
            with suppress(OSError):
                told = path.lstat()
                if stat.S_ISREG(told.st_mode) and path.name not in BESIDE:
                    found.append((told.st_mtime_ns, told.st_size, path))
        return found

    def _give_up(self, problem: OSError) -> None:
        self.works = False
        warnings.warn(cannot_share(self._raster, self.folder, problem), stacklevel=4)


def cannot_share(raster: str, folder: Path, problem: OSError) -> TerrainWarning:
    """Say that a raster's pieces cannot be kept, and what is done instead."""
    return TerrainWarning(
        f"Pieces of {raster} cannot be kept in {folder} ({problem.strerror or problem}); each "
        "process reads the raster for itself, which takes longer and gives the same numbers."
    )
