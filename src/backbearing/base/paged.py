"""Arrays so large that only the parts in use should take memory."""

from __future__ import annotations

import ctypes
import math
import mmap
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import DTypeLike, NDArray


def paged_zeros(shape: tuple[int, ...], dtype: DTypeLike) -> NDArray[Any]:
    """Make an array of zeros of which only the pages that are written to take memory.

    Like any large array of zeros, but in small pages: where the system backs large arrays with
    pages of 2 MB, one number written into each row of a wide raster would fill it all.
    """
    kind = np.dtype(dtype)
    count = math.prod(shape)
    room = mmap.mmap(-1, max(count * kind.itemsize, 1))
    if hasattr(mmap, "MADV_NOHUGEPAGE"):
        # A system without large pages has nothing to turn off.
        with suppress(OSError):
            room.madvise(mmap.MADV_NOHUGEPAGE)
    return np.frombuffer(room, dtype=kind, count=count).reshape(shape)


def give_back() -> None:
    """Have the C library return the memory that it keeps of what was freed, where it can.

    After many large arrays have come and gone, as when a raster is read piece by piece, it keeps
    hundreds of megabytes for more of them.
    """
    if sys.platform != "linux":
        return
    trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
    if trim is not None:
        trim(0)
