"""Which points of a forecast's grid are near enough to matter, and how far each speaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.constants import MEAN_EARTH_RADIUS_M
from backbearing.base.geodesy import sphere_xyz_m

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

WITHIN_M: Final = 500_000.0
"""Farther points are not kept: a line of sight 1 degree up is 9 km high after some 250 km."""

LEAST_REACH_M, MOST_REACH_M = 3_000.0, 60_000.0
"""Between which a point speaks, whatever its grid."""

LOOKED_AT: Final = 2_000
"""Points by which a grid's spacing is found."""


@dataclass(frozen=True, slots=True)
class NearPoints:
    """Points within a distance of a place."""

    lat: float
    lon: float
    within_m: float = WITHIN_M

    def of(self, lat: Floats, lon: Floats) -> NDArray[np.intp]:
        """Which of some points they are."""
        here = sphere_xyz_m(lat=[self.lat], lon=[self.lon])[0]
        chord = 2.0 * MEAN_EARTH_RADIUS_M * np.sin(0.5 * self.within_m / MEAN_EARTH_RADIUS_M)
        known = np.isfinite(lat) & np.isfinite(lon)
        away = np.linalg.norm(
            sphere_xyz_m(lat=np.where(known, lat, 0.0), lon=np.where(known, lon, 0.0)) - here,
            axis=1,
        )
        return np.flatnonzero(known & (away <= chord))

    @staticmethod
    def reach_m(lat: Floats, lon: Floats) -> float:
        """How far points of a grid speak: to the middle of a cell, and a little more, metres."""
        from scipy.spatial import cKDTree

        if len(lat) < 2:
            return 25_000.0
        points = sphere_xyz_m(lat=lat, lon=lon)
        some = points[:: max(1, len(points) // LOOKED_AT)]
        away, _ = cKDTree(points).query(some, k=2)
        return float(np.clip(1.1 * np.median(away[:, 1]), LEAST_REACH_M, MOST_REACH_M))
