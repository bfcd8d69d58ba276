"""A zip with an outing in it, from anybody: looked at, then unpacked into a folder of its own.

Names are plain names, kinds are those that an outing reads, and every limit is held against what
comes out and not against what the archive says.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

from backbearing.base.errors import BackbearingError, OutingError
from backbearing.base.input_files import MB, check_readable
from backbearing.base.limits import shown
from backbearing.outing.load import load_outing

if TYPE_CHECKING:
    from zipfile import ZipInfo

LARGEST_ZIP_BYTES: Final = 500 * MB
LARGEST_UNPACKED_BYTES: Final = 1_000 * MB
MOST_FILES: Final = 40
MOST_RATIO: Final = 300.0
"""Bytes that come out of one that is packed; heights and text stay far below."""

LARGEST_DIRECTORY_BYTES: Final = 100_000
CHUNK_BYTES: Final = 1 << 20

READ: Final = (".toml", ".tif", ".tiff", ".geojson", ".json", ".gpkg", ".csv", ".svg", ".pbf")
"""Kinds that an outing reads; these are unpacked."""

LEFT: Final = (".html", ".pdf", ".txt", ".ics", ".gpx", ".kml")
"""Kinds that are for people; a stranger's are left in the zip, for the desk makes its own."""

_NAME: Final = re.compile(r"[\w][\w .()+-]{0,119}")
_END: Final = b"PK\x05\x06"


def unpacked(archive: Path, folder: Path, name: str = "") -> Path:
    """Unpack a zip into a new folder and give the outing in it.

    Parameters
    ----------
    archive : Path
    folder : Path
        In which the new one is made.
    name : str, optional
        Of the new folder; the archive's when left out. A number is added where it is taken.

    Returns
    -------
    Path
        The outing, which loads.

    Raises
    ------
    OutingError
        In one sentence why it is not unpacked; nothing stays then.
    """
    check_readable(archive, "an outing's zip", largest_bytes=LARGEST_ZIP_BYTES)
    draft = Path(tempfile.mkdtemp(prefix=".desk-zip-", dir=folder))
    try:
        draft.chmod(0o755)
        _unpack(archive, draft)
        outing = _outing_in(draft)
        place = _placed(draft, folder, name or archive.stem)
    except BaseException:
        shutil.rmtree(draft, ignore_errors=True)
        raise
    return place / outing.name


def _unpack(archive: Path, draft: Path) -> None:
    _check_directory(archive)
    try:
        with zipfile.ZipFile(archive) as held:
            members = _members(held)
            room = LARGEST_UNPACKED_BYTES
            for one in members:
                room -= _take(held, one, draft / one.filename, room)
    except (zipfile.BadZipFile, NotImplementedError, EOFError, RuntimeError) as problem:
        raise _refuse("is damaged, or packed in a way that is not read here") from problem
    except OSError as problem:
        raise _refuse(f"could not be unpacked ({problem.strerror or 'the disk refused'})") from None


def _check_directory(archive: Path) -> None:
    """Look at the directory's size before it is read: a short file may claim millions of names."""
    with archive.open("rb") as file:
        file.seek(max(0, archive.stat().st_size - 65_557))
        tail = file.read()
    at = tail.rfind(_END)
    if at < 0 or len(tail) < at + 22:
        raise _refuse("is no zip, or is cut short")
    count = int.from_bytes(tail[at + 10 : at + 12], "little")
    size = int.from_bytes(tail[at + 12 : at + 16], "little")
    if count > MOST_FILES or size > LARGEST_DIRECTORY_BYTES:
        raise _refuse(f"holds more than {MOST_FILES} files")


def _members(held: zipfile.ZipFile) -> list[ZipInfo]:
    """What is to be unpacked; refuses the whole zip for one name that no outing has."""
    infos = held.infolist()
    if len(infos) > MOST_FILES:
        raise _refuse(f"holds more than {MOST_FILES} files")
    seen: set[str] = set()
    for one in infos:
        mode = one.external_attr >> 16
        suffix = Path(one.filename).suffix.lower()
        plain = _NAME.fullmatch(one.filename) and not one.filename.endswith((".", " "))
        if not plain or one.is_dir() or (mode and not stat.S_ISREG(mode) and stat.S_IFMT(mode)):
            raise _refuse(f"holds {shown(one.filename)}, which is no plain file beside the others")
        if suffix not in READ + LEFT:
            raise _refuse(f"holds {shown(one.filename)}, a kind that no outing has")
        if one.filename.lower() in seen:
            raise _refuse(f"holds {shown(one.filename)} twice")
        if one.flag_bits & 1:
            raise _refuse("is locked with a password")
        seen.add(one.filename.lower())
    return [one for one in infos if Path(one.filename).suffix.lower() in READ]


def _take(held: zipfile.ZipFile, one: ZipInfo, place: Path, room: int) -> int:
    """Unpack one file, counting what comes out."""
    most = min(room, int(MOST_RATIO * max(one.compress_size, 1_000)))
    size = 0
    with held.open(one) as packed, place.open("xb") as out:
        while piece := packed.read(CHUNK_BYTES):
            size += len(piece)
            if size > most:
                raise _refuse(f"holds {shown(one.filename)}, which unpacks to far too much")
            out.write(piece)
    return size


def _outing_in(draft: Path) -> Path:
    """The one outing, held to its own folder as a stranger's."""
    found = sorted(draft.glob("*.toml"))
    if len(found) != 1:
        raise _refuse(f"holds {len(found)} outings, and one is wanted")
    try:
        outing = load_outing(found[0], trusted=False)
        outing.ground.open()
    except BackbearingError as problem:
        said = str(problem).replace(f"{draft}{os.sep}", "")
        raise OutingError(f"The zip's outing cannot be used: {said}") from None
    return found[0]


def _placed(draft: Path, folder: Path, name: str) -> Path:
    """Give the new folder its name, over nothing that is there."""
    plain = re.sub(r"[^\w .()+-]+", "_", name).strip(" ._-")[:80] or "outing"
    for number in range(1, 1_000):
        place = folder / (plain if number == 1 else f"{plain}-{number}")
        if place.exists() or place.is_symlink():
            continue
        draft.rename(place)
        return place
    raise _refuse("has too many namesakes in the folder")


def _refuse(why: str) -> OutingError:
    return OutingError(f"The zip {why}", hint="ask its sender for the desk's own zip")
