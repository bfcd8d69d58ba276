"""Raw files are decoded in a process of their own: it hands back plain numbers, or says why not."""

from __future__ import annotations

import json
import sys
from importlib import import_module
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from backbearing.base.apart import ApartError, answer_apart, asked_apart, hold_memory
from backbearing.base.input_files import check_readable
from backbearing.review.frame_error import FrameError, damaged

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

MOST_SECONDS: Final = 180.0
MOST_MEMORY_BYTES: Final = 6 * 2**30
MOST_BYTES: Final = 1_000_000_000
"""Of a raw file: several times what any camera writes."""


def raw_size(path: Path) -> tuple[int, int]:
    """Width and height of a raw file's picture, upright, pixels; no pixel is decoded.

    Raises
    ------
    FrameError
        Without the library rawpy, or for a file that cannot be decoded.
    """
    head, _ = _asked(path, 0)
    return int(head["width"]), int(head["height"])


def decode_raw(path: Path, most_pixels: int) -> NDArray[np.float32]:
    """Decode a raw file to linear light, upright, black taken off, 0 to 1.

    Red, green and blue with the camera's own white balance, in sRGB's primaries.

    Parameters
    ----------
    path : Path
    most_pixels : int
        A larger picture is not decoded.

    Raises
    ------
    FrameError
        As `raw_size`, and for a picture that is too large.
    """
    head, body = _asked(path, most_pixels)
    if "shape" not in head:
        raise FrameError(
            f"{path.name} has {head['width']} x {head['height']} pixels and was not decoded; "
            f"{most_pixels // 1_000_000} million is the limit.",
            file=str(path),
        )
    shape = tuple(int(side) for side in head["shape"])
    values = np.frombuffer(body, dtype="<u2")
    if values.size != np.prod(shape):
        raise _undecoded(path, "its decoder stopped")
    light = np.multiply(values.reshape(shape), np.float32(1.0 / 65535.0), dtype=np.float32)
    return np.asarray(light[..., 0] if light.ndim == 3 and shape[2] == 1 else light)


def _asked(path: Path, most_pixels: int) -> tuple[dict[str, Any], bytes]:
    """What the child says of a file, and the pixels."""
    if find_spec("rawpy") is None:
        raise FrameError(
            f"{path.name} is a camera's raw file, which the library rawpy reads: install it with "
            'pip install "backbearing[raw]", or export the frame as a full-size JPEG or TIFF '
            "with its EXIF, not cropped.",
            file=str(path),
        )
    check_readable(path, "a raw file", largest_bytes=MOST_BYTES, error=FrameError)
    question = [str(path.absolute()), most_pixels]
    try:
        said, body = asked_apart(__name__, question, most_seconds=MOST_SECONDS)
    except ApartError as problem:
        raise _undecoded(path, f"its decoder {problem}") from None
    if said.get("damaged"):
        raise damaged(path, str(said["damaged"]))
    if "error" in said:
        raise _undecoded(path, str(said["error"]))
    return said, body


def _undecoded(path: Path, why: str) -> FrameError:
    return FrameError(
        f"{path.name} is a raw file that could not be decoded ({why}); copy it from the card "
        "again, or export it as a full-size JPEG or TIFF with its EXIF, not cropped.",
        file=str(path),
    )


def main() -> None:
    """Decode what the one argument asks for, and write it to standard output."""
    named, most_pixels = json.loads(sys.argv[1])
    hold_memory(MOST_MEMORY_BYTES)
    answer_apart(*_decoded(named, int(most_pixels)))


def _decoded(named: str, most_pixels: int) -> tuple[dict[str, Any], bytes]:
    rawpy: Any = import_module("rawpy")
    try:
        with rawpy.imread(named) as raw:
            sizes = raw.sizes
            width, height = int(sizes.iwidth), int(sizes.iheight)
            if sizes.flip in (5, 6):
                width, height = height, width
            head: dict[str, Any] = {"width": width, "height": height}
            if width * height > most_pixels:
                return head, b""
            rgb = raw.postprocess(
                demosaic_algorithm=rawpy.DemosaicAlgorithm.LINEAR,
                use_camera_wb=True,
                no_auto_bright=True,
                gamma=(1.0, 1.0),
                output_bps=16,
            )
    except rawpy.LibRawFileUnsupportedError:
        return {"error": "its kind is not known to the decoder"}, b""
    except (rawpy.LibRawError, OSError, ValueError) as problem:
        return {"damaged": type(problem).__name__}, b""
    return head | {"shape": list(rgb.shape)}, rgb.astype("<u2").tobytes()


if __name__ == "__main__":
    main()
