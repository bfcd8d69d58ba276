"""Tell a camera's raw file by its first bytes, and read the EXIF that it carries.

Most makers' raw files are TIFF structures with the sensor's mosaic in one of their directories
(TIFF/EP [ISO12234-2]_). Two are not: one begins with its maker's name and holds a JPEG preview
with the whole EXIF, one is a file of boxes (ISO/IEC 14496-12) of which three are TIFF structures.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, BinaryIO, Final

from backbearing.review.tiff_tags import MAGICS, TiffTags, read_tiff

if TYPE_CHECKING:
    from pathlib import Path

_SUBFILE, _PHOTOMETRIC, _RAW_VERSION = 254, 262, 50706
_COLOUR_FILTERS, _LINEAR_RAW = 32803, 34892
_RAF: Final = b"FUJIFILMCCD-RAW"
_CR3: Final = b"ftypcrx "
_CR3_BOXES: Final = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
_MOST_BOXES: Final = 200
_PREVIEW_HEAD: Final = 200_000

HEIC_BRANDS: Final = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1")
"""Kinds of the file of boxes that hold pictures which are not read here."""


def head_of(path: Path) -> bytes:
    """The first bytes of a file; none of what cannot be read or is no file, such as a pipe."""
    if not path.is_file():
        return b""
    try:
        with path.open("rb") as file:
            return file.read(32)
    except OSError:
        return b""


def is_heic(head: bytes) -> bool:
    """Whether a file begins as a HEIC picture does."""
    return head[4:8] == b"ftyp" and head[8:12] in HEIC_BRANDS


def is_raw_file(path: Path) -> bool:
    """Whether a file is a camera's raw file."""
    head = head_of(path)
    if head.startswith(_RAF) or head[4:12] == _CR3 or head[8:10] == b"CR":
        return True
    if head[:2] not in (b"II", b"MM"):
        return False
    magic = int.from_bytes(head[2:4], "little" if head[:1] == b"I" else "big")
    if magic != MAGICS[0]:
        return magic in MAGICS
    tags = raw_tags(path)
    return tags is not None and _has_mosaic(tags)


def _has_mosaic(tags: TiffTags) -> bool:
    """Whether a TIFF structure poses as a picture and shows only a small preview of it."""
    return (
        tags.main.get(_SUBFILE) == 1
        or _RAW_VERSION in tags.main
        or any(one.get(_PHOTOMETRIC) in (_COLOUR_FILTERS, _LINEAR_RAW) for one in tags.pictures)
    )


def raw_tags(path: Path) -> TiffTags | None:
    """EXIF of a raw file; None where none is found."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(32)
        if head.startswith(_RAF):
            return _in_preview(file, size)
        if head[4:12] == _CR3:
            return _in_boxes(file, size)
        return read_tiff(file, size=size)


def _in_preview(file: BinaryIO, size: int) -> TiffTags | None:
    """EXIF of the JPEG whose place stands at byte 84."""
    file.seek(84)
    head = file.read(8)
    if len(head) < 8:
        return None
    place, length = struct.unpack(">II", head)
    file.seek(min(place, size))
    begin = file.read(min(length, _PREVIEW_HEAD)).find(b"Exif\x00\x00")
    if begin < 0:
        return None
    return read_tiff(file, start=place + begin + 6, size=min(length, size - place) - begin - 6)


def _in_boxes(file: BinaryIO, size: int) -> TiffTags | None:
    """EXIF spread over boxes: the main directory, EXIF's own and the GPS one."""
    found: dict[bytes, TiffTags] = {}
    for kind, start, end in _boxes(file, 0, size):
        if kind != b"moov":
            continue
        for inner, within, inner_end in _boxes(file, start, end):
            file.seek(within)
            if inner != b"uuid" or file.read(16) != _CR3_BOXES:
                continue
            for name, place, last in _boxes(file, within + 16, inner_end):
                if name in (b"CMT1", b"CMT2", b"CMT4"):
                    tags = read_tiff(file, start=place, size=last - place)
                    found |= {} if tags is None else {name: tags}
    if not found:
        return None
    main, exif, gps = (
        found[name].main if name in found else {} for name in (b"CMT1", b"CMT2", b"CMT4")
    )
    return TiffTags(main, exif, gps, (main,))


def _boxes(file: BinaryIO, start: int, end: int) -> list[tuple[bytes, int, int]]:
    """Kind, first byte and end of each box of a stretch."""
    found: list[tuple[bytes, int, int]] = []
    place = start
    while place + 8 <= end and len(found) < _MOST_BOXES:
        file.seek(place)
        head = file.read(16)
        if len(head) < 8:
            break
        length, kind = struct.unpack(">I4s", head[:8])
        begin = 8
        if length == 1 and len(head) == 16:
            (length,) = struct.unpack(">Q", head[8:])
            begin = 16
        elif length == 0:
            length = end - place
        if length < begin or place + length > end:
            break
        found.append((kind, place + begin, place + length))
        place += length
    return found
