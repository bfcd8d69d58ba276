"""Read the directories of a TIFF structure, as raw files hold them, with every length bounded.

The structure is that of TIFF 6.0 with the pointers of EXIF [CIPA-DC-008]_ and of TIFF/EP
[ISO12234-2]_. A value that lies outside of the file, is of an unknown kind or longer than any
that is asked for here is left out; a directory that points to itself is read once.
"""

from __future__ import annotations

import math
import struct
from typing import TYPE_CHECKING, Any, BinaryIO, Final, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

SUB_DIRECTORIES: Final = 330
EXIF_DIRECTORY, GPS_DIRECTORY = 0x8769, 0x8825

MAGICS: Final = (42, 0x4F52, 0x5352, 0x0055)
"""After the byte order: of TIFF itself, and of makers whose raw files are TIFF but for it."""

MOST_ENTRIES: Final = 1000
MOST_DIRECTORIES: Final = 24
MOST_VALUE_BYTES: Final = 4096

_KINDS: Final = {
    1: "B", 2: "s", 3: "H", 4: "I", 5: "II", 6: "b", 7: "s", 8: "h", 9: "i", 10: "ii", 11: "f",
    12: "d", 13: "I",
}  # fmt: skip

Tags = dict[int, Any]


class TiffTags(NamedTuple):
    """What a TIFF structure says: its first directory, EXIF, GPS, and all its pictures' own."""

    main: Tags
    exif: Tags
    gps: Tags
    pictures: tuple[Tags, ...]


class _Bytes(NamedTuple):
    file: BinaryIO
    start: int
    size: int
    order: str

    def at(self, offset: int, count: int) -> bytes:
        """Bytes from an offset; empty where they are not all there."""
        if offset < 0 or count <= 0 or offset + count > self.size:
            return b""
        self.file.seek(self.start + offset)
        found = self.file.read(count)
        return found if len(found) == count else b""


def read_tiff(file: BinaryIO, *, start: int = 0, size: int) -> TiffTags | None:
    """Read the directories of a TIFF structure that begins at a place of a file.

    Parameters
    ----------
    file : binary file
    start : int
        Where its byte order mark stands.
    size : int
        Bytes from there that may belong to it.

    Returns
    -------
    TiffTags or None
        None where there is no TIFF structure.
    """
    file.seek(start)
    head = file.read(8)
    order = {b"II": "<", b"MM": ">"}.get(head[:2])
    if order is None or len(head) < 8:
        return None
    magic, first = struct.unpack(f"{order}HI", head[2:])
    if magic not in MAGICS:
        return None
    held = _Bytes(file, start, size, order)
    pictures = tuple(_pictures(held, first))
    if not pictures:
        return None
    main = pictures[0]
    # Most raw files hang EXIF on the first directory; some on another.
    exif, gps = (
        next((_directory(held, one[tag])[0] for one in pictures if _is_place(one.get(tag))), {})
        for tag in (EXIF_DIRECTORY, GPS_DIRECTORY)
    )
    return TiffTags(main, exif, gps, pictures)


def _pictures(held: _Bytes, first: int) -> Iterator[Tags]:
    """Each directory of the chain and below it, once."""
    waiting, seen = [first], set[int]()
    while waiting and len(seen) < MOST_DIRECTORIES:
        place = waiting.pop(0)
        if place in seen or place == 0:
            continue
        seen.add(place)
        tags, following = _directory(held, place)
        if not tags:
            continue
        below = tags.get(SUB_DIRECTORIES)
        places = below if isinstance(below, tuple) else (below,)
        waiting += [one for one in places if _is_place(one)]
        waiting.append(following)
        yield tags


def _is_place(value: Any) -> bool:
    return isinstance(value, int) and value > 0


def _directory(held: _Bytes, place: int) -> tuple[Tags, int]:
    """One directory's tags, and where the next stands; 0 for none."""
    head = held.at(place, 2)
    count = struct.unpack(f"{held.order}H", head)[0] if head else 0
    if not 0 < count <= MOST_ENTRIES:
        return {}, 0
    rows = held.at(place + 2, 12 * count)
    tags: Tags = {}
    for k in range(len(rows) // 12):
        tag, kind, number = struct.unpack(f"{held.order}HHI", rows[12 * k : 12 * k + 8])
        value = _value(held, kind, number, rows[12 * k + 8 : 12 * k + 12])
        if value is not None:
            tags.setdefault(tag, value)
    end = held.at(place + 2 + 12 * count, 4)
    return tags, struct.unpack(f"{held.order}I", end)[0] if end else 0


def _value(held: _Bytes, kind: int, number: int, own: bytes) -> Any:
    """A value: a number, a tuple of numbers, or bytes; None where it cannot be had."""
    shape = _KINDS.get(kind)
    if shape is None or not 0 < number <= MOST_VALUE_BYTES:
        return None
    size = number if shape == "s" else number * struct.calcsize(f"={shape}")
    if size > MOST_VALUE_BYTES:
        return None
    body = own[:size] if size <= 4 else held.at(struct.unpack(f"{held.order}I", own)[0], size)
    if not body:
        return None
    if shape == "s":
        return body
    numbers = struct.unpack(f"{held.order}{shape * number}", body)
    if len(shape) == 2:
        numbers = tuple(
            above / below if below else math.nan
            for above, below in zip(numbers[::2], numbers[1::2], strict=True)
        )
    return numbers[0] if number == 1 else numbers
