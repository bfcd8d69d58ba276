"""Readings of the skyline from one eye: what was seen, how surely, and how far away."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from backbearing.base.errors import TerrainError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

NEAREST_UNTOLD_M: Final = 100.0
"""What is nearer than this has its distance measured; a reading without one is of something
farther. It is also where a skyline begins that rasters know (an assumption of this package)."""

FARTHEST_EYE_M: Final = NEAREST_UNTOLD_M / 2.0
"""How far from where it was read a mark without a distance holds: half of `NEAREST_UNTOLD_M`,
so that no eye comes up to the thing."""

TALLEST_M: Final = 50.0
"""Things of untold distance are taken to be no taller: few trees are (an assumption)."""

FARTHEST_UNTOLD_M: Final = 20_000.0
"""Nor is one looked for beyond this, unless the raster's own skyline lies there."""

DISTANCE_SHARE: Final = 0.1
"""One standard deviation of a told distance, as a share of it: paced or off a map (common
practice, no source)."""


@dataclass(frozen=True, eq=False)
class MarkSet:
    """Marks read from one eye, in order of azimuth; arrays of shape (n,).

    Attributes
    ----------
    lat, lon : float
        Where they were read, WGS84 degrees.
    eye_m : float
        Height of the reader's eye above sea level, metres.
    azimuths_deg : ndarray
        True azimuths, in [0, 360), ascending.
    altitudes_deg : ndarray
        Apparent altitudes of the skyline.
    sigmas_deg, azimuth_sigmas_deg : ndarray
        One standard deviation of either.
    distances_m : ndarray
        Of the thing that makes the skyline; NaN where it was not told.
    raster_distances_m, raster_altitudes_deg : ndarray
        How far away and how high the raster's own skyline is on that azimuth; NaN where it knows
        none.
    """

    lat: float
    lon: float
    eye_m: float
    azimuths_deg: Floats
    altitudes_deg: Floats
    sigmas_deg: Floats
    azimuth_sigmas_deg: Floats
    distances_m: Floats
    raster_distances_m: Floats
    raster_altitudes_deg: Floats

    @classmethod
    def of(
        cls,
        eye: tuple[float, float, float],
        azimuths_deg: ArrayLike,
        altitudes_deg: ArrayLike,
        *,
        sigmas_deg: ArrayLike,
        azimuth_sigmas_deg: ArrayLike = 0.0,
        distances_m: ArrayLike = np.nan,
        raster_distances_m: ArrayLike = np.nan,
        raster_altitudes_deg: ArrayLike = np.nan,
    ) -> MarkSet:
        """Put readings in order; of several on one azimuth the highest counts.

        Parameters
        ----------
        eye : (lat, lon, eye_m)
        azimuths_deg, altitudes_deg : array_like, shape (n,)
        sigmas_deg, azimuth_sigmas_deg, distances_m : array_like
            Each mark its own or one for all; and so for the raster's skyline, where it is known.

        Raises
        ------
        TerrainError
            For an altitude of 90 degrees or more, a sigma or distance that is not above zero,
            or readings that are no numbers.
        """
        given = (
            azimuths_deg, altitudes_deg, sigmas_deg, azimuth_sigmas_deg, distances_m,
            raster_distances_m, raster_altitudes_deg,
        )  # fmt: skip
        rows = np.stack(
            np.broadcast_arrays(
                *(np.atleast_1d(np.asarray(v, dtype=np.float64)) for v in given),
            )
        )
        _check(rows)
        rows[0] = np.mod(rows[0], 360.0)
        order = np.lexsort((-rows[1], rows[0]))
        rows = rows[:, order]
        first = np.ones(rows.shape[1], dtype=bool)
        first[1:] = np.diff(rows[0]) > 0.0
        lat, lon, eye_m = (float(v) for v in eye)
        return cls(lat, lon, eye_m, *np.ascontiguousarray(rows[:, first]))

    def __len__(self) -> int:
        return len(self.azimuths_deg)

    @property
    def near_m(self) -> Floats:
        """The nearest that each thing may be, metres, shape (n,)."""
        told = self.distances_m * (1.0 - DISTANCE_SHARE)
        return np.where(self.is_told, told, NEAREST_UNTOLD_M)

    @property
    def far_m(self) -> Floats:
        """The farthest that each thing may be, metres, shape (n,).

        Beyond the raster's skyline all ground lies below the line of sight to it. An untold thing
        that stands over that line is at least so tall as it is far away times the difference of
        the tangents; it is no taller than `TALLEST_M`, or else the raster's own skyline.
        """
        told = self.distances_m * (1.0 + DISTANCE_SHARE)
        over = np.tan(np.radians(self.altitudes_deg)) - np.tan(
            np.radians(self.raster_altitudes_deg)
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            tall = np.where(over > 0.0, TALLEST_M / over, NEAREST_UNTOLD_M)
        tall = np.where(np.isnan(over), FARTHEST_UNTOLD_M, np.minimum(tall, FARTHEST_UNTOLD_M))
        untold = np.fmax(np.fmax(self.raster_distances_m, tall), NEAREST_UNTOLD_M)
        return np.where(self.is_told, told, untold)

    @property
    def is_told(self) -> NDArray[np.bool_]:
        """Whether the distance was told, shape (n,)."""
        return np.isfinite(self.distances_m)

    def corrected(self, *, tilt_deg: float, azimuth_error_deg: float) -> MarkSet:
        """Take off what all readings have too much: of altitude and of azimuth, degrees."""
        turned = np.mod(self.azimuths_deg - azimuth_error_deg, 360.0)
        order = np.argsort(turned, kind="stable")
        columns = {
            name: getattr(self, name)[order]
            for name in (
                "sigmas_deg",
                "azimuth_sigmas_deg",
                "distances_m",
                "raster_distances_m",
                "raster_altitudes_deg",
            )
        }
        return replace(
            self,
            azimuths_deg=turned[order],
            altitudes_deg=(self.altitudes_deg - tilt_deg)[order],
            **columns,
        )

    def less_sure(self, *, altitude_deg: float, azimuth_deg: float) -> MarkSet:
        """Add doubts that all readings share to each one's own, in quadrature."""
        return replace(
            self,
            sigmas_deg=np.hypot(self.sigmas_deg, altitude_deg),
            azimuth_sigmas_deg=np.hypot(self.azimuth_sigmas_deg, azimuth_deg),
        )

    def with_raster(self, *, distances_m: Floats, altitudes_deg: Floats) -> MarkSet:
        """The same, knowing where the raster's own skyline is behind each mark."""
        return replace(self, raster_distances_m=distances_m, raster_altitudes_deg=altitudes_deg)


def _check(rows: Floats) -> None:
    azimuth, altitude, sigma, azimuth_sigma, distance = rows[:5]
    wrongs: Sequence[tuple[NDArray[np.bool_], Floats, str, str]] = (
        (~np.isfinite(azimuth), azimuth, "an azimuth", "write degrees clockwise from north"),
        (
            ~(np.abs(altitude) < 90.0),
            altitude,
            "an altitude",
            "write degrees above the horizontal, less than 90",
        ),
        (~(sigma > 0.0), sigma, "a sigma", "write degrees above zero"),
        (~(azimuth_sigma >= 0.0), azimuth_sigma, "an azimuth's sigma", "write degrees"),
        (distance <= 0.0, distance, "a distance", "write metres above zero, or leave it out"),
    )
    for wrong, values, what, hint in wrongs:
        if wrong.any():
            raise TerrainError(
                f"A skyline mark has {what} of {values[int(np.argmax(wrong))]:g}", hint=hint
            )
