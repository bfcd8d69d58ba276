"""Raw files written here byte by byte: a DNG of a mosaic, and the two kinds that are no TIFF.

Tags as in TIFF 6.0, TIFF/EP (ISO 12234-2), CIPA DC-008 and the DNG specification 1.4, from memory
of their tables; the decoder that reads them back is a library of its own.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

BLACK, WHITE = 512, 16000

Entry = tuple[int, int, tuple[Any, ...] | bytes]
BYTE, ASCII, SHORT, LONG, RATIONAL, SIGNED_RATIONAL = 1, 2, 3, 4, 5, 10
_SIZES = {BYTE: "B", SHORT: "H", LONG: "I", RATIONAL: "I", SIGNED_RATIONAL: "i"}

EXIF: list[Entry] = [
    (0x829A, RATIONAL, (13, 1)),
    (0x829D, RATIONAL, (28, 10)),
    (0x8827, SHORT, (3200,)),
    (0x9003, ASCII, b"2027:06:06 01:24:30\x00"),
    (0x9011, ASCII, b"-04:00\x00"),
    (0x920A, RATIONAL, (24, 1)),
]
GPS: list[Entry] = [
    (1, ASCII, b"N\x00"),
    (2, RATIONAL, (36, 1, 24, 1, 0, 1)),
    (3, ASCII, b"W\x00"),
    (4, RATIONAL, (84, 1, 21, 1, 36, 1)),
]


def _packed(order: str, kind: int, value: tuple[Any, ...] | bytes) -> tuple[int, bytes]:
    if isinstance(value, bytes):
        return len(value), value
    body = struct.pack(f"{order}{len(value)}{_SIZES[kind]}", *value)
    return len(value) // (2 if kind in (RATIONAL, SIGNED_RATIONAL) else 1), body


def directory(order: str, entries: list[Entry], start: int) -> bytes:
    """Lay out one directory at a place, its longer values behind it, and no next one."""
    entries = sorted(entries, key=lambda entry: entry[0])
    rows, after = b"", b""
    place = start + 2 + 12 * len(entries) + 4
    for tag, kind, value in entries:
        count, body = _packed(order, kind, value)
        if len(body) > 4:
            body += bytes(len(body) % 2)
            own = struct.pack(f"{order}I", place + len(after))
            after += body
        else:
            own = body.ljust(4, b"\x00")
        rows += struct.pack(f"{order}HHI", tag, kind, count) + own
    return struct.pack(f"{order}H", len(entries)) + rows + bytes(4) + after


def tiff(order: str, entries: list[Entry], magic: int = 42) -> bytes:
    """Lay out a TIFF structure with EXIF and GPS, and nothing else."""
    mark = b"II" if order == "<" else b"MM"
    held = directory(order, EXIF, 8)
    gps_at = 8 + len(held)
    held += directory(order, GPS, gps_at)
    own = [*entries, (0x8769, LONG, (8,)), (0x8825, LONG, (gps_at,))]
    first = 8 + len(held)
    return mark + struct.pack(f"{order}HI", magic, first) + held + directory(order, own, first)


def mosaic_of(light: NDArray[Any], white_balance: tuple[float, ...] = (0.5, 1.0, 0.7)) -> Any:
    """Sample linear light (rows, columns) or (rows, columns, 3) as RGGB counts."""
    if light.ndim == 2:
        light = np.repeat(light[:, :, None], 3, axis=2)
    colours = np.array([[0, 1], [1, 2]])
    rows, columns = np.mgrid[: light.shape[0], : light.shape[1]]
    which = colours[rows % 2, columns % 2]
    taken = np.take_along_axis(light, which[:, :, None], axis=2)[:, :, 0]
    counts = BLACK + taken * np.array(white_balance)[which] * (WHITE - BLACK)
    return np.clip(counts.round(), 0, WHITE).astype("<u2")


def dng(
    mosaic: NDArray[np.uint16],
    *,
    orientation: int = 1,
    white_balance: tuple[float, ...] = (0.5, 1.0, 0.7),
) -> bytes:
    """Write a DNG of an RGGB mosaic, uncompressed, whose colours are sRGB's."""
    rows, columns = mosaic.shape
    # XYZ to linear sRGB (IEC 61966-2-1): the camera's own colours are then sRGB's.
    matrix = (32406, -15372, -4986, -9689, 18758, 415, 557, -2040, 10570)
    neutral = tuple(n for one in white_balance for n in (round(one * 1000), 1000))
    body = np.ascontiguousarray(mosaic, dtype="<u2").tobytes()
    held = directory("<", EXIF, 8)
    gps_at = 8 + len(held)
    held += directory("<", GPS, gps_at)
    pixels_at = 8 + len(held)
    first = pixels_at + len(body)
    entries: list[Entry] = [
        (254, LONG, (0,)),
        (256, LONG, (columns,)),
        (257, LONG, (rows,)),
        (258, SHORT, (16,)),
        (259, SHORT, (1,)),
        (262, SHORT, (32803,)),
        (271, ASCII, b"Invented\x00"),
        (272, ASCII, b"Mosaic One\x00"),
        (273, LONG, (pixels_at,)),
        (274, SHORT, (orientation,)),
        (277, SHORT, (1,)),
        (278, LONG, (rows,)),
        (279, LONG, (len(body),)),
        (0x8769, LONG, (8,)),
        (0x8825, LONG, (gps_at,)),
        (33421, SHORT, (2, 2)),
        (33422, BYTE, (0, 1, 1, 2)),
        (50706, BYTE, (1, 4, 0, 0)),
        (50708, ASCII, b"Invented Mosaic One\x00"),
        (50714, SHORT, (BLACK,)),
        (50717, SHORT, (WHITE,)),
        (50721, SIGNED_RATIONAL, tuple(n for one in matrix for n in (one, 10000))),
        (50728, RATIONAL, neutral),
        (50778, SHORT, (21,)),
    ]
    return b"II" + struct.pack("<HI", 42, first) + held + body + directory("<", entries, first)


def box(kind: bytes, body: bytes) -> bytes:
    """One box of ISO/IEC 14496-12."""
    return struct.pack(">I4s", 8 + len(body), kind) + body


def boxes() -> bytes:
    """A file of boxes as one maker's raw files are, with EXIF and no picture."""
    plain = b"II" + struct.pack("<HI", 42, 8)
    parts = [
        (b"CMT1", plain + directory("<", [(272, ASCII, b"Box One\x00")], 8)),
        (b"CMT2", plain + directory("<", EXIF, 8)),
        (b"CMT4", plain + directory("<", GPS, 8)),
    ]
    inner = bytes.fromhex("85c0b687820f11e08111f4ce462b6a48")
    inner += b"".join(box(kind, body) for kind, body in parts)
    return box(b"ftyp", b"crx \x00\x00\x00\x01crx isom") + box(b"moov", box(b"uuid", inner))


def with_preview() -> bytes:
    """A file that begins with its maker's name and holds its EXIF in a JPEG preview."""
    exif = b"Exif\x00\x00" + tiff(">", [(272, ASCII, b"Preview One\x00")])
    jpeg = b"\xff\xd8\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif + b"\xff\xd9"
    head = b"FUJIFILMCCD-RAW 0201".ljust(84, b"\x00") + struct.pack(">II", 160, len(jpeg))
    return head.ljust(160, b"\x00") + jpeg
