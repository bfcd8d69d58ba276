"""Where the stars of a picture lie, brightest first: what is matched to the catalogue."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.review.stars import BLOCK_PX, find_sources, rounding, spoiled_blocks

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from backbearing.review.picture import Picture

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

WIDEST_PX: Final = 3000
"""A wider picture is taken together in blocks: a star's place stays good to a tenth of one."""

MOST_LISTED: Final = 600

STREAK: Final = 3.0
"""What is so many times as long as the picture's stars are is a satellite or an aeroplane."""


class StarList(NamedTuple):
    """Stars of a picture, arrays (n,), brightest first; columns and rows from the top left pixel.

    ``length_px`` is along, ``width_px`` across, as standard deviations.
    """

    column_px: Floats
    row_px: Floats
    flux: Floats
    length_px: Floats
    width_px: Floats


def list_stars(
    picture: Picture, *, sky: Callable[[Floats, Floats], Flags] | None = None
) -> StarList:
    """Find what may be a star, all over the picture.

    Parameters
    ----------
    picture : Picture
    sky : callable, optional
        Tells which places (fractions from the left and the bottom edge) are open sky.

    Raises
    ------
    BackbearingError
        When the optional library sep is missing, or the picture is too busy.
    """
    step = max(1, math.ceil(picture.width_px / WIDEST_PX))
    light = light_in_blocks(picture, step)
    spoiled = spoiled_in_blocks(picture, step, light.shape)
    found = find_sources(light, spoiled, rounding(picture, pixels=step**2))
    column = found["x"] * step + (step - 1) / 2.0
    row = found["y"] * step + (step - 1) / 2.0
    a, b = found["a"] * step, found["b"] * step
    good = np.isfinite(column) & np.isfinite(row) & (found["flux"] > 0.0)
    if good.any():
        good &= a < STREAK * max(float(np.median(a[good])), float(step))
    if sky is not None:
        good &= sky((column + 0.5) / picture.width_px, 1.0 - (row + 0.5) / picture.height_px)
    order = np.flatnonzero(good)[np.argsort(-found["flux"][good])][:MOST_LISTED]
    return StarList(
        *(np.asarray(v[order], dtype=np.float64) for v in (column, row, found["flux"], a, b))
    )


def spoiled_in_blocks(picture: Picture, step: int, shape: tuple[int, ...]) -> Flags:
    """Pixels of a picture taken together in blocks that lie on a dark or bright edge."""
    blocks = spoiled_blocks(picture)
    rows = np.minimum(np.arange(shape[0]) * step // BLOCK_PX, blocks.shape[0] - 1)
    columns = np.minimum(np.arange(shape[1]) * step // BLOCK_PX, blocks.shape[1] - 1)
    return np.asarray(blocks[np.ix_(rows, columns)])


def light_in_blocks(picture: Picture, step: int) -> NDArray[np.float32]:
    """Linear light, blocks of step by step pixels taken together, strip by strip."""
    rows, columns = picture.height_px // step, picture.width_px // step
    light = np.empty((rows, columns), dtype=np.float32)
    strip = max(1, 256 // step)
    for top in range(0, rows, strip):
        bottom = min(rows, top + strip)
        part, _ = picture.window(slice(top * step, bottom * step), slice(0, columns * step))
        light[top:bottom] = part.reshape(bottom - top, step, columns, step).mean(axis=(1, 3))
    return light
