"""Tiles that one brought oneself: found in a folder, a zip or a tar, checked, and kept like others.

Nothing is unpacked to a path that an archive names: of each member only the content is read, up to
a bound, into a file of our own name in the cache. Links are left alone. A tile is known by its
content; where its name says a corner too, the two must agree.
"""

from __future__ import annotations

import lzma
import os
import stat
import tarfile
import zipfile
import zlib
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePosixPath
from typing import IO, TYPE_CHECKING, Final, NamedTuple

from backbearing.base.errors import BackbearingError, FetchError, TerrainError
from backbearing.base.input_files import is_missing, shown_path
from backbearing.fetching.tile_check import check_tile, corner_of
from backbearing.fetching.tile_scheme import Corner, corner_in
from backbearing.terrain.reading.files import ReadingOptions, open_file

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from backbearing.fetching.cache import TileCache
    from backbearing.fetching.source import TileSource

SUFFIXES: Final = (".tif", ".tiff", ".hgt")

MOST_MEMBERS: Final = 100_000
MOST_TAKEN: Final = 5_000
COPIED_BYTES: Final = 1024 * 1024


_UNREADABLE: Final = (
    *(OSError, EOFError, RuntimeError, NotImplementedError, zlib.error, lzma.LZMAError),
    *(zipfile.BadZipFile, tarfile.TarError),
)


class Taken(NamedTuple):
    """What came of a folder or archive.

    Attributes
    ----------
    corners : tuple of Corner
        Tiles that are in the cache now.
    refused : tuple of str
        A sentence for each file that looked like a tile and was not taken.
    passed_over : int
        Other files.
    """

    corners: tuple[Corner, ...]
    refused: tuple[str, ...]
    passed_over: int


@dataclass(frozen=True, slots=True)
class Offered:
    """A file that may be a tile: its name, and how to read it."""

    name: str
    opened: Callable[[], IO[bytes]]
    link: bool = False


def take(
    named: Path, sources: Sequence[TileSource], cache: TileCache
) -> tuple[TileSource | None, Taken]:
    """Take the tiles in a folder, zip or tar into the cache.

    Parameters
    ----------
    named : Path
        The folder or archive; a single raster will do too.
    sources : sequence of TileSource
        Whose tiles they may be; the first with whose layout a tile agrees gets it, and all
        others must be of that one.
    cache : TileCache
        Where they are kept.

    Raises
    ------
    FetchError
        When there is nothing there, or no archive that can be read.
    """
    taken: list[Corner] = []
    refused: list[str] = []
    passed_over, source = 0, None
    with _offers(named) as offers:
        for one in offers:
            suffix = PurePosixPath(one.name).suffix.lower()
            if suffix not in SUFFIXES:
                passed_over += 1
                continue
            short = shown_path(Path(PurePosixPath(one.name).name))
            if one.link:
                refused.append(f"{short} is a link; put the file itself there")
                continue
            try:
                found, corner = _taken(one, suffix, [source] if source else sources, cache)
            except BackbearingError as problem:
                refused.append(str(problem).rstrip("."))
                continue
            source = found
            taken.append(corner)
            if len(taken) >= MOST_TAKEN:
                break
    return source, Taken(tuple(dict.fromkeys(taken)), tuple(refused), passed_over)


def _taken(
    one: Offered, suffix: str, sources: Sequence[TileSource], cache: TileCache
) -> tuple[TileSource, Corner]:
    """Copy a file aside, find out what it is, and put it in its place."""
    named = PurePosixPath(one.name).name
    said = corner_in(named)
    # The driver of .hgt reads the corner in the name, so that it keeps one.
    plain = f"{said.name if said else 'tile'}{suffix}"
    draft_folder = cache.folder / f".{os.getpid()}"
    draft_folder.mkdir(parents=True, exist_ok=True)
    draft = draft_folder / plain
    try:
        _copy(one, draft, max(_most_bytes(source, said) for source in sources))
        source, corner = _recognised(draft, named, said, suffix, sources)
        check_tile(draft, source, corner, said=named)
        place = cache.made_home(source) / source.file_name(corner)
        draft.replace(place)
    finally:
        draft.unlink(missing_ok=True)
        with suppress(OSError):
            draft_folder.rmdir()
    return source, corner


def _most_bytes(source: TileSource, corner: Corner | None) -> int:
    return source.most_bytes(corner or Corner(0, 0))


def _copy(one: Offered, draft: Path, most_bytes: int) -> None:
    """Copy a file's content, and no more than a tile can have."""
    named = PurePosixPath(one.name).name
    copied = 0
    with draft.open("wb") as out:
        for piece in _pieces(one, named):
            copied += len(piece)
            if copied > most_bytes:
                raise FetchError(
                    f"{named} holds more than {most_bytes:,} bytes, more than such a tile has; it "
                    "was not kept"
                )
            out.write(piece)


def _pieces(one: Offered, named: str) -> Iterator[bytes]:
    """Give the content piece by piece; decompressors fail in ways that share no base."""
    try:
        with one.opened() as content:
            while piece := content.read(COPIED_BYTES):
                yield piece
    except _UNREADABLE as problem:
        raise FetchError(f"{named} cannot be unpacked ({problem}); it was not kept") from problem


def _recognised(
    draft: Path, named: str, said: Corner | None, suffix: str, sources: Sequence[TileSource]
) -> tuple[TileSource, Corner]:
    """Find whose tile a file is, and which."""
    try:
        grid = open_file(draft, ReadingOptions()).grid
    except TerrainError as problem:
        text = str(problem).replace(str(draft), named).rstrip(".")
        raise FetchError(f"{text}; it was not kept") from problem
    held = None
    for source in sources:
        if source.scheme.shared_edge != (suffix == ".hgt"):
            continue
        corner = corner_of(grid, source)
        if corner is not None and said in (None, corner):
            return source, corner
        held = held or corner
    if held is not None and said is not None:
        raise FetchError(f"{named} says {said.name} and holds {held.name}", hint="it was not kept")
    names = ", ".join(source.name for source in sources)
    rows, cols = grid.shape
    raise FetchError(
        f"{named} holds {rows} x {cols} cells that are no tile of {names}",
        hint="name its product with --source, or write the file itself as [ground] elevation",
    )


@contextmanager
def _offers(named: Path) -> Iterator[Iterator[Offered]]:
    """Open a folder, a zip, a tar or one raster."""
    if is_missing(named):
        raise FetchError(
            f"There is nothing at {shown_path(named)}", hint="name a folder, a zip or a tar"
        )
    if named.is_dir():
        yield _of_folder(named)
    elif named.suffix.lower() in SUFFIXES:
        yield iter((_of_file(named, named),))
    elif stat.S_ISREG(named.stat().st_mode) and zipfile.is_zipfile(named):
        with zipfile.ZipFile(named) as archive:
            yield _of_zip(archive, named)
    elif stat.S_ISREG(named.stat().st_mode) and tarfile.is_tarfile(named):
        with tarfile.open(named) as packed:
            yield _of_tar(packed, named)
    else:
        raise FetchError(
            f"{shown_path(named)} is no folder, zip or tar", hint="name one that holds tiles"
        )


def _of_folder(folder: Path) -> Iterator[Offered]:
    seen = 0
    for home, folders, files in os.walk(folder):
        folders.sort()
        for name in sorted(files):
            seen += 1
            _bounded(seen, folder)
            path = Path(home, name)
            if path.suffix.lower() == ".zip" and not path.is_symlink() and zipfile.is_zipfile(path):
                # Some makers pack each tile by itself.
                with zipfile.ZipFile(path) as archive:
                    yield from _of_zip(archive, path)
            else:
                yield _of_file(path, folder)


def _of_file(path: Path, named: Path) -> Offered:
    plain = path.is_file() and not (path.is_symlink() and path != named)
    return Offered(path.name, lambda: path.open("rb"), link=not plain)


def _of_zip(archive: zipfile.ZipFile, named: Path) -> Iterator[Offered]:
    for seen, member in enumerate(archive.infolist(), start=1):
        _bounded(seen, named)
        if member.is_dir():
            continue
        kind = stat.S_IFMT(member.external_attr >> 16)
        # A member's content alone is read; its path is never gone to.
        yield Offered(
            member.filename,
            partial(archive.open, member),
            link=kind not in (0, stat.S_IFREG),
        )


def _of_tar(archive: tarfile.TarFile, named: Path) -> Iterator[Offered]:
    seen = 0
    try:
        for member in archive:
            seen += 1
            _bounded(seen, named)
            if member.isdir():
                continue
            yield Offered(
                member.name,
                partial(_content, archive, member),
                link=not member.isreg(),
            )
    except (tarfile.TarError, EOFError, OSError) as problem:
        raise FetchError(
            f"{shown_path(named)} is cut short or damaged ({problem})", hint="fetch it anew"
        ) from problem


def _content(archive: tarfile.TarFile, member: tarfile.TarInfo) -> IO[bytes]:
    content = archive.extractfile(member)
    if content is None:
        raise EOFError("no content")
    return content


def _bounded(seen: int, named: Path) -> None:
    if seen > MOST_MEMBERS:
        raise FetchError(
            f"{shown_path(named)} holds more than {MOST_MEMBERS:,} files",
            hint="put the tiles alone into a folder",
        )
