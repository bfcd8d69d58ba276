"""What each ray has met so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.skyline.chords import STRAY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Sightings:
    """What the rays have seen so far; arrays of shape (n,), written in place.

    Attributes
    ----------
    tangent : ndarray
        Tangent of the highest apparent altitude; -inf before any ground is seen.
    distance_m : ndarray
        Where it stands.
    unknown_m : ndarray
        Length of way over unknown ground.
    unknown_from_m : ndarray
        Where unknown ground begins; inf where none was met.
    """

    tangent: Floats
    distance_m: Floats
    unknown_m: Floats
    unknown_from_m: Floats

    @classmethod
    def none_yet(cls, n: int, above_deg: Floats | None = None) -> Sightings:
        """Start with nothing seen, or nothing but what stands no higher than given altitudes."""
        tangent = np.full(n, -np.inf)
        if above_deg is not None:
            known = np.isfinite(above_deg)
            tangent[known] = np.tan(np.radians(above_deg[known]))
        return cls(tangent, np.full(n, np.nan), np.zeros(n), np.full(n, np.inf))

    def unknown_share(self, starts_m: float | Floats, ends_m: Floats) -> Floats:
        """Share of the way that led over unknown ground; 1 where there was no way."""
        length = np.maximum(ends_m - starts_m, 0.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(length > 0.0, self.unknown_m / length, 1.0)
        # A chord may stray over the raster's edge before its ray does.
        return np.where(share > 1.0 - 2.0 * STRAY, 1.0, share)
