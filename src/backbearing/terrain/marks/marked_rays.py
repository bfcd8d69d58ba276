"""What marks do to the rays of a skyline, kept beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class MarkedRays:
    """What marks do to rays over a raster; arrays of shape (n,).

    Attributes
    ----------
    raster_deg : ndarray
        The raster's own skyline.
    sigma_deg : ndarray
        One standard deviation of the skyline where a mark makes it, by its reading and by how
        far away the thing may be; NaN where the raster's own stands.
    rise_deg : ndarray
        How much higher than found the true skyline stands there on average: nought, or less where
        the higher of two views of a thing of untold distance was taken; NaN likewise.
    thing_m : ndarray
        How far away the thing is or may be, in the mean of its parallax; NaN likewise.
    slope : ndarray
        How steeply the marks run there, degrees for a degree; NaN likewise.
    """

    raster_deg: Floats
    sigma_deg: Floats
    rise_deg: Floats
    thing_m: Floats
    slope: Floats

    @property
    def are_marked(self) -> Flags:
        """Where a mark makes the skyline, shape (n,)."""
        return np.isfinite(self.sigma_deg)
