"""The skyline from many eyes at once, one ray from each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.terrain.skyline.completeness import FoundSkyline

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.marks.marked_rays import MarkedRays

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Skylines(FoundSkyline):
    """The highest ground on one azimuth from each of n eyes; arrays of shape (n,).

    An eye that stands outside the raster, or on unknown ground, has NaN for its ground,
    altitude and distance, an unknown share of 1 and a reach of 0.

    Attributes
    ----------
    lat, lon, azimuths_deg : ndarray
        The eyes, WGS84 degrees, and the true azimuths of their rays, in [0, 360).
    eye_height_m, eye_ground_m : ndarray
        Height of the eyes above the ground, and of the ground above sea level, metres.
    refraction_k : float
        Terrestrial refraction coefficient.
    min_distance_m, max_distance_m : ndarray
        Between which distances ground was looked at.
    highest_ground_m : ndarray
        How high ground beyond the raster is supposed to be at most: as asked, or the
        highest pixel of the raster (of the pieces that the ray may cross, when it is large).
    altitudes_deg : ndarray
        Apparent altitude of the skyline; NaN where no known ground was met.
    distances_m : ndarray
        Geodesic distance of the skyline point; NaN where there is none.
    unknown_share : ndarray
        Share of the way over the raster that led over voids or missing tiles, 0 to 1.
    unknown_from_m : ndarray
        Where unknown ground begins within the raster; NaN where all was known.
    reach_m : ndarray
        How far the ray was followed: to the raster's edge or ``max_distance_m``.
    marked : MarkedRays, optional
        Where measured marks make the skyline; None where there are none.

    Examples
    --------
    >>> from backbearing.terrain import Elevation
    >>> ground = Elevation.open(sample / "sample_srtm_3arcsec.tif")
    >>> seen = ground.skylines(lat=[36.373, 36.380], lon=[-84.360, -84.350], azimuths_deg=150.0)
    >>> [f"{altitude:.1f} degrees" for altitude in seen.altitudes_deg]
    ['13.8 degrees', '14.7 degrees']
    """

    lat: Floats
    lon: Floats
    azimuths_deg: Floats
    eye_height_m: Floats
    eye_ground_m: Floats
    refraction_k: float
    min_distance_m: Floats
    max_distance_m: Floats
    highest_ground_m: Floats
    altitudes_deg: Floats
    distances_m: Floats
    unknown_share: Floats
    unknown_from_m: Floats
    reach_m: Floats
    marked: MarkedRays | None = None

    def __repr__(self) -> str:
        known = np.isfinite(self.altitudes_deg)
        return f"<Skylines of {len(self)} rays, {int(known.sum())} of them known>"

    def __len__(self) -> int:
        return len(self.azimuths_deg)
