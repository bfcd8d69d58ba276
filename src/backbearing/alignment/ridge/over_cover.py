"""Sweeps over trees and buildings: the tops as one raster, and cells that lie under them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.cover.covered_elevation import covered_of
from backbearing.terrain.cover.kinds import UNDER_COVER_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.elevation import Elevation


def swept_of(elevation: Elevation) -> Elevation:
    """What a sweep looks over, for it has one raster: the tops where cover is known."""
    covered = covered_of(elevation)
    return elevation if covered is None else covered.tops


def under_cover(elevation: Elevation, rows: slice, cols: slice) -> NDArray[np.bool_]:
    """Cells under trees or roofs, of which nothing is said: a sweep's eye stood on their tops."""
    covered = covered_of(elevation)
    if covered is None:
        return np.zeros((rows.stop - rows.start, cols.stop - cols.start), dtype=np.bool_)
    tops, ground = covered.tops.window_m(rows, cols), covered.window_m(rows, cols)
    with np.errstate(invalid="ignore"):
        return np.asarray(tops - ground >= UNDER_COVER_M)
