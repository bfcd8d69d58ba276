"""Marks beside the bare raster's skyline from the same eye, and what they have wrong alike."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from backbearing.base.angles import wrap_180_deg
from backbearing.base.lazy import Later

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from backbearing.terrain.elevation import Elevation
    from backbearing.terrain.height_errors import SightErrors
    from backbearing.terrain.horizon import Horizon
    from backbearing.terrain.marks import reading_errors
    from backbearing.terrain.marks.mark_set import MarkSet
    from backbearing.terrain.marks.reading_errors import ReadingErrors

    Floats = NDArray[np.float64]
else:
    # A plan without a correction asks for it only where it is told.
    reading_errors = Later("backbearing.terrain.marks.reading_errors")

PROFILE_STEP_DEG: Final = 0.25
"""Azimuths of the skyline that readings are turned against."""

PROFILE_REACH_DEG: Final = 17.0
"""How far past the outermost readings it goes: the largest turn looked for, and some more."""

STANDS_SIGMAS: Final = 2.5
"""A mark is said to stand over the raster, or below it, from so many doubts of both on."""


class ReadersEye(NamedTuple):
    """Where marks were read and how light bends there.

    ``lat`` and ``lon`` in WGS84 degrees, ``eye_height_m`` over the ground, ``ground_m`` above sea
    level, ``refraction_k`` and ``reach_m`` as for any skyline.
    """

    lat: float
    lon: float
    eye_height_m: float
    ground_m: float
    refraction_k: float
    reach_m: float

    def skyline(self, bare: Elevation, azimuths_deg: Floats) -> Horizon:
        """Look over the bare raster."""
        return bare.horizon(
            lat=self.lat,
            lon=self.lon,
            eye_height_m=self.eye_height_m,
            azimuths_deg=azimuths_deg,
            max_distance_m=self.reach_m,
            refraction_k=self.refraction_k,
            ground_m=self.ground_m,
        )


@dataclass(frozen=True, eq=False)
class ComparedMarks:
    """A set of marks and the bare raster's skyline behind them, from the same eye.

    Attributes
    ----------
    bare : Elevation
    eye : ReadersEye
    marks : MarkSet
        n readings.
    raster : Horizon
        The raster's skyline on their azimuths.
    raster_sigma_deg, raster_rise_deg : ndarray, shape (n,)
        Its doubt, and how much higher it stands on average.
    errors : SightErrors
    """

    bare: Elevation
    eye: ReadersEye
    marks: MarkSet
    raster: Horizon
    raster_sigma_deg: Floats
    raster_rise_deg: Floats
    errors: SightErrors

    @classmethod
    def of(
        cls, bare: Elevation, eye: ReadersEye, marks: MarkSet, errors: SightErrors
    ) -> ComparedMarks:
        """Look for the raster's skyline behind each mark."""
        raster = eye.skyline(bare, marks.azimuths_deg)
        doubt = bare.skyline_doubt(raster, errors)
        known = marks.with_raster(
            distances_m=raster.distances_m, altitudes_deg=raster.altitudes_deg
        )
        return cls(bare, eye, known, raster, doubt.sigma_deg, doubt.rise_deg, errors)

    @property
    def over_deg(self) -> Floats:
        """How much higher than the raster each mark stands, shape (n,); NaN over unknown ground."""
        return self.marks.altitudes_deg - self.raster.altitudes_deg

    @property
    def sigma_deg(self) -> Floats:
        """One standard deviation of that, by the reading and the raster, shape (n,)."""
        return np.hypot(self.marks.sigmas_deg, self.raster_sigma_deg)

    @property
    def stands(self) -> NDArray[np.int8]:
        """1 where a mark stands over the raster beyond doubt, -1 where below, else 0; (n,)."""
        with np.errstate(invalid="ignore"):
            left = (self.over_deg - self.raster_rise_deg) / self.sigma_deg
            return np.where(left > STANDS_SIGMAS, 1, np.where(left < -STANDS_SIGMAS, -1, 0)).astype(
                np.int8
            )

    @cached_property
    def reading_errors(self) -> ReadingErrors:
        """Tilt and turn that the readings have in common."""
        readings = reading_errors.Readings(
            self.marks.azimuths_deg,
            self.marks.altitudes_deg - np.nan_to_num(self.raster_rise_deg),
            np.where(np.isfinite(self.sigma_deg), self.sigma_deg, self.marks.sigmas_deg),
        )
        profile = self.eye.skyline(self.bare, _around(self.marks.azimuths_deg))
        return reading_errors.fit_reading_errors(
            readings, profile.altitude_at, common_sigma_deg=self._common_sigma_deg
        )

    @property
    def _common_sigma_deg(self) -> float:
        """What an error of the ground under the eye does to all readings alike, degrees."""
        up = np.hypot(self.errors.heights.local_sigma_m, self.errors.eye_height_m)
        with np.errstate(invalid="ignore"):
            each = np.degrees(np.arctan(up / self.raster.distances_m))
        return float(np.nanmedian(each)) if np.isfinite(each).any() else 0.0


def _around(azimuths_deg: Floats) -> Floats:
    """Azimuths over the span of the readings and some way past it, or all round."""
    gaps = np.mod(np.roll(azimuths_deg, -1) - azimuths_deg, 360.0)
    widest = int(np.argmax(gaps)) if len(azimuths_deg) > 1 else 0
    first = float(azimuths_deg[(widest + 1) % len(azimuths_deg)])
    span = float(np.mod(wrap_180_deg(azimuths_deg[widest] - first), 360.0))
    if span + 2.0 * PROFILE_REACH_DEG >= 360.0 - 4.0 * PROFILE_STEP_DEG:
        return np.arange(0.0, 360.0, PROFILE_STEP_DEG)
    steps = np.arange(0.0, span + 2.0 * PROFILE_REACH_DEG, PROFILE_STEP_DEG)
    return np.mod(first - PROFILE_REACH_DEG + steps, 360.0)
