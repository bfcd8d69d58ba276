"""Open a picture safely, the right way up, and give its light as numbers."""

from __future__ import annotations

import math
import warnings
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.input_files import check_readable, is_missing
from backbearing.review.frame_error import FrameError, damaged
from backbearing.review.raw_apart import decode_raw
from backbearing.review.raw_file import head_of, is_heic, is_raw_file

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from numpy.typing import NDArray
    from PIL.Image import Image

    Floats = NDArray[np.float32]
    Flags = NDArray[np.bool_]

MOST_PIXELS: Final = 160_000_000
"""Larger pictures are refused before a pixel is decoded: a stitched or scaled picture has
no single exposure, and memory runs out."""

FORMATS: Final = ("JPEG", "MPO", "TIFF", "PNG", "WEBP", "AVIF", "JPEG2000", "BMP", "PPM")
"""What is opened. Formats that start an interpreter or draw are left out."""

CLIPPED_SHARE: Final = 0.97
"""Share of the largest value from which a pixel may be clipped."""

# Weights of linear red, green and blue in luminance [IEC61966-2-1].
_LUMINANCE: Final = np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)


def srgb_to_light(value: NDArray[np.floating[Any]]) -> NDArray[np.floating[Any]]:
    """Undo the sRGB curve: stored values 0 to 1 to linear light 0 to 1 [IEC61966-2-1]_."""
    return np.asarray(
        np.where(
            value <= 0.04045, value / 12.92, ((np.maximum(value, 0.04045) + 0.055) / 1.055) ** 2.4
        )
    )


def light_to_srgb(light: NDArray[np.floating[Any]]) -> NDArray[np.uint8]:
    """Put linear light under the sRGB curve: 0 to 1 to stored values 0 to 255 [IEC61966-2-1]_."""
    return np.asarray((_under_curve(light) * 255.0 + 0.5).astype(np.uint8))


def _under_curve(light: NDArray[np.floating[Any]]) -> NDArray[np.floating[Any]]:
    light = np.clip(light, 0.0, 1.0)
    low = light <= 0.0031308
    return np.asarray(
        np.where(low, 12.92 * light, 1.055 * np.maximum(light, 1e-6) ** (1 / 2.4) - 0.055)
    )


@cache
def _light_table() -> Floats:
    """Light of each stored value of eight bits."""
    return srgb_to_light(np.arange(256) / 255.0).astype(np.float32)


MOST_BYTES = 4_000_000_000
"""Of a frame's file; the largest TIFF that its format can hold is as large."""


@contextmanager
def open_picture(path: Path) -> Iterator[tuple[Image, list[str]]]:
    """Open a picture without decoding it; its warnings are gathered in the list.

    Raises
    ------
    FrameError
        When it is not there, no picture, or too large.
    """
    from PIL import Image, UnidentifiedImageError

    Image.init()
    said: list[str] = []
    if path.is_dir():
        raise FrameError(f"{path.name} is a folder; name the frames in it.", file=str(path))
    if not is_missing(path):
        check_readable(path, "a frame", largest_bytes=MOST_BYTES, error=FrameError)
    # This package's own limit is checked below, before anything is decoded.
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            picture = Image.open(path, formats=[name for name in FORMATS if name in Image.OPEN])
        except FileNotFoundError:
            raise FrameError(
                f"There is no frame {path.name} in {path.parent}; check the name.", file=str(path)
            ) from None
        except (UnidentifiedImageError, SyntaxError) as problem:
            raise _not_a_picture(path) from problem
        except Image.DecompressionBombError as problem:
            raise _too_large(path, None) from problem
        except (OSError, ValueError, OverflowError, TypeError, KeyError) as problem:
            raise damaged(path, problem) from problem
        with picture:
            _check(path, picture)
            yield picture, said
    kinds = (ResourceWarning, Image.DecompressionBombWarning)
    said += sorted({f"{w.message}" for w in caught if not issubclass(w.category, kinds)})


def _check(path: Path, picture: Image) -> None:
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise _too_large(path, picture.size)


def _not_a_picture(path: Path) -> FrameError:
    if is_heic(head_of(path)):
        return FrameError(
            f"{path.name} is a HEIC picture, which is not read here; export it as a full-size "
            "JPEG with its EXIF, not cropped.",
            file=str(path),
        )
    return FrameError(
        f"{path.name} is no picture that can be read here; export a camera's raw file as a "
        "full-size JPEG or TIFF with its EXIF, not cropped.",
        file=str(path),
    )


def _too_large(path: Path, size: tuple[int, int] | None) -> FrameError:
    shown = f"{size[0]} x {size[1]} pixels" if size else "more pixels than are safe to decode"
    return FrameError(
        f"{path.name} has {shown} and was not decoded; {MOST_PIXELS // 1_000_000} million is the "
        "limit: name a single frame, not a stitched or enlarged one.",
        file=str(path),
    )


@dataclass(frozen=True, slots=True)
class Picture:
    """A decoded picture, upright, whose light is computed window by window.

    Attributes
    ----------
    name : str
    width_px, height_px : int
        As one looks at it.
    stored : ndarray, shape (rows, columns) or (rows, columns, 3)
        Values as they stand in the file: 8 bit, or floats from 0 to 1.
    curve : str
        What was taken for the tone curve: ``"sRGB"`` or ``"linear"``.

    Examples
    --------
    >>> import numpy as np
    >>> from backbearing.review import Picture
    >>> stars = np.zeros((400, 600), dtype=np.uint8)
    >>> picture = Picture.of_array(stars, name="invented")
    >>> picture.width_px, picture.height_px, picture.curve
    (600, 400, 'sRGB')
    """

    name: str
    width_px: int
    height_px: int
    stored: NDArray[Any]
    curve: str

    @classmethod
    def load(cls, path: Path) -> Picture:
        """Decode a picture and turn it upright as its EXIF says.

        Raises
        ------
        FrameError
            As `open_picture`, and for one that is damaged, or a raw file without rawpy.
        """
        from PIL import ImageOps

        if is_raw_file(path):
            light = decode_raw(path, MOST_PIXELS)
            return cls(path.name, light.shape[1], light.shape[0], light, "linear")
        with open_picture(path) as (picture, _):
            try:
                picture.load()
                ImageOps.exif_transpose(picture, in_place=True)
                stored, curve = _values(picture)
            except (MemoryError, RecursionError):
                raise
            except Exception as problem:  # decoders raise whatever they like on damage
                raise damaged(path, problem) from problem
        return cls(path.name, stored.shape[1], stored.shape[0], stored, curve)

    @classmethod
    def of_array(cls, stored: NDArray[Any], *, name: str = "array") -> Picture:
        """Take pixels: 8-bit values under the sRGB curve, or linear floats from 0 to 1."""
        curve = "sRGB" if stored.dtype == np.uint8 else "linear"
        return cls(name, stored.shape[1], stored.shape[0], stored, curve)

    def window(self, rows: slice, columns: slice) -> tuple[Floats, Flags]:
        """Light of a window, linear, and which pixels may be clipped."""
        part = self.stored[rows, columns]
        if part.dtype == np.uint8:
            light, most = _light_table()[part], 255
        else:
            light, most = part.astype(np.float32), 1
        # In the values' own kind: floats for eight bits would take eight times the memory.
        clipped = part >= part.dtype.type(math.ceil(CLIPPED_SHARE * most) if most > 1
                                          else CLIPPED_SHARE)  # fmt: skip
        if part.ndim == 3:
            light = light @ _LUMINANCE
            clipped = clipped[..., 0] | clipped[..., 1] | clipped[..., 2]
        return np.ascontiguousarray(light), np.asarray(clipped)

    def light_at(self, rows: NDArray[np.int64], columns: NDArray[np.int64]) -> Floats:
        """Light of single pixels, linear, shape (n,)."""
        part = self.stored[rows, columns]
        light = _light_table()[part] if part.dtype == np.uint8 else part.astype(np.float32)
        return np.asarray(light @ _LUMINANCE if part.ndim == 2 else light)

    def blocks(self, side_px: int) -> Floats:
        """Means of blocks as under the sRGB curve, each 0 to 1, shape (rows, columns) of blocks."""
        rows, columns = self.height_px // side_px, self.width_px // side_px
        part = self.stored[: rows * side_px, : columns * side_px]
        green = part[..., 1] if part.ndim == 3 else part
        # Every second pixel will do for a mean, in a quarter of the time.
        few = green[::2, ::2].reshape(rows, side_px // 2, columns, side_px // 2)
        mean = few.mean(axis=(1, 3), dtype=np.float32)
        if part.dtype == np.uint8:
            return np.asarray(mean / 255.0, dtype=np.float32)
        return np.asarray(_under_curve(mean), dtype=np.float32)


def _values(picture: Image) -> tuple[NDArray[Any], str]:
    """Values of a decoded picture and the curve they are taken to be under."""
    if picture.mode in ("I;16", "I;16B", "I;16L", "I"):
        return np.asarray(picture, dtype=np.float32) / np.float32(65535.0), "linear"
    if picture.mode == "F":
        floats = np.nan_to_num(np.asarray(picture, dtype=np.float32))
        return floats / np.float32(max(1.0, float(floats.max(initial=0.0)))), "linear"
    wanted = picture if picture.mode in ("L", "RGB") else picture.convert("RGB")
    return np.asarray(wanted, dtype=np.uint8), "sRGB"
