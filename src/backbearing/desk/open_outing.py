"""Which outing lies on the desk: none yet, one, or another one, without a restart."""

from __future__ import annotations

import hashlib
import threading
from typing import TYPE_CHECKING

from backbearing.base.errors import OutingError
from backbearing.desk.night_answers import NightAnswers
from backbearing.desk.outing_on_disk import OutingOnDisk
from backbearing.desk.raster_tiles import RasterTiles
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence
    from pathlib import Path

    from backbearing.outing.request import GroundRequest
    from backbearing.terrain.elevation import Elevation


class OpenOuting:
    """The outing on the desk, its answers, and its ground as it lies on disk now.

    Parameters
    ----------
    file : Path or None
        None where nothing is chosen yet.
    folder : Path
        The only folder that the page may choose from and write to.
    """

    def __init__(self, file: Path | None, folder: Path) -> None:
        self.folder = folder.resolve()
        self._outing: OutingOnDisk | None = None
        self._answers: NightAnswers | None = None
        self._raster: tuple[Hashable, Elevation, RasterTiles, str] | None = None
        self._lock = threading.RLock()
        if file is not None:
            self.open(file)

    @property
    def is_open(self) -> bool:
        """Whether an outing lies on the desk."""
        return self._outing is not None

    @property
    def outing(self) -> OutingOnDisk:
        """The outing.

        Raises
        ------
        OutingError
            Where none is open.
        """
        if self._outing is None:
            raise OutingError("No outing is open", hint="load the page again")
        return self._outing

    @property
    def answers(self) -> NightAnswers:
        """What is asked of it; raises as `outing` does."""
        if self._answers is None:
            raise OutingError("No outing is open", hint="load the page again")
        return self._answers

    def open(self, file: Path) -> None:
        """Lay an outing on the desk in the place of what lay there.

        Raises
        ------
        OutingError
            When it cannot be loaded; what lay there stays.
        """
        load_outing(file)
        with self._lock:
            outing = OutingOnDisk(file)
            self._outing, self._answers = outing, NightAnswers(outing)
            self._raster = None

    def leave(self) -> None:
        """Take the outing off the desk; its file stays as it was kept."""
        with self._lock:
            self._outing = self._answers = self._raster = None

    @property
    def elevation(self) -> Elevation:
        """The raster that the outing names now, opened anew where it or its files changed."""
        return self._opened()[0]

    @property
    def tiles(self) -> RasterTiles:
        """Its ground as tiles."""
        return self._opened()[1]

    @property
    def raster_key(self) -> str:
        """A name of the raster as it lies on disk now, so that no old tile is shown for it."""
        return self._opened()[2]

    def _opened(self) -> tuple[Elevation, RasterTiles, str]:
        with self._lock:
            ground = load_outing(self.outing.file).ground
            state = _state(ground)
            if self._raster is None or self._raster[0] != state:
                if self._raster is not None:
                    self._answers = NightAnswers(self.outing)  # its nights stood on the old ground
                elevation = ground.open()
                self._raster = state, elevation, RasterTiles(elevation), _key(state)
            return self._raster[1:]


def _state(ground: GroundRequest) -> Hashable:
    """What a raster on disk is known by: how it is read, and its files' times and sizes."""
    how = (ground.vertical_unit, ground.voids, ground.band)
    return (*how, *files_state((*ground.elevation, *ground.cover.files)))


def _key(state: Hashable) -> str:
    return hashlib.sha256(repr(state).encode("utf-8", "surrogateescape")).hexdigest()[:12]


def files_state(files: Sequence[Path]) -> tuple[Hashable, ...]:
    """Paths of files with their times and sizes."""
    known: list[Hashable] = []
    for file in files:
        try:
            found = file.stat()
        except OSError:
            known.append((file, 0, 0))
        else:
            known.append((file, found.st_mtime_ns, found.st_size))
    return tuple(known)
