"""Read what a camera wrote into a frame: EXIF, with every field open to doubt.

Fields and tags as in the standard [CIPA-DC-008]_. A field that is missing, damaged or
impossible is NaN, None or empty, and a note says so where it matters.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from backbearing.base.input_files import checked_path
from backbearing.review.exif_place import GpsFix, read_gps
from backbearing.review.exif_values import number, positive, text
from backbearing.review.frame_error import FrameError, damaged
from backbearing.review.picture import open_picture
from backbearing.review.raw_apart import raw_size
from backbearing.review.raw_file import is_raw_file, raw_tags

if TYPE_CHECKING:
    from pathlib import Path

    from PIL.Image import Image

    _Tables = tuple[dict[int, Any], dict[int, Any], dict[int, Any]]

_EXIF, _GPS = 0x8769, 0x8825
_MODEL, _ORIENTATION = 0x0110, 0x0112
_SHUTTER, _F_NUMBER, _ISO = 0x829A, 0x829D, 0x8827
_TIME, _OFFSET, _SUBSECONDS = 0x9003, 0x9011, 0x9291
_SHUTTER_APEX, _APERTURE_APEX = 0x9201, 0x9202
_FOCAL, _FOCAL_135, _LENS_MODEL = 0x920A, 0xA405, 0xA434
_OTHER_ISO: Final = (0x8833, 0x8832, 0x8831)
_ISO_FULL: Final = 65535
"""The 16-bit field holds no more; a larger sensitivity stands in a field of its own."""

_WALL = re.compile(r"(\d{4}):(\d{2}):(\d{2}) (\d{2}):(\d{2}):(\d{2})")
_OFFSET_TEXT = re.compile(r"([+-])(\d{2}):(\d{2})")
EARLIEST_YEAR: Final = 1995
"""A frame dated before this comes from a clock that was never set."""

LATEST_YEAR: Final = 2199
"""The same of a frame dated after this."""

LONGEST_SHUTTER_S: Final = 86_400.0
"""A shutter open for more than a day is a slip of the writer; it counts as unknown."""


@dataclass(frozen=True, slots=True)
class FrameExif:
    """What one frame says of itself.

    Attributes
    ----------
    path : Path
    width_px, height_px : int
        Of the picture, as one looks at it.
    camera, lens : str
        Names as written there: hostile text, at most 80 characters.
    focal_length_mm, focal_length_135_mm : float
        NaN where unknown; the second is the equivalent on 135 film.
    shutter_s, f_number, iso : float
        NaN where unknown.
    wall_time : datetime or None
        The camera's clock, without a zone.
    utc_offset : timedelta or None
        The clock's offset from UTC, where the frame says it.
    gps : GpsFix
    notes : tuple of str
        What was missing or could not be believed.

    Examples
    --------
    A frame of 10 s at f/2, ISO 3200, into ``folder``:

    >>> from PIL import Image
    >>> from PIL.TiffImagePlugin import IFDRational
    >>> from backbearing.review import read_exif
    >>> tags = Image.Exif()
    >>> tags.get_ifd(0x8769).update({0x829A: IFDRational(10, 1), 0x829D: IFDRational(2, 1)})
    >>> Image.new("L", (600, 400)).save(folder / "frame.jpg", exif=tags)
    >>> frame = read_exif(folder / "frame.jpg")
    >>> f"{frame.shutter_s:g} s at f/{frame.f_number:g}"
    '10 s at f/2'
    """

    path: Path
    width_px: int
    height_px: int
    camera: str
    lens: str
    focal_length_mm: float
    focal_length_135_mm: float
    shutter_s: float
    f_number: float
    iso: float
    wall_time: dt.datetime | None
    utc_offset: dt.timedelta | None
    gps: GpsFix
    notes: tuple[str, ...]


def read_exif(path: str | Path) -> FrameExif:
    """Read a frame's EXIF without decoding its picture.

    Parameters
    ----------
    path : str or Path
        JPEG, TIFF or another picture that can carry EXIF, or a camera's raw file.

    Returns
    -------
    FrameExif

    Raises
    ------
    FrameError
        When the file is not there, no picture, too large or damaged, or a raw file where the
        library rawpy is missing.

    Examples
    --------
    A picture without EXIF, into ``folder``:

    >>> from PIL import Image
    >>> from backbearing.review import read_exif
    >>> Image.new("L", (600, 400)).save(folder / "bare.jpg")
    >>> frame = read_exif(folder / "bare.jpg")
    >>> frame.width_px, frame.height_px, frame.shutter_s
    (600, 400, nan)
    """
    file = checked_path(path, FrameError)
    size, (main, exif, gps), said = _of_raw(file) if is_raw_file(file) else _of_picture(file)
    notes = [f"Its EXIF is partly damaged: {text(one)}." for one in said]
    if not exif:
        notes.append("It carries no EXIF of the exposure; export it with its metadata kept.")
    wall, offset = _clock(exif, notes)
    return FrameExif(
        path=file,
        width_px=size[0],
        height_px=size[1],
        camera=text(main.get(_MODEL)),
        lens=text(exif.get(_LENS_MODEL)),
        focal_length_mm=positive(exif.get(_FOCAL)),
        focal_length_135_mm=positive(exif.get(_FOCAL_135)),
        shutter_s=_shutter_s(exif),
        f_number=_f_number(exif),
        iso=_iso(exif),
        wall_time=wall,
        utc_offset=offset,
        gps=read_gps(gps, notes),
        notes=tuple(notes),
    )


def _of_raw(file: Path) -> tuple[tuple[int, int], _Tables, list[str]]:
    size = raw_size(file)
    tags = raw_tags(file)
    return size, ({}, {}, {}) if tags is None else (tags.main, tags.exif, tags.gps), []


def _of_picture(file: Path) -> tuple[tuple[int, int], _Tables, list[str]]:
    with open_picture(file) as (picture, said):
        try:
            tables = _tables(picture)
        except (MemoryError, RecursionError):
            raise
        except Exception as problem:  # the parser raises whatever damage makes it raise
            raise damaged(file, problem) from problem
        size = picture.size
        # TIFF files come turned upright already.
        if picture.format != "TIFF" and tables[0].get(_ORIENTATION) in (5, 6, 7, 8):
            size = size[1], size[0]
    return size, tables, said


def _tables(picture: Image) -> _Tables:
    found = picture.getexif()
    return dict(found), dict(found.get_ifd(_EXIF)), dict(found.get_ifd(_GPS))


def _shutter_s(exif: dict[int, Any]) -> float:
    """Exposure time; else from its APEX value, ``t = 2^-Tv``."""
    given = positive(exif.get(_SHUTTER))
    if math.isfinite(given):
        return given if given <= LONGEST_SHUTTER_S else math.nan
    apex = number(exif.get(_SHUTTER_APEX))
    return 2.0**-apex if abs(apex) <= 20.0 else math.nan


def _f_number(exif: dict[int, Any]) -> float:
    """F-number; else from its APEX value, ``N = 2^(Av/2)``."""
    given = positive(exif.get(_F_NUMBER))
    if math.isfinite(given):
        return given
    apex = number(exif.get(_APERTURE_APEX))
    return 2.0 ** (apex / 2.0) if -2.0 <= apex <= 20.0 else math.nan


def _iso(exif: dict[int, Any]) -> float:
    given = positive(exif.get(_ISO))
    if math.isfinite(given) and given < _ISO_FULL:
        return given
    others = [positive(exif.get(tag)) for tag in _OTHER_ISO]
    return next((value for value in others if math.isfinite(value)), math.nan)


def _clock(
    exif: dict[int, Any], notes: list[str]
) -> tuple[dt.datetime | None, dt.timedelta | None]:
    """Wall time and its offset from UTC; what cannot be a time is noted."""
    if _TIME not in exif:
        return None, None
    written = text(exif[_TIME])
    match = _WALL.fullmatch(written.strip())
    try:
        wall = dt.datetime(*(int(part) for part in match.groups())) if match else None  # type: ignore[arg-type]  # noqa: DTZ001
    except ValueError:
        wall = None
    if wall is None or not EARLIEST_YEAR <= wall.year <= LATEST_YEAR:
        notes.append(f'Its time is "{written}", which is none: the camera\'s clock was not set.')
        return None, None
    fraction = text(exif.get(_SUBSECONDS)).strip()
    if fraction.isascii() and fraction.isdigit() and len(fraction) <= 9:
        wall += dt.timedelta(seconds=float(f"0.{fraction}"))
    return wall, _offset(exif, notes)


def _offset(exif: dict[int, Any], notes: list[str]) -> dt.timedelta | None:
    if _OFFSET not in exif:
        return None
    written = text(exif[_OFFSET]).strip()
    match = _OFFSET_TEXT.fullmatch("+00:00" if written == "Z" else written)
    if match is None or int(match[2]) > 14 or int(match[3]) > 59:
        if written.strip(" :"):
            notes.append(f'Its offset from UTC is "{written}", which is none.')
        return None
    away = dt.timedelta(hours=int(match[2]), minutes=int(match[3]))
    return -away if match[1] == "-" else away
