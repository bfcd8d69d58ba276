"""The skyline from many eyes at once, one ray from each."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from backbearing.geodesy import End, point_along
from backbearing.terrain.finality import drop_per_m2, spoiling_span, tangents_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Skylines:
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

    def __post_init__(self) -> None:
        for value in vars(self).values():
            if isinstance(value, np.ndarray):
                value.setflags(write=False)

    def __repr__(self) -> str:
        known = np.isfinite(self.altitudes_deg)
        return f"<Skylines of {len(self)} rays, {int(known.sum())} of them known>"

    def __len__(self) -> int:
        return len(self.azimuths_deg)

    @cached_property
    def _skyline(self) -> End:
        return point_along(
            lat=self.lat,
            lon=self.lon,
            azimuth_deg=self.azimuths_deg,
            distance_m=self.distances_m,
        )

    @property
    def skyline_lat(self) -> Floats:
        """Latitudes of the skyline points, degrees."""
        return self._skyline.lat

    @property
    def skyline_lon(self) -> Floats:
        """Longitudes of the skyline points, degrees."""
        return self._skyline.lon

    @cached_property
    def could_be_hidden_from_m(self) -> Floats:
        """Nearest distance beyond ``reach_m`` at which higher ground could hide more.

        As :attr:`Horizon.could_be_hidden_from_m`: NaN where no such ground could.
        """
        near, far = spoiling_span(
            tangents_of(self.altitudes_deg),
            self.highest_ground_m - self.eye_ground_m - self.eye_height_m,
            drop_per_m2(self.refraction_k),
        )
        return np.where(far > self.reach_m, np.maximum(near, self.reach_m), np.nan)

    @property
    def is_final(self) -> NDArray[np.bool_]:
        """Whether neither ground beyond the raster nor unknown ground in it could hide more."""
        final: NDArray[np.bool_] = np.isnan(self.could_be_hidden_from_m) & (
            self.unknown_share == 0.0
        )
        return final
