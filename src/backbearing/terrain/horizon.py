"""The skyline from a point, and what lies beyond its knowledge."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from backbearing.base.geodesy import drop_per_m2
from backbearing.base.numbers import num
from backbearing.terrain.skyline.completeness import FoundSkyline

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from backbearing.terrain.marks.marked_rays import MarkedRays

    Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class Horizon(FoundSkyline):
    """The highest ground on each azimuth, as seen from one eye.

    Attributes
    ----------
    lat, lon : float
        The eye, WGS84 degrees.
    eye_height_m, eye_ground_m : float
        Height of the eye above the ground, and of the ground above sea level, metres.
    refraction_k : float
        Terrestrial refraction coefficient.
    min_distance_m, max_distance_m : float
        Between which distances ground was looked at.
    highest_ground_m : float
        How high ground beyond the raster is supposed to be at most: as asked, or the
        highest pixel of the raster (of the pieces of it that were read, when it is large).
    azimuths_deg : ndarray, shape (n,)
        True azimuths at the eye, in [0, 360), in the order asked.
    altitudes_deg : ndarray, shape (n,)
        Apparent altitude of the skyline; NaN where no known ground was met.
    distances_m : ndarray, shape (n,)
        Geodesic distance of the skyline point; NaN where there is none.
    unknown_share : ndarray, shape (n,)
        Share of the way over the raster that led over voids or missing tiles, 0 to 1.
        The way beyond the raster's edge does not count: see ``reach_m``.
    unknown_from_m : ndarray, shape (n,)
        Where unknown ground begins within the raster; NaN where all was known.
    reach_m : ndarray, shape (n,)
        How far the ray was followed: to the raster's edge or ``max_distance_m``.
    marked : MarkedRays, optional
        Where measured marks make the skyline; None where there are none.

    Examples
    --------
    >>> from backbearing.terrain import Elevation
    >>> ground = Elevation.open(sample / "sample_srtm_3arcsec.tif")
    >>> skyline = ground.horizon(lat=36.302, lon=-84.180, azimuths_deg=[90.0, 180.0])
    >>> for azimuth, altitude, distance in zip(
    ...     skyline.azimuths_deg, skyline.altitudes_deg, skyline.distances_m
    ... ):
    ...     print(f"{azimuth:.0f}: {altitude:.1f} degrees, {distance / 1000.0:.1f} km away")
    90: 1.0 degrees, 0.6 km away
    180: 1.7 degrees, 1.1 km away
    """

    lat: float
    lon: float
    eye_height_m: float
    eye_ground_m: float
    refraction_k: float
    min_distance_m: float
    max_distance_m: float
    highest_ground_m: float
    azimuths_deg: Floats
    altitudes_deg: Floats
    distances_m: Floats
    unknown_share: Floats
    unknown_from_m: Floats
    reach_m: Floats
    marked: MarkedRays | None = None

    def __repr__(self) -> str:
        known = self.altitudes_deg[np.isfinite(self.altitudes_deg)]
        span = (
            f"{num(known.min(), 2)} to {num(known.max(), 2)} degrees"
            if known.size
            else "nothing known"
        )
        count = len(self.azimuths_deg)
        return f"<Horizon from {num(self.lat, 5)}, {num(self.lon, 5)}: {count} azimuths, {span}>"

    @property
    def _drop(self) -> float:
        return drop_per_m2(self.refraction_k)

    @property
    def skyline_heights_m(self) -> Floats:
        """Heights above sea level of the skyline points, metres, shape (n,)."""
        tangent = np.tan(np.radians(self.altitudes_deg))
        s = self.distances_m
        heights: Floats = self.eye_m + s * tangent + self._drop * s * s
        return heights

    @property
    def hidden_only_above_m(self) -> Floats:
        """How high ground beyond ``reach_m`` must rise to change the answer, shape (n,).

        The lowest height, at any distance from ``reach_m`` on, whose top would appear above
        the skyline found: ``min(eye + s tan(alt) + (1 - k) s^2 / 2R)``. It supposes nothing
        about the land there. -inf where there is no skyline.
        """
        tangent = self._tangents
        s = np.maximum(self.reach_m, -tangent / (2.0 * self._drop))
        with np.errstate(invalid="ignore"):
            height: Floats = self.eye_m + s * tangent + self._drop * s * s
        return np.where(np.isneginf(tangent), -np.inf, height)

    @property
    def needed_reach_m(self) -> Floats:
        """How far the raster would have to reach for the answer to be final, shape (n,).

        Beyond this distance ground as high as ``highest_ground_m`` stays below the skyline
        found; inf where there is no skyline, 0 where none could ever rise above it.
        """
        return np.maximum(self._spoiling_span[1], 0.0)

    def altitude_at(self, azimuth_deg: ArrayLike) -> Floats:
        """Skyline altitude in degrees on any azimuth, linear between those found.

        Interpolates across north where the azimuths go all around. NaN outside the span
        that they cover, and beside an azimuth whose skyline is unknown.
        """
        asked = np.mod(np.asarray(azimuth_deg, dtype=np.float64), 360.0)
        order = np.argsort(self.azimuths_deg, kind="stable")
        azimuths, altitudes = self.azimuths_deg[order], self.altitudes_deg[order]
        gaps = np.diff(azimuths, append=azimuths[0] + 360.0)
        below = np.searchsorted(azimuths, asked, side="right") - 1
        above = (below + 1) % len(azimuths)
        gap = gaps[below]
        past = np.mod(asked - azimuths[below], 360.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(gap > 0.0, past / gap, 0.0)
            between = altitudes[below] + share * (altitudes[above] - altitudes[below])
        answer = np.where(past == 0.0, altitudes[below], between)
        uncovered = (below % len(azimuths) == self._open_gap(gaps)) & (past > 0.0)
        return np.where(uncovered | np.isnan(asked), np.nan, answer)[()]

    @staticmethod
    def _open_gap(gaps: Floats) -> int:
        """Which gap between azimuths is the outside of a partial span; -1 when none is.

        The widest gap is outside when it is more than twice as wide as the next one.
        """
        widest = int(np.argmax(gaps))
        others = np.delete(gaps, widest)
        if others.size < 2 or gaps[widest] > 2.0 * others.max() + 1e-9:
            return widest
        return -1
